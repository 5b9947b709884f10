"""Which column holds what: a guess from the headings and from how the cells look."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any

from django.utils.formats import get_format
from rapidfuzz import fuzz

from accounts.models import Community
from library.cardbox import values
from library.cardbox.kinds import KINDS, Field
from library.cardbox.kinds.finding import crop_names
from library.cardbox.models import Shape
from library.catalogue.names import fold

LIKE = 82  # of 100: how like one of its usual words a heading must be
MOST_CELLS = 200


def fingerprint_of(headings: list[str]) -> str:
    """The same for files with the same headings in the same order, whatever their case."""
    return hashlib.sha256("\n".join(map(fold, headings)).encode()).hexdigest()


def guess(kind: str, headings: list[str], sample: list[list[str]]) -> dict[str, Any]:
    """``columns`` as an import keeps them: as a file of this shape was understood last, else
    guessed. ``known`` says which.
    """
    shape = Shape.objects.filter(kind=kind, fingerprint=fingerprint_of(headings)).first()
    if shape is not None:
        columns = {**shape.columns, "known": True}
        return columns | _writing(kind, columns["fields"], headings, sample, was=columns)
    fields = guess_fields(kind, headings, sample)
    told = _writing(kind, fields, headings, sample)
    return {"fields": fields, "options": {}, "known": False, **told}


def guess_fields(kind: str, headings: list[str], sample: list[list[str]]) -> dict[str, int]:
    """Field by field the likeliest column; none for what no column seems to hold."""
    looks = _looks()
    scored = [
        (score, -place, -order, field.name)
        for order, field in enumerate(KINDS[kind].fields)
        for place, heading in enumerate(headings)
        if (score := _score(field, heading, _cells(sample, place), looks)) > 0
    ]
    fields: dict[str, int] = {}
    for _points, place, _order, name in sorted(scored, reverse=True):
        if name not in fields and -place not in fields.values():
            fields[name] = -place
    return {
        field.name: fields[field.name] for field in KINDS[kind].fields if field.name in fields
    }


def _looks() -> dict[str, Callable[[str], bool]]:
    crops = crop_names()
    return {"crop": lambda text: bool(crops.exactly(text))}


def _score(
    field: Field, heading: str, cells: list[str], looks: dict[str, Callable[[str], bool]]
) -> float:
    """0 for no; up to 100 for the heading, and as much as 30 more for the look of the cells."""
    named = max(_alike(fold(heading), word) for word in field.words.split(";"))
    look = looks.get(field.name) or field.look or _look_of_value(field)
    share = sum(look(cell) for cell in cells) / len(cells) if look and cells else None
    if named < LIKE:
        return 60 * share if field.tells and share is not None and share >= 0.8 else 0
    if share is None:
        return named
    return named + 30 * share - (25 if share < 0.2 else 0)


def _alike(heading: str, word: str) -> float:
    if heading == word:
        return 100
    if not heading or len(word) < 3:
        return 0
    # "Harvest year (approx.)" has all of "harvest year"; it is less sure than the words alone.
    within = 92 if set(word.split()) <= set(heading.split()) else 0
    return max(within - len(heading.split()), fuzz.ratio(heading, word) - 2)


def _look_of_value(field: Field) -> Callable[[str], bool] | None:
    if field.kind_of_value == "day":
        return lambda text: values.day_comes_first([text]) is None or _is_day(text)
    if field.kind_of_value == "number":
        return lambda text: values._NUMBER.match(text) is not None
    return None


def _is_day(text: str) -> bool:
    import datetime as dt

    try:
        values.any_day(text, writing=values.Writing(day_first=True), on=dt.date(2000, 1, 1))
    except Exception:
        return False
    return True


def _cells(sample: list[list[str]], place: int) -> list[str]:
    cells = (row[place].strip() for row in sample if place < len(row))
    return [cell for cell in cells if cell][:MOST_CELLS]


def _writing(
    kind: str,
    fields: dict[str, int],
    headings: list[str],
    sample: list[list[str]],
    was: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """How the file writes days and commas, as far as it tells itself.

    What an earlier file of this shape was said to do fills in what this one leaves open.
    """
    told = writing_of(kind, fields, headings, sample)
    if was is not None:
        told = {k: was.get(k) if v is None else v for k, v in told.items()}
    return told


def writing_of(
    kind: str, fields: dict[str, int], headings: list[str], rows: list[list[str]]
) -> dict[str, Any]:
    measures: list[str] = []
    counts: list[str] = []
    for field, place in _columns_of(kind, "number", fields):
        is_count = field.is_whole(headings[place])
        (counts if is_count else measures).extend(_cells(rows, place))
    days = [
        cell for _f, place in _columns_of(kind, "day", fields) for cell in _cells(rows, place)
    ]
    return {
        "day_first": values.day_comes_first(days),
        "comma_is_decimal": values.comma_is_ambiguous(
            measures, counts=counts, usual=_comma_is_usual()
        ),
    }


def _columns_of(
    kind: str, kind_of_value: str, fields: dict[str, int]
) -> list[tuple[Field, int]]:
    return [
        (field, fields[field.name])
        for field in KINDS[kind].fields
        if field.kind_of_value == kind_of_value and field.name in fields
    ]


def _comma_is_usual() -> bool:
    """Whether the library's language writes one and a half with a comma."""
    language = Community.current().language
    return get_format("DECIMAL_SEPARATOR", lang=language, use_l10n=True) == ","
