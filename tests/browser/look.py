"""Pictures of every main page, at both sizes, light and dark: ``python -m tests.browser.look``.

A demo library of its own is filled and served (``--address`` takes one that runs already), and
the pictures go into ``.look/``, which git ignores. What the accessibility rules say of each
page is printed, at any severity; the command fails if they say anything.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
SIZES = {"phone": (360, 740), "desktop": (1280, 800)}
FLAGS = ["--no-sandbox", "--disable-gpu"]
PASSWORD = "borrow-sow-give-back"
# Who looks, and at what: an address, or "listing > link in it" for the first thing listed.
PAGES = {
    None: [
        "/",
        "/browse/",
        "/browse/?q=bean > main a[href^='/varieties/']",
        "/browse/?q=bean > main a[href^='/crops/']",
        "/style/",
        "/account/login/",
        "/account/signup/",
        "/nowhere/",
    ],
    "sorrel": ["/", "/my-seed/", "/my-garden/", "/grow-outs/", "/account/me/", "/due/"],
    "yarrow": [
        "/",
        "/desk/",
        "/desk/return/",
        "/bench/",
        "/bench/ > main a[href^='/lots/']",
        "/grow-outs/",
        "/grow-outs/risk/",
        "/storage/",
        "/members/",
    ],
}


@contextmanager
def demo() -> Iterator[str]:
    """The address of a demo library that is filled now and gone afterwards."""
    with tempfile.TemporaryDirectory() as home:
        command = [sys.executable, "manage.py", "serve", "--demo", "--port", "0"]
        served = subprocess.Popen(
            command,
            cwd=ROOT,
            env=os.environ | {"SOWBACK_DATA_DIR": home},
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            for line in served.stdout or []:
                if found := re.search(r"Ready after \d+ s at (\S+?)/ ", line):
                    yield found[1]
                    break
            else:
                raise SystemExit("The demo did not start.")
        finally:
            served.terminate()
            served.wait()


def sign_in(page: Page, name: str) -> None:
    page.goto("/account/login/")
    page.locator("[name=login]").fill(f"{name}@tarnhollow.example")
    page.locator("[name=password]").fill(PASSWORD)
    page.locator("main form:has([name=login]) button[type=submit]").click()
    page.wait_for_load_state()


def visit(page: Page, what: str) -> None:
    address, _, link = what.partition(" > ")
    page.goto(address)
    if link:
        page.goto(page.locator(link).first.get_attribute("href") or address)


def said_of(page: Page) -> list[str]:
    """What the accessibility rules say, and whether the page must be pushed sideways."""
    found = [
        f"{rule['impact']} {rule['id']}: {node['target']}"
        for rule in Axe().run(page).response["violations"]
        for node in rule["nodes"]
    ]
    wider = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    return found + ([f"wider than the window by {wider}"] if wider > 0 else [])


def look(browser: Browser, address: str, into: Path) -> int:
    faults = 0
    for size, (width, height) in SIZES.items():
        for who, pages in PAGES.items():
            context = browser.new_context(
                base_url=address,
                viewport={"width": width, "height": height},
                reduced_motion="reduce",
                locale="en-GB",
            )
            page = context.new_page()
            if who:
                sign_in(page, who)
            for what in pages:
                visit(page, what)
                name = re.sub(r"\W+", "-", what.partition(" main")[0]).strip("-") or "home"
                for scheme in ("light", "dark"):
                    page.emulate_media(color_scheme=scheme)
                    page.reload()  # Chromium leaves some elements in the colours they had
                    page.screenshot(
                        path=into / f"{name}-{who or 'visitor'}-{size}-{scheme}.png",
                        full_page=True,
                    )
                    for line in said_of(page):
                        faults += 1
                        print(f"{what} ({who or 'visitor'}, {size}, {scheme}): {line}")
            context.close()
    return faults


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--address", help="a demo library that is served already")
    parser.add_argument("--into", type=Path, default=ROOT / ".look")
    asked = parser.parse_args()
    asked.into.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        if asked.address:
            return min(look(browser, asked.address, asked.into), 1)
        with demo() as address:
            return min(look(browser, address, asked.into), 1)


if __name__ == "__main__":
    sys.exit(main())
