"""From plain data to a PDF. What is printed goes in as JSON and is never read as markup."""

from __future__ import annotations

import json
import unicodedata
from pathlib import Path
from typing import Any

from django.utils.translation import get_language, get_language_bidi

FOLDER = Path(__file__).parent / "typ"
UNKNOWN_SIGN = "could not be displayed"
ALWAYS = 0  # seconds since 1970: the same data give the same bytes, whenever they are set


def typeset(document: str, data: dict[str, Any]) -> bytes:
    """The document of ``typ/`` filled with ``data``, as a tagged PDF (PDF/UA-1).

    The fonts that come with the typesetter are embedded; they have Latin, Greek, Cyrillic,
    Hebrew and Arabic. A sign that they lack is looked for in the machine's own fonts. Where
    those lack it too it is printed as an empty box, and the file is then tagged but makes no
    claim to the standard, which forbids such a box.
    """
    # Here, since it is a large library that most processes never need.
    from typst import TypstError, compile

    language = (get_language() or "en").split("-")[0]
    given = data | {"lang": language, "rtl": get_language_bidi()}
    asked: dict[str, Any] = {
        "root": str(FOLDER),
        "sys_inputs": {"data": json.dumps(_clean(given), ensure_ascii=False)},
        "timestamp": ALWAYS,
    }
    source = str(FOLDER / f"{document}.typ")
    try:
        return compile(source, ignore_system_fonts=True, pdf_standards=["ua-1"], **asked)
    except TypstError as error:
        if UNKNOWN_SIGN not in str(error.message):
            raise
    try:
        return compile(source, pdf_standards=["ua-1"], **asked)
    except TypstError as error:
        if UNKNOWN_SIGN not in str(error.message):
            raise
    return compile(source, **asked)


def _clean(value: Any) -> Any:
    """Without control characters, which no font draws; line ends stay."""
    if isinstance(value, str):
        return "".join(c for c in value if c == "\n" or unicodedata.category(c) not in BARRED)
    if isinstance(value, dict):
        return {key: _clean(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(one) for one in value]
    return value


BARRED = {"Cc", "Cs", "Co", "Cn"}
