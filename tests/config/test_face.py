"""What holds of the look without a browser: styles for either direction."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
# Each has a logical counterpart, which turns round with the direction of the writing.
PHYSICAL = re.compile(
    r"(?<![\w-])(?:"
    r"(?:scroll-)?(?:margin|padding)-(?:left|right)"
    r"|border-(?:left|right)(?:-(?:width|style|color))?"
    r"|border-(?:top|bottom)-(?:left|right)-radius"
    r"|left|right"
    r")\s*:"
    r"|(?<![\w-])(?:float|clear|text-align)\s*:\s*(?:left|right)\b"
)


def physical(styles: str) -> list[str]:
    """The declarations of a style sheet that would stay on one side in right-to-left."""
    # A physical one right before its logical namesake is for browsers that know only that.
    styles = re.sub(r"float: left;(?=\s*float: inline-start;)", "", styles)
    return [
        found[0] for found in PHYSICAL.finditer(re.sub(r"/\*.*?\*/", "", styles, flags=re.S))
    ]


@pytest.mark.parametrize(
    "style",
    [
        "margin-left: 1px",
        "a{right:0}",
        "border-top-left-radius: 2px",
        "text-align: right",
        "float: left; color: red",
    ],
)
def test_a_physical_side_is_noticed(style):
    assert len(physical(style)) == 1


def test_every_style_sheet_turns_round_with_the_writing():
    sheets = [p for top in ("library", "accounts") for p in (ROOT / top).rglob("*.css")]

    assert len(sheets) > 10
    assert {p.name: found for p in sheets if (found := physical(p.read_text()))} == {}
