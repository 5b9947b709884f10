"""Whether values keep the rules of the multi-crop passport descriptors. Pure functions.

Each answer is what is wrong, in a few English words for who makes such files; empty: nothing.
Whether three letters are a country's, or a code an institute's, only their registers know.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence

from library.exchange.mcpd.fields import (
    BY_NAME,
    NAME_OF,
    NAMES,
    OTHER,
    RANKS,
    Field,
    Kind,
)

_INSTITUTE = re.compile(r"[A-Z]{3}\d{3,4}")
_COUNTRY = re.compile(r"[A-Z]{3}")
_DATE = re.compile(r"(\d{4})(\d\d|--)(\d\d|--)")
_DECIMAL = re.compile(r"-?\d{1,3}(\.\d+)?")
_WHOLE = re.compile(r"-?\d{1,6}")
_DMS = {
    "LATITUDE": re.compile(r"(\d{2})(\d\d|--)(\d\d|--)[NS]"),
    "LONGITUDE": re.compile(r"(\d{3})(\d\d|--)(\d\d|--)[EW]"),
}
_GENUS = re.compile(r"(× ?)?[A-Z][a-zë-]+")
_SPECIES = re.compile(r"sp\.|(× ?)?[a-zë-]+")
_OTHER_NUMBER = re.compile(r"([A-Z]{3}\d{3,4})?:\S.*")
_NOTHING = {"unknown", "not known", "n/a", "na", "null", "none", "-", "?", "0"}


def problems_of_file(header: Sequence[str], rows: Iterable[Mapping[str, str]]) -> list[str]:
    """What is wrong with a file: its header, each row, and numbers that stand twice."""
    problems = [] if tuple(header) == NAMES else ["the 41 field names, in their order"]
    seen: set[tuple[str, ...]] = set()
    for number, row in enumerate(rows, start=1):
        problems += [f"row {number}: {problem}" for problem in problems_of(row)]
        for key in [("PUID", row["PUID"]), ("ACCENUMB", row["INSTCODE"], row["ACCENUMB"])]:
            if key[-1] and key in seen:
                problems.append(f"row {number}: {key[0]} stands twice")
            seen.add(key)
    return problems


def problems_of(row: Mapping[str, str]) -> list[str]:
    """What is wrong with one row, given by field names; missing ones count as empty."""
    problems = [f"{name}: no such field" for name in row if name not in BY_NAME]
    found = ((name, problem_of(name, row.get(name, ""))) for name in NAMES)
    problems += [f"{name}: {wrong}" for name, wrong in found if wrong]
    return problems + _between_fields(row)


def _between_fields(row: Mapping[str, str]) -> list[str]:
    problems = []
    remarks = row.get("REMARKS", "").split(";")
    for name, other in OTHER.items():
        said = any(remark.startswith(f"{name}:") for remark in remarks)
        if other in row.get(name, "").split(";") and not said:
            problems.append(f"{name}: {other} is explained in REMARKS")
    for code, name in NAME_OF.items():
        if row.get(code) and row.get(name):
            problems.append(f"{name}: only where {code} is empty")
    if row.get("SPECIES") and not row.get("GENUS"):
        problems.append("GENUS: a species has one")
    return problems


def problem_of(name: str, value: str) -> str:
    """What is wrong with a field's value; empty where nothing is, as with an empty value."""
    field = BY_NAME[name]
    if not value:
        return ""
    if not value.isprintable():
        return "one line of text"
    if field.multi:
        values = value.split(";")
        return next((wrong for each in values if (wrong := _of_one(field, each))), "")
    return _of_one(field, value)


def _of_one(field: Field, value: str) -> str:
    if not value or value != value.strip():
        return "values are separated by a semicolon without a space, and none is empty"
    if ";" in value:
        return "one value only"
    if field.kind not in _COUNTED and value.casefold() in _NOTHING:
        return "what is not known is left empty"
    return _RULES[field.kind](field, value)


def _text(field: Field, value: str) -> str:
    return ""


def _matching(pattern: re.Pattern, wrong: str):
    def rule(field: Field, value: str) -> str:
        return "" if pattern.fullmatch(value) else wrong

    return rule


def _code(field: Field, value: str) -> str:
    return "" if value in field.codes else "a code of the list"


def _date(field: Field, value: str) -> str:
    found = _DATE.fullmatch(value)
    if not found:
        return "YYYYMMDD, with hyphens for an unknown month or day"
    # V.2 also takes 00 for what is not known (from memory).
    year, *parts = found.groups()
    month, day = ("--" if part == "00" else part for part in parts)
    if month == "--" != day:
        return "no day without a month"
    try:
        dt.date(int(year), 1 if month == "--" else int(month), 1 if day == "--" else int(day))
    except ValueError:
        return "no such day"
    return ""


def _number(pattern: re.Pattern, wrong: str):
    def rule(field: Field, value: str) -> str:
        if not pattern.fullmatch(value):
            return wrong
        low = field.least is not None and float(value) < field.least
        high = field.most is not None and float(value) > field.most
        return f"from {field.least} to {field.most}" if low or high else ""

    return rule


def _dms(field: Field, value: str) -> str:
    found = _DMS[field.name].fullmatch(value)
    if not found:
        return "degrees, minutes, seconds with hyphens for what is missing, and the side"
    degrees, minutes, seconds = (0 if part == "--" else int(part) for part in found.groups())
    if found[2] == "--" != found[3]:
        return "no seconds without minutes"
    whole = degrees + minutes / 60 + seconds / 3600
    if minutes > 59 or seconds > 59 or whole > (field.most or 0):
        return "no such place on the globe"
    return ""


def _names(field: Field, value: str) -> str:
    return "an initial capital" if value[0].islower() else ""


def _subtaxa(field: Field, value: str) -> str:
    rank, _space, epithet = value.partition(" ")
    return "" if rank in RANKS and epithet else f"one of {', '.join(RANKS)}, and a name"


def _remark(field: Field, value: str) -> str:
    name, colon, text = value.partition(":")
    known = name in BY_NAME and colon and text.strip()
    return "" if known else "the name of a field, a colon, and the remark"


_COUNTED = (Kind.CODE, Kind.DECIMAL, Kind.WHOLE)  # where 0 may be what is known
_RULES = {
    Kind.TEXT: _text,
    Kind.INSTITUTE: _matching(_INSTITUTE, "three letters of a country and a number"),
    Kind.COUNTRY: _matching(_COUNTRY, "three letters of a country"),
    Kind.DATE: _date,
    Kind.CODE: _code,
    Kind.DECIMAL: _number(_DECIMAL, "a decimal number"),
    Kind.WHOLE: _number(_WHOLE, "a whole number"),
    Kind.DMS: _dms,
    Kind.GENUS: _matching(_GENUS, "a genus with an initial capital"),
    Kind.SPECIES: _matching(_SPECIES, "an epithet in lower case, or sp."),
    Kind.SUBTAXA: _subtaxa,
    Kind.NAMES: _names,
    Kind.NUMBERS: _matching(_OTHER_NUMBER, "INSTCODE:number, or :number"),
    Kind.REMARKS: _remark,
}
