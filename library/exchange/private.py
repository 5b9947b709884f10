"""What never leaves in a file: how to reach a person, and where they are.

Growers are told by the name they chose, depositors only if they agreed to be named; gardens,
accounts and notes are never read. What people wrote themselves goes through
``without_private``: email addresses and handles, telephone numbers, coordinates and map
references, street addresses in their usual English form, and links that hold any of it, become
``LEFT_OUT``. It would rather take a figure too many than leave an address; what is told in
other words it cannot see.
"""

from __future__ import annotations

import re

LEFT_OUT = "[left out]"

_AT = "[@\uff20\ufe6b]"
_WORD = r"[^\s@\uff20\ufe6b<>(){}\[\],;:\"“”]"
_SIGNED = r"[-+\u2212\u2013]?"
_DECIMAL = rf"{_SIGNED}\d{{1,3}}[.,]\d"
_DEGREE = "[°º˚]"
_MINUTE = "['’′´‘]"
_SIDE = "(?:[NSEW]|[Nn]orth|[Ss]outh|[Ee]ast|[Ww]est)"
_BETWEEN = r"\s*[,;/|]?\s*"
_PARTS = rf"(?:\d{{1,3}}(?:[\s:-]\d{{1,2}}){{1,2}}(?:[.,]\d+)?|\d{{1,3}}[.,]\d+){_DEGREE}?"
_END = r"\S*(?<![.,;:!?)])"  # of a link: not the sentence's own stop
# The lettered squares of the British national grid that hold land.
_SQUARE = "(?:H[PTUWXYZ]|N[A-DF-HJ-OR-UW-Z]|S[CDEHJKM-PR-Z]|T[AFGLMQRV])"
_STREET = (
    "(?:Street|St|Road|Rd|Lane|Ln|Avenue|Ave|Close|Drive|Crescent|Terrace|Court|Boulevard|Blvd"
    "|Square)"
)

