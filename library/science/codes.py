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


class MistypedCode(ValueError):
    """The text is not a lot number or packet code; the message says what is wrong and what
    would be right.
    """


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
    expected = _check_character(_LETTERS[kind], digits)
    if check != expected:
        raise MistypedCode(
            f"“{text.strip()[:40]}” is not a {kind} code we can trust: its last character does "
            f"not fit the "
            f"others. Look at the label and type it again; a character is wrong or two have "
            f"changed places."
        )
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
    shown = text.strip()[:40]
    bare = re.sub(r"[\s\-\u2010-\u2015\u2212_]", "", text).upper()
    if not bare:
        raise MistypedCode(f"Type a code from a label, such as {_EXAMPLES['lot']}.")
    kind = _kind(bare[0], shown)
    digits, check = bare[1:-1].translate(_LOOKALIKES), bare[-1:].translate(_LOOKALIKES)
    example = _EXAMPLES[kind]
    if not re.fullmatch(r"[0-9]*", digits) or not re.fullmatch(r"[0-9X]", check):
        raise MistypedCode(
            f"“{shown}” has a character where only digits can stand. A {kind} code is the "
            f"letter "
            f"{_LETTERS[kind]}, digits, and one last digit or X, such as {example}."
        )
    _check_length(kind, digits, shown)
    return kind, digits, check


def _kind(first: str, shown: str) -> Kind:
    letter = "L" if first in "1I" else first
    if letter not in _KINDS:
        raise MistypedCode(
            f"“{shown}” does not begin with L (a lot) or P (a packet). "
            f"A code looks like {_EXAMPLES['lot']} or {_EXAMPLES['packet']}."
        )
    return _KINDS[letter]


def _check_length(kind: Kind, digits: str, shown: str) -> None:
    least, example = _DIGITS[kind], _EXAMPLES[kind]
    if len(digits) < least:
        raise MistypedCode(
            f"“{shown}” is too short: a {kind} code has {least} digits and one last character "
            f"after the "
            f"letter {_LETTERS[kind]}, such as {example}."
        )
    if len(digits) > _MOST_DIGITS or (len(digits) > least and digits[0] == "0"):
        raise MistypedCode(
            f"“{shown}” is too long: a {kind} code looks like {example}. Was a digit typed "
            f"twice?"
        )
    if not int(digits):
        raise MistypedCode(f"“{shown}” has the number 0; {kind}s are numbered from 1.")
