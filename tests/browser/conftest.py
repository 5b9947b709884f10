"""Real pages in a real Chromium: one browser for the run, one fresh context for each page."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE, DESKTOP = 390, 1280
GRAVE = {"serious", "critical"}


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium, started once. Absent, the test is skipped, unless the run insists on it."""
    if shutil.which(CHROMIUM) is None:
        reason = f"{CHROMIUM} is not installed (Debian: apt install chromium)."
        if os.environ.get("SOWBACK_REQUIRE_BROWSER") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    # Playwright keeps an event loop in this thread, and Django then suspects every query.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    try:
        with sync_playwright() as playwright:
            chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            yield chromium
            chromium.close()
    finally:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


def sign_in(context: BrowserContext, member) -> None:
    """Give the browser the cookie of a session that Django itself opened."""
    client = Client()
    client.force_login(member)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    context.add_cookies(
        [{"name": cookie.key, "value": cookie.value, "url": context.server_url}]
    )


@pytest.fixture
def page_at(browser, live_server) -> Iterator[Callable[..., Page]]:
    """``page_at(390, scheme="dark", member=wren)`` is an empty page, signed in as wren.

    Whatever a page complains about in the console (a refused inline script, a missing
    file) fails the test that opened it; ``page.complaints.clear()`` forgives.
    """
    pages: list[Page] = []

    def open_page(width: int, *, scheme: str = "light", member=None, **options) -> Page:
        context = browser.new_context(
            base_url=live_server.url,
            viewport={"width": width, "height": 844},
            color_scheme=scheme,
            reduced_motion="reduce",
            **options,
        )
        context.server_url = live_server.url
        if member is not None:
            sign_in(context, member)
        page = context.new_page()
        page.complaints = []
        page.on("console", lambda message: _keep(page, message))
        page.on("pageerror", lambda error: page.complaints.append(str(error)))
        pages.append(page)
        return page

    yield open_page

    complaints = [line for page in pages for line in page.complaints]
    for page in pages:
        page.context.close()
    assert complaints == []


def _keep(page: Page, message: ConsoleMessage) -> None:
    # That the page itself answered 400 or 409 is no fault of the page; a missing file is.
    is_own_answer = message.location["url"] == page.url
    if message.type in {"error", "warning"} and not is_own_answer:
        page.complaints.append(message.text)


@pytest.fixture(params=[PHONE, DESKTOP], ids=["phone", "desktop"])
def width(request) -> int:
    return request.param


@pytest.fixture(params=["light", "dark"])
def scheme(request) -> str:
    return request.param


@pytest.fixture
def axe() -> Callable[[Page], None]:
    """``axe(page)`` fails, naming rule and element, when axe-core finds something grave."""

    def check(page: Page) -> None:
        violations = Axe().run(page).response["violations"]
        grave = [
            f"{v['id']}: {node['target']} {node['failureSummary']}"
            for v in violations
            if v["impact"] in GRAVE
            for node in v["nodes"]
        ]
        assert grave == []

    return check


@pytest.fixture
def snap() -> Callable[[Page, str], None]:
    """``snap(page, "desk")`` saves a picture, when SOWBACK_SCREENSHOTS names a folder."""

    def save(page: Page, name: str) -> None:
        folder = os.environ.get("SOWBACK_SCREENSHOTS")
        if folder:
            page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)

    return save


@pytest.fixture
def fits() -> Callable[[Page], None]:
    """``fits(page)`` fails when the page must be pushed sideways to be read."""

    def check(page: Page) -> None:
        wider = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert max(wider, 0) == 0

    return check