_LINKS = [
    # With somebody's name before the host, of a map, or to write to, ring up or find a place.
    rf"(?<![\w.+-])[A-Za-z][A-Za-z0-9+.-]{{1,20}}://[^\s/?#]*@{_END}",
    r"(?<![\w./])(?:https?://|www\.)\S*(?:\bmaps?\b|@|%40|[?&]q=|\blat|\blon|\bll=)"
    rf"{_END}",
    rf"\b(?:mailto|tel|sms|geo|callto|sip|xmpp):[^\s]{_END}",
]
_ADDRESSES = [
    rf"(?<!{_WORD}){_WORD}*(?:{_AT}{{1,3}}{_WORD}+)+",
    r"(?<![\w.+-])[\w.+-]+\s?(?:@|[(\[{]\s?at\s?[)\]}])\s?[\w-]+"
    r"(?:\s?(?:\.|[(\[{]\s?dot\s?[)\]}])\s?[A-Za-z]{2,})+",
    # A house number that is no year, a name, and what streets are called.
    rf"\b(?!(?:1[89]|20)\d\d\b)\d{{1,4}}[a-z]?,?\s+(?:[A-Z][\w'’.-]*\s+){{1,3}}{_STREET}\b\.?",
    r"\b[A-Z]{1,2}\d[A-Z\d]?\s\d[A-Z]{2}\b",
    r",\s[A-Z]{2}\s\d{5}(?:-\d{4})?\b",
]
_COORDINATES = [
    # Both numbers with their sides, the sides after or before.
    rf"\b{_PARTS}\s*[NSEW]\b{_BETWEEN}{_PARTS}\s*[NSEW]\b",
    rf"\b[NSEW]\s*{_PARTS}{_BETWEEN}[NSEW]\s*{_PARTS}",
    # Degrees, minutes and perhaps seconds, the side of the globe before or after.
    rf"(?:\b{_SIDE}\s*)?{_SIGNED}\d{{1,3}}\s*{_DEGREE}\s*\d{{1,2}}(?:[.,]\d+)?\s*{_MINUTE}+"
    rf"(?:\s*\d{{1,2}}(?:[.,]\d+)?\s*(?:{_MINUTE}+|[\"″”“]))?(?:\s*{_SIDE}\b)?",
    rf"\b\d{{1,3}}\s*(?:deg|d)\.?\s*\d{{1,2}}(?:[.,]\d+)?\s*(?:min|m)\b\.?"
    rf"(?:\s*\d{{1,2}}(?:[.,]\d+)?\s*(?:sec|s)\b\.?)?(?:\s*{_SIDE}\b)?",
    r"\b[NSEW]\s*\d{1,3}[\s:-]\d{1,2}(?:[\s:-]\d{1,2}|[.,]\d)\d*(?:[.,]\d+)?",
    r"\b\d{1,3}[\s:-]\d{1,2}(?:[\s:-]\d{1,2})?(?:[.,]\d+)?\s*[NSEW]\b",
    r"\b\d{6}[NS]\b|\b\d{7}[EW]\b",
    # Degrees alone, with the side of the globe.
    rf"{_SIGNED}\b\d{{1,3}}(?:[.,]\d+)?\s*(?:{_DEGREE}|deg(?:rees)?\b)\s*{_SIDE}\b",
    rf"{_SIGNED}\b\d{{1,3}}[.,]\d+\s*[NSEW]\b",
    rf"\b[NSEW]\s*{_SIGNED}\d{{1,3}}[.,]\d+{_DEGREE}?",
    # Two numbers beside each other: each to three decimals, or one of them below nothing.
    rf"(?<![\d.,]){_DECIMAL}{{3,}}{_DEGREE}?{_BETWEEN}{_DECIMAL}{{3,}}{_DEGREE}?",
    rf"(?<![\d.,]){_DECIMAL}+{_DEGREE}?\s*[,;/|]?\s*[-\u2212]\d{{1,3}}[.,]\d+{_DEGREE}?",
    rf"(?<![\w.,])[-\u2212]\d{{1,3}}[.,]\d+{_DEGREE}?\s*[,;/|]?\s*{_DECIMAL}+{_DEGREE}?",
    # What is called so.
    rf"(?i:\b(?:lat|latitude|lon|lng|longitude)\b\W{{0,3}}){_SIGNED}\d{{1,3}}(?:[.,]\d+)?",
    rf"(?i:\b(?:long|gps|coord(?:inate)?s?)\b\W{{0,3}}){_DECIMAL}{{2,}}",
    # Map references: national grid, zones of the globe, three words, short codes.
    rf"\b{_SQUARE}\s?(?:\d{{3}}\s?\d{{3}}|\d{{4}}\s?\d{{4}}|\d{{5}}\s?\d{{5}})\b",
    r"\b\d{1,2}\s?[C-HJ-NP-X]\s+\d{5,6}(?:\s*m?E)?[\s,]+\d{6,7}(?:\s*m?N)?\b",
    r"///\w+\.\w+\.\w+",
    r"\b[23456789CFGHJMPQRVWX]{4,8}\+[23456789CFGHJMPQRVWX]{2,3}\b",
]
_TELEPHONES = [
    r"\+\s?\d(?:[\s().\-/]{0,3}\d){6,}",
    # A leading nought and at least nine figures: a day such as 01.09.2024 has eight.
    r"(?<![\w.,-])\(?0\d(?:[\s().\-/]{0,2}\d){7,}(?![\d-])",
    r"(?<![\w.,-])\(?\d{3}\)?[\s.\-]\s?\d{3}[\s.\-]\d{4}(?!\d)",
    r"(?<![\w.,-])\d{10,}(?!\d)",
    r"(?i:\b(?:tel|telephone|phone|call|ring|mobile|mob|cell|whatsapp|fax)\b\W{0,3}(?:me\s)?"
    r"(?:on\s|at\s)?\W{0,2})\d(?:[\s().\-/]{0,2}\d){4,}",
]
_PRIVATE = [re.compile(p) for p in [*_LINKS, *_ADDRESSES, *_COORDINATES, *_TELEPHONES]]


def without_private(text: str, *, most: int | None = None) -> str:
    """The text with ``LEFT_OUT`` in place of what could lead to a person's door.

    ``most`` is how many characters it may have; what is longer is cut.
    """
    for pattern in _PRIVATE:
        text = pattern.sub(LEFT_OUT, text)
    return text if most is None else text[:most]


def shown_name(name: str) -> str:
    """A chosen name; empty where somebody chose their address or number for one."""
    name = " ".join(name.split())
    return name if without_private(name) == name else ""
