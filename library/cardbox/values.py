"""What is written in a cell: days, years, counts, weights, words. Each refuses in a sentence
that says what is wrong and what would be right.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from django.utils.translation import gettext as _

from library.catalogue.names import fold
from library.errors import Refused

EARLIEST = 1900
# Grams in a unit. Ounce and pound are the international avoirdupois ones, exact by definition
# (NIST Handbook 44, appendix C).
GRAMS = {
    "mg": Decimal("0.001"),
    "g": Decimal(1),
    "gr": Decimal(1),
    "gm": Decimal(1),
    "gms": Decimal(1),
    "gram": Decimal(1),
    "grams": Decimal(1),
    "gramm": Decimal(1),
    "gramme": Decimal(1),
    "grammes": Decimal(1),
    "kg": Decimal(1000),
    "oz": Decimal("28.349523125"),
    "ounce": Decimal("28.349523125"),
    "ounces": Decimal("28.349523125"),
    "lb": Decimal("453.59237"),
    "lbs": Decimal("453.59237"),
}
COUNTED = {
    "", "seed", "seeds", "s", "sds", "pc", "pcs", "piece", "pieces", "no", "x", "corn",
    "corns", "kernel", "kernels", "bean", "beans", "pea", "peas", "tuber", "tubers", "clove",
    "cloves", "slip", "slips", "bulb", "bulbs",
}  # fmt: skip
MONTHS = {
    name: number
    for number, names in enumerate(
        [
            "jan january januar janvier", "feb february februar fevrier",
            "mar march marz mars", "apr april avril", "may mai", "jun june juni juin",
            "jul july juli juillet", "aug august aout", "sep sept september septembre",
            "oct october okt oktober octobre", "nov november novembre",
            "dec december dez dezember decembre",
        ],
        start=1,
    )
    for name in names.split()
}  # fmt: skip
YES = {"yes", "y", "true", "x", "1", "ja", "oui", "rare"}
NO = {"no", "n", "false", "0", "nein", "non", ""}

_NUMBER = re.compile(
    r"^\s*[+]?(?P<number>\d[\d.,'\u2019 \u00a0\u202f]*)\s*(?P<unit>[^\W\d]*)\.?\s*$"
)
_PARTS = re.compile(r"^(\d{1,4})\s*([./\-])\s*(\d{1,2})\s*\2\s*(\d{1,4})(?:[T ].*)?$")
_THOUSANDS = re.compile(r"^\d{1,3}([.,'\u2019 \u00a0\u202f]\d{3})+$")
_AMBIGUOUS_COMMA = re.compile(r"^\d{1,3},\d{3}$")


@dataclass(frozen=True)
class Writing:
    """How this file writes: which comes first in 3/4/2019, and what a comma in 1,500 is.

    None where the file does not tell and nobody was asked.
    """

    day_first: bool | None = None
    comma_is_decimal: bool | None = None


# Numbers --------------------------------------------------------------------------------
def number(text: str, *, writing: Writing) -> tuple[Decimal, str]:
    """A number that is not negative, and the word behind it in lower case ("12,5 g")."""
    found = _NUMBER.match(text)
    if found is None:
        raise Refused(
            _("“%(text)s” is not a number; write one such as 250 or 12.5.")
            % {"text": cut(text)}
        )
    return _decimal(found["number"].strip(), text, writing), found["unit"].casefold()


def _decimal(digits: str, text: str, writing: Writing) -> Decimal:
    try:
        return Decimal(_plain(digits, writing))
    except InvalidOperation:
        raise Refused(
            _("“%(text)s” can be read as several numbers; write it like 1500 or 12.5.")
            % {"text": cut(text)}
        ) from None


def _plain(digits: str, writing: Writing) -> str:
    for gap in ("'", "\u2019", " ", "\u00a0", "\u202f"):
        digits = digits.replace(gap, "")
    if "," in digits and "." in digits:  # the last sign is the decimal one
        group, point = (",", ".") if digits.rfind(".") > digits.rfind(",") else (".", ",")
        whole, _sign, part = digits.rpartition(point)
        return f"{whole.replace(group, '')}.{part}"
    if digits.count(",") > 1 or digits.count(".") > 1:
        return re.sub(r"[.,]", "", digits) if _THOUSANDS.match(digits) else "no"
    if "," not in digits:
        return digits
    if _AMBIGUOUS_COMMA.match(digits):
        if writing.comma_is_decimal is None:
            return "no"
        return digits.replace(",", "." if writing.comma_is_decimal else "")
    return digits.replace(",", ".")


def whole(text: str, *, writing: Writing, least: int = 0, most: int = 10_000_000) -> int:
    """A whole number: 250, 1 500, 1,500 and 1.500 where only thousands can be meant."""
    value, unit = number(text, writing=writing)
    if unit not in COUNTED and unit not in ("days", "day", "plants", "packets", "tage"):
        raise Refused(
            _("“%(text)s”: here a whole number without a unit is right, such as 250.")
            % {"text": cut(text)}
        )
    if value != value.to_integral_value() and re.match(r"^\d{1,3}\.\d{3}$", text.strip()):
        value = value * 1000
    if value != value.to_integral_value() or not least <= value <= most:
        raise Refused(
            _("“%(text)s” is not a whole number from %(least)s to %(most)s.")
            % {"text": cut(text), "least": least, "most": most}
        )
    return int(value)


def quantity(
    text: str, *, writing: Writing, unit_known: str = ""
) -> tuple[int | None, Decimal | None]:
    """(seeds, grams), one of them None: "250", "250 seeds", "12,5 g", "1/2 oz" is refused.

    ``unit_known`` is what a number alone counts, where the heading says so: "g" or "seeds".
    """
    value, unit = number(text, writing=writing)
    if not unit:
        unit = unit_known
    if unit in GRAMS:
        return None, (value * GRAMS[unit]).quantize(Decimal("0.001"))
    if unit in COUNTED:
        return whole(str(text), writing=writing, least=1), None
    raise Refused(
        _("“%(text)s”: the unit “%(unit)s” is not known; write a count of seeds, or a weight "
          "such as 12.5 g.") % {"text": cut(text), "unit": cut(unit)}
    )  # fmt: skip


def comma_is_ambiguous(
    texts: Iterable[str], *, counts: Iterable[str] = (), usual: bool = True
) -> bool | None:
    """Whether the commas of these numbers are decimal (True), thousands (False), or cannot be
    told from them (None).

    Of what can only be whole, ``counts``, 1,500 is no one and a half. ``usual`` is the answer
    where no comma tells anything.
    """
    said = {_said_by_comma(text) for text in texts}
    said |= {_said_by_comma(text, can_be_part=_is_weight(text)) for text in counts}
    decimal, thousands = "decimal" in said, "thousands" in said
    if decimal != thousands:
        return decimal
    return None if decimal or "unclear" in said else usual


def _is_weight(text: str) -> bool:
    found = _NUMBER.match(text)
    return found is not None and found["unit"].casefold() in GRAMS


def _said_by_comma(text: str, *, can_be_part: bool = True) -> str:
    found = _NUMBER.match(text)
    digits = found["number"].strip() if found else ""
    if "," not in digits:
        return ""
    if "." in digits:
        return "decimal" if digits.rfind(",") > digits.rfind(".") else "thousands"
    if _AMBIGUOUS_COMMA.match(digits):
        return "unclear" if can_be_part else "thousands"
    return "thousands" if digits.count(",") > 1 else "decimal"


# Days -----------------------------------------------------------------------------------
def day(text: str, *, writing: Writing, on: dt.date) -> dt.date:
    """A day that has come: 2019-04-03, 3.4.2019, 3/4/2019, 3 April 2019, Apr 3, 2019."""
    found = _day(text.strip(), writing, on)
    if found > on:
        raise Refused(
            _("“%(text)s” is still to come; write a day up to today.") % {"text": cut(text)}
        )
    return found


def any_day(text: str, *, writing: Writing, on: dt.date) -> dt.date:
    """The same, and it may be still to come."""
    return _day(text.strip(), writing, on)


def _day(text: str, writing: Writing, on: dt.date) -> dt.date:
    try:
        if parts := _PARTS.match(text):
            first, sign, second, third = parts.groups()
            return _of_numbers(first, second, third, sign, writing, on)
        return _of_words(text, on)
    except (ValueError, KeyError):
        raise Refused(
            _("“%(text)s” is not a day; write one such as 2019-04-03 or 3 April 2019.")
            % {"text": cut(text)}
        ) from None


def _of_numbers(first, second, third, sign, writing: Writing, on: dt.date) -> dt.date:
    if len(first) == 4:
        return _date(int(first), int(second), int(third))
    if len(third) not in (2, 4):
        raise ValueError
    one, two = int(first), int(second)
    # With dots the day comes first wherever dates are written so.
    day_first = True if sign == "." or one > 12 else False if two > 12 else writing.day_first
    if one == two:
        day_first = True
    if day_first is None:
        raise Refused(
            _("“%(text)s” can be two days: say above which comes first in this file, the day "
              "or the month.") % {"text": f"{first}{sign}{second}{sign}{third}"}
        )  # fmt: skip
    day_, month = (one, two) if day_first else (two, one)
    return _date(_full_year(third, on), month, day_)


def _of_words(text: str, on: dt.date) -> dt.date:
    words = fold(re.sub(r"(?<=\d)(st|nd|rd|th)\b", "", text)).split()
    if len(words) != 3:
        raise ValueError
    month = (
        next(MONTHS[word] for word in words if word in MONTHS)
        if any(word in MONTHS for word in words)
        else None
    )
    numbers = [word for word in words if word not in MONTHS]
    if month is None or len(numbers) != 2:
        raise ValueError
    if len(numbers[0]) == 4:  # 2019 April 3
        numbers.reverse()
    return _date(_full_year(numbers[1], on), month, int(numbers[0]))


def _full_year(text: str, on: dt.date) -> int:
    year = int(text)
    if len(text) == 4:
        return year
    if len(text) != 2:
        raise ValueError
    return year + (
        on.year // 100 * 100 if year <= on.year % 100 else on.year // 100 * 100 - 100
    )


def _date(year: int, month: int, day_: int) -> dt.date:
    if year < EARLIEST:
        raise ValueError
    return dt.date(year, month, day_)


def day_comes_first(texts: Iterable[str]) -> bool | None:
    """Whether days written with strokes begin with the day; None where all of them could be
    either. True where there is nothing to ask.
    """
    unclear = False
    for text in texts:
        parts = _PARTS.match(text.strip())
        if parts is None or parts[2] == "." or len(parts[1]) == 4:
            continue
        first, second = int(parts[1]), int(parts[3])
        if first > 12 >= second:
            return True
        if second > 12 >= first:
            return False
        unclear = unclear or first != second
    return None if unclear else True


def year(text: str, *, on: dt.date) -> int:
    """A harvest year: 2019, or the year of a day that is written whole."""
    text = text.strip()
    if re.fullmatch(r"\d{4}(\.0)?", text) and EARLIEST <= int(text[:4]) <= on.year:
        return int(text[:4])
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        return day(text, writing=Writing(), on=on).year
    raise Refused(
        _("“%(text)s” is not a harvest year; write one from %(first)s to %(last)s.")
        % {"text": cut(text), "first": EARLIEST, "last": on.year}
    )


# Words ----------------------------------------------------------------------------------
def yes_or_no(text: str) -> bool:
    folded = text.strip().casefold()
    if folded in YES:
        return True
    if folded in NO:
        return False
    raise Refused(_("“%(text)s” is neither yes nor no.") % {"text": cut(text)})


def fitting(text: str, *, most: int) -> str:
    """Words in one line or more, as they are; refused where they are too long to keep."""
    text = text.strip()
    if len(text) > most:
        raise Refused(
            _("The text has %(n)s characters; at most %(most)s fit.")
            % {"n": len(text), "most": most}
        )
    return text


def cut(text: str, most: int = 60) -> str:
    """As much of what is written as a sentence can hold."""
    text = " ".join(text.split())
    return text if len(text) <= most else f"{text[: most - 1]}…"
