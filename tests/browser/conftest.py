"""Real pages in a real Chromium: one browser for the run, one fresh context for each page."""

from __future__ import annotations

import datetime as dt
import os
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from django.utils import timezone
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Locator,
    Page,
    expect,
    sync_playwright,
)

from accounts.models import Community
from library.stock.models import Packet

HERE = Path(__file__).parent
CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--lang=en-US",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE, DESKTOP = 390, 1280
MOST_TABS = 250
SMALLEST_TARGET = 24  # CSS pixels; WCAG 2.2, success criterion 2.5.8


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Whatever is in this folder drives Chromium, and is run once, with the others that do."""
    for item in items:
        if item.path.parent == HERE:
            item.add_marker(pytest.mark.browser)


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
    go_on_as(context, client.cookies[settings.SESSION_COOKIE_NAME].value)


def go_on_as(context: BrowserContext, session: str) -> None:
    context.add_cookies(
        [{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": context.server_url}]
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
    """``axe(page)`` fails, naming rule and element, when axe-core finds anything at all."""

    def check(page: Page) -> None:
        violations = Axe().run(page).response["violations"]
        found = [
            f"{v['id']}: {node['target']} {node['failureSummary']}"
            for v in violations
            for node in v["nodes"]
        ]
        assert found == []

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


@pytest.fixture
def valley(db) -> Community:
    """The community as it is named, with its frost dates: 10 May and 5 October."""
    community = Community.current()
    community.name = "Tarn Hollow Seed Library"
    community.last_spring_frost, community.first_autumn_frost = "05-10", "10-05"
    community.save()
    return community


@dataclass(frozen=True)
class Way:
    """How somebody goes through the pages: by finger, by mouse, or by keyboard in the dark."""

    name: str
    width: int
    scheme: str = "light"
    by_keyboard: bool = False


FINGER, MOUSE = Way("phone", PHONE), Way("desktop", DESKTOP)
KEYS = Way("keyboard", DESKTOP, scheme="dark", by_keyboard=True)


WAYS = [FINGER, MOUSE, KEYS]


@pytest.fixture(params=WAYS, ids=lambda way: way.name)
def way(request) -> Way:
    return request.param


class Walker:
    """One person going through the pages; each page they come to is looked at.

    ``taps`` counts what was pressed since ``taps`` was last set to 0; typing is not a tap.
    """

    def __init__(self, page: Page, way: Way, look: Callable[[Page, str], None]) -> None:
        self.page = page
        self.way = way
        self.look = look
        self.taps = 0

    def open(self, address: str, heading: str) -> None:
        self.page.goto(address)
        self.arrive(heading)

    def arrive(self, heading: str) -> None:
        """The page with this heading has come; it fits, and everyone can use it."""
        expect(self.page.get_by_role("heading", level=1)).to_have_text(
            heading, use_inner_text=True
        )
        self.look(self.page, heading)

    def reads(self, *sentences: str) -> None:
        for sentence in sentences:
            expect(self.page.locator("main")).to_contain_text(sentence, use_inner_text=True)

    def follow(self, name: str, *, inside: Locator | None = None, exact: bool = False) -> None:
        self.press(self._named("link", name, inside, exact))

    def push(self, name: str, *, inside: Locator | None = None, exact: bool = False) -> None:
        self.press(self._named("button", name, inside, exact))

    def press(self, target: Locator) -> None:
        self.taps += 1
        if self.way.by_keyboard:
            self.tab_to(target)
            box = target.evaluate("e => ['checkbox', 'radio'].includes(e.type)")
            self.page.keyboard.press("Space" if box else "Enter")
            return
        if self.way.width == PHONE:
            self._is_big_enough(target)
        target.click()

    def write(self, label: str, text: str, *, inside: Locator | None = None) -> None:
        """Type into the field with this label, over what is in it."""
        field = self._labelled(label, inside)
        if not self.way.by_keyboard:
            field.fill(text)
            return
        self.tab_to(field)
        if field.get_attribute("type") == "date":  # day, month and year have a place each
            text = f"{dt.date.fromisoformat(text):%m%d%Y}"
        else:
            self.page.keyboard.press("Control+A")
        self.page.keyboard.type(text)

    def choose(self, label: str, option: str) -> None:
        field = self._labelled(label)
        if not self.way.by_keyboard:
            field.select_option(label=option)
            return
        self.tab_to(field)
        self.page.keyboard.type(option)
        expect(field.locator("option:checked")).to_have_text(option)

    def tab_to(self, target: Locator) -> None:
        """Go on with the Tab key until the target has the focus."""
        expect(target).to_be_visible()
        for _ in range(MOST_TABS):
            if target.evaluate("e => e === document.activeElement"):
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"the Tab key does not reach {target}")

    def _labelled(self, label: str, inside: Locator | None = None) -> Locator:
        words = re.compile(rf"^{re.escape(label)}( optional)?$")
        return (inside or self.page).get_by_label(words)

    def _named(self, role, name: str, inside: Locator | None, exact: bool) -> Locator:
        return (inside or self.page).get_by_role(role, name=name, exact=exact).first

    def _is_big_enough(self, target: Locator) -> None:
        if target.evaluate("e => getComputedStyle(e).display === 'inline'"):
            return  # a link in a sentence is as high as its line
        smaller = target.evaluate(
            """e => {
                const box = (e.labels?.length ? e.labels[0] : e).getBoundingClientRect();
                return Math.min(box.width, box.height);
            }"""
        )
        assert smaller >= SMALLEST_TARGET


@pytest.fixture
def walk(page_at, way, axe, fits, snap, request) -> Callable[..., Walker]:
    """``walk(wren)`` goes the way of the test's parameter, signed in as wren.

    With ``scripts=False`` the pages run none; then axe, a script itself, cannot look at them.
    """

    def look(page: Page, heading: str) -> None:
        fits(page)
        if page.runs_scripts:
            axe(page)
        slug = re.sub(r"\W+", "-", heading).strip("-").lower()
        name = re.sub(r"^test_|\[.*", "", request.node.name)[:40]
        snap(page, f"{name}--{slug}-{way.name}")

    def start(member=None, *, scripts: bool = True) -> Walker:
        page = page_at(
            way.width,
            scheme=way.scheme,
            member=member,
            locale="en-GB",
            java_script_enabled=scripts,
        )
        page.runs_scripts = scripts
        return Walker(page, way, look)

    return start


@pytest.fixture
def long_ago() -> dt.date:
    """A day far enough back for a crop to have ripened since."""
    return timezone.localdate() - dt.timedelta(days=400)


@pytest.fixture
def beans(make_lot, variety, valley, long_ago) -> list[Packet]:
    """Three packets of twenty drying beans; 440 more are in the jar, above the reserve."""
    lot = make_lot(variety, packets=3, on=long_ago, harvest_year=long_ago.year)
    return list(lot.packets.order_by("code"))


@pytest.fixture
def bean(beans) -> Packet:
    return beans[0]
