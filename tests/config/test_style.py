"""The page that shows every part of a page has every part, and no style is left over."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from django.conf import settings

CLASS = re.compile(r"\.([a-z][\w-]*)")
COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
SHEETS = sorted(settings.BASE_DIR.glob("library/*/static/**/*.css"))
SHARED = [sheet for sheet in SHEETS if sheet.parent.parent.name == "sowback"]
SOURCES = [
    path
    for folder in ("library", "accounts")
    for kind in ("html", "js", "py")
    for path in (settings.BASE_DIR / folder).rglob(f"*.{kind}")
]
# What is no part of a page to be shown by itself, and why.
NO_COMPONENT = {
    "no-print": "it says where a part is not, namely on paper",
    "print-only": "it says where a part is, namely on paper alone",
}
# Classes that a template puts together: "shade-{{ step }}".
PUT_TOGETHER = {f"shade-{step}" for step in range(1, 6)}


def classes_in(sheet: Path) -> set[str]:
    """Those of the selectors; ``1.5rem`` stands between braces, and begins with a digit."""
    selectors = re.findall(r"([^{}]+)\{", COMMENT.sub("", sheet.read_text()))
    return {name for selector in selectors for name in CLASS.findall(selector)}


@cache
def words_of_the_sources() -> set[str]:
    return {word for path in SOURCES for word in re.findall(r"[\w-]+", path.read_text())}


@pytest.mark.django_db
def test_every_component_of_the_shared_sheets_is_shown(client):
    page = client.get("/style/").content.decode()
    shown = {name for value in re.findall(r'class="([^"]*)"', page) for name in value.split()}
    in_sheets = set().union(*map(classes_in, SHARED))

    assert in_sheets - shown == NO_COMPONENT.keys()


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.stem)
def test_every_class_of_a_sheet_is_used_by_some_page(sheet):
    assert classes_in(sheet) - words_of_the_sources() - PUT_TOGETHER == set()
