"""Lot numbers and packet codes that notice when they were mistyped.

The check character is ISO 7064 MOD 11-2, computed over the digits with the letter standing in
front as a digit of its own. MOD 37,36 would give letters as check characters, but it lets some
neighbouring digits change places unseen (L00060-1 and L00061-0 would both pass); MOD 11-2
catches every single wrong character and every swap of neighbours. It also has no letter but X,
so O, I and L can safely be read as 0 and 1.
"""

from __future__ import annotations

import re
from typing import Literal

from stdnum.iso7064 import mod_11_2

Kind = Literal["lot", "packet"]

_LETTERS: dict[Kind, str] = {"lot": "L", "packet": "P"}
_KINDS: dict[str, Kind] = {"L": "lot", "P": "packet"}
_STANDS_FOR = {"L": "1", "P": "2"}
_DIGITS: dict[Kind, int] = {"lot": 5, "packet": 6}
_MOST_DIGITS = 9
_EXAMPLES: dict[Kind, str] = {"lot": "L00137-2", "packet": "P000412-2"}
_LOOKALIKES = str.maketrans("OIL", "011")


MISTYPED: dict[str, str] = {
    "code_missing": "Type a code from a label, such as {example}.",
    "code_of_nothing": (
        "“{typed}” does not begin with L (a lot) or P (a packet). "
        "A code looks like {example} or {other_example}."
    ),
    "code_with_stranger": (
        "“{typed}” has a character where only digits can stand. A {kind} code is the letter "
        "{letter}, digits, and one last digit or X, such as {example}."
    ),
    "code_too_short": (
        "“{typed}” is too short: a {kind} code has {digits} digits and one last character "
        "after the letter {letter}, such as {example}."
    ),
    "code_too_long": (
        "“{typed}” is too long: a {kind} code looks like {example}. Was a digit typed twice?"
    ),
    "code_zero": "“{typed}” has the number 0; {kind}s are numbered from 1.",
    "code_check_fails": (
        "“{typed}” is not a {kind} code we can trust: its last character does not fit the "
        "others. Look at the label and type it again; a character is wrong or two have changed "
        "places."
    ),
}


class MistypedCode(ValueError):
    """The text is not a lot number or packet code; the message says what would be right.

    ``key`` and ``inputs`` are there for pages that say it in another language; ``MISTYPED``
    lists every key with its English sentence.
    """

    def __init__(self, key: str, typed: str = "", kind: Kind = "lot") -> None:
        self.key = key
        self.inputs: dict[str, str | int] = {
            "typed": typed.strip()[:40],
            "kind": kind,
            "letter": _LETTERS[kind],
            "digits": _DIGITS[kind],
            "example": _EXAMPLES[kind],
            "other_example": _EXAMPLES["packet"],
        }
        super().__init__(MISTYPED[key].format(**self.inputs))


def lot_number(n: int) -> str:
    """Return the lot number for the ``n``-th lot, such as ``L00137-2``.

    Range: 1 to 999 999 999; five digits, more when they are needed. Raises ValueError outside
    it. Source: check character by ISO 7064:2003, MOD 11-2.
    """
    return _code("lot", n)


def packet_code(n: int) -> str:
    """Return the code for the ``n``-th packet, such as ``P000412-2``.

    Range: 1 to 999 999 999; six digits, more when they are needed. Raises ValueError outside
    it. Source: check character by ISO 7064:2003, MOD 11-2.
    """
    return _code("packet", n)


def normalise_code(text: str) -> str:
    """Return the code as it is printed, from text as it is typed.

    Forgives case, spaces, a missing or misplaced hyphen (or a typeset dash), and O, I or L
    typed for a digit. Raises MistypedCode, a ValueError, whose sentence says what is wrong and
    what would be right.
    """
    kind, digits, check = _split(text)
    if check != _check_character(_LETTERS[kind], digits):
        raise MistypedCode("code_check_fails", text, kind)
    return f"{_LETTERS[kind]}{digits}-{check}"


def kind_of_code(text: str) -> Kind:
    """Say whether the text is the code of a ``lot`` or of a ``packet``.

    Raises MistypedCode when it is neither, or when its check character does not fit.
    """
    return _KINDS[normalise_code(text)[0]]


def number_in_code(text: str) -> int:
    """Return the running number inside a lot number or packet code: 137 for ``L00137-2``.

    Raises MistypedCode when the code cannot be trusted.
    """
    return int(normalise_code(text)[1:].split("-")[0])


def _code(kind: Kind, n: int) -> str:
    if isinstance(n, bool) or not isinstance(n, int):
        raise ValueError(f"A {kind} is numbered with a whole number, not with {n!r}.")
    if not 1 <= n < 10**_MOST_DIGITS:
        raise ValueError(f"A {kind} is numbered from 1 to {10**_MOST_DIGITS - 1}, not {n}.")
    digits = f"{n:0{_DIGITS[kind]}d}"
    letter = _LETTERS[kind]
    return f"{letter}{digits}-{_check_character(letter, digits)}"


def _check_character(letter: str, digits: str) -> str:
    return str(mod_11_2.calc_check_digit(_STANDS_FOR[letter] + digits))


def _split(text: str) -> tuple[Kind, str, str]:
    """Take typed text apart into its kind, its digits and its check character."""
    bare = re.sub(r"[\s\-\u2010-\u2015\u2212_]", "", text).upper()
    if not bare:
        raise MistypedCode("code_missing")
    letter = "L" if bare[0] in "1I" else bare[0]
    if letter not in _KINDS:
        raise MistypedCode("code_of_nothing", text)
    kind = _KINDS[letter]
    digits, check = bare[1:-1].translate(_LOOKALIKES), bare[1:][-1:].translate(_LOOKALIKES)
    if not re.fullmatch(r"[0-9]*", digits) or not re.fullmatch(r"[0-9X]?", check):
        raise MistypedCode("code_with_stranger", text, kind)
    _check_length(kind, digits, text)
    return kind, digits, check


def _check_length(kind: Kind, digits: str, text: str) -> None:
    least = _DIGITS[kind]
    if len(digits) < least:
        raise MistypedCode("code_too_short", text, kind)
    if len(digits) > _MOST_DIGITS or (len(digits) > least and digits[0] == "0"):
        raise MistypedCode("code_too_long", text, kind)
    if not int(digits):
        raise MistypedCode("code_zero", text, kind)
