"""Every page there is, as somebody who may see it: readable by everyone and at every width.

The permission table names the pages and its small library fills them, so a page that is added
to the one is looked at here as well. Each is opened once, and then made narrower and wider.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter
from urllib.parse import urlsplit

import pytest
import time_machine
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Error, Page

from tests.browser.conftest import go_on_as
from tests.permissions.table import READING, Row
from tests.permissions.world import NOW, World, build

PHONE, DESKTOP = 360, 1280
LOOKED_AT = [(PHONE, 740), (DESKTOP, 800)]
SIZES = [(320, 740), (768, 1024), (1920, 1080), *LOOKED_AT]
# Whoever may do more sees more of a page, so they are asked first. What is somebody's own is
# for its owner alone.
VIEWERS = ["coordinator", "administrator", "desk", "owner", "other", "applicant", "anonymous"]
FEWEST_PAGES = 170
PARTS = 2  # so that two workers share it
STICKS_OUT = """() => {
    const wider = document.documentElement.scrollWidth - window.innerWidth;
    const out = [...document.body.querySelectorAll("*")].filter(
        e => e.getBoundingClientRect().right > window.innerWidth + 0.5
    );
    return wider > 0 ? `${wider} by ${out.map(e => e.tagName + "." + e.className)}` : "";
}"""
# Most of the time goes into the contrast of each word, and no colour depends on the width but
# those of the band, which test_face.py has looked at at both sizes.
RULES = """async isPhone => {
    const { violations } = await axe.run({
        resultTypes: ["violations"],
        preload: false,
        rules: { "color-contrast": { enabled: isPhone } },
    });
    return violations.flatMap(rule => rule.nodes.map(
        node => `${rule.id}: ${node.target} ${node.failureSummary}`
    ));
}"""


@dataclass(frozen=True)
class Sight:
    """One address as one person sees it."""

    row: Row
    who: str
    address: str


class Viewer:
    """One person's window, and whatever is wrong with what was seen through it."""

    def __init__(self, page: Page, session: str | None) -> None:
        self.page = page
        self.seen = 0
        self.found: list[str] = []
        self.host = urlsplit(page.context.server_url).netloc
        self.devtools = page.context.new_cdp_session(page)
        if session:
            go_on_as(page.context, session)
        page.on("request", self._is_of_this_host)

    def look(self, sight: Sight) -> None:
        if not self._opens(sight.address):
            return
        self.seen += 1
        for line in [*self._complaints(), *self._at_every_size()]:
            self.found.append(f"{sight.row.route} as {sight.who}: {line}")

    def _opens(self, address: str) -> bool:
        """Whether a page is there; files and pieces of pages are for other tests."""
        try:
            answer = self.page.goto(address)
        except Error as error:
            if "Download is starting" in error.message:
                return False
            raise
        is_html = answer.header_value("content-type").startswith("text/html")
        return is_html and answer.text().lstrip().lower().startswith("<!doctype html>")

    def _complaints(self) -> Iterator[str]:
        yield from self.page.complaints
        self.page.complaints.clear()

    def _at_every_size(self) -> Iterator[str]:
        self.page.evaluate(Axe().axe_script)
        for width, height in SIZES:
            self._resize(width, height)
            if sticks_out := self.page.evaluate(STICKS_OUT):
                yield f"at {width} it is wider than the window: {sticks_out}"
            if (width, height) in LOOKED_AT:
                for rule in self.page.evaluate(RULES, width == PHONE):
                    yield f"at {width} {rule}"

    def _resize(self, width: int, height: int) -> None:
        """Without the wait for a picture of it, which is most of what a resize costs."""
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
        self.devtools.send("Emulation.setDeviceMetricsOverride", size)

    def _is_of_this_host(self, request) -> None:
        parts = urlsplit(request.url)
        # The browser's own viewer of printed sheets asks for parts of itself.
        if parts.scheme in ("http", "https") and parts.netloc != self.host:
            self.found.append(f"{self.page.url} asks for {request.url}")


@pytest.mark.long
@pytest.mark.parametrize("part", range(PARTS))
def test_every_page_is_for_everyone_at_every_width_and_asks_no_other_host(
    page_at, transactional_db, part
):
    found, seen = [], 0
    with time_machine.travel(NOW, tick=True):
        world = build()
        for who, sights in groupby(every_sight(world)[part::PARTS], attrgetter("who")):
            viewer = Viewer(page_at(1280), world.sessions.get(who))
            for sight in sights:
                viewer.look(sight)
            found += viewer.found
            seen += viewer.seen

    assert not found, "\n".join(found)
    assert seen >= FEWEST_PAGES // PARTS  # else the table was not read


def every_sight(world: World) -> list[Sight]:
    """Each address as the first of the viewers who may see it, and viewer by viewer."""
    sights = []
    for row in READING:
        who = next((who for who in VIEWERS if row.cell(who).startswith("200")), None)
        address = row.address(world)
        if who and not address.startswith("/api/"):
            sights.append(Sight(row, who, address))
    return sorted(sights, key=lambda sight: VIEWERS.index(sight.who))
