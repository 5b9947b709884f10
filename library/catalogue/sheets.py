"""The reference files as rows of the card file, read strictly: a row that is not understood is
refused by file, row and column, never skipped.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import TypeVar

from django.utils.text import slugify
from django.utils.translation import gettext as _

from library.catalogue.models import (
    Caution,
    CountedAs,
    Crop,
    How,
    LifeCycle,
    Pollination,
    Species,
    SpeciesFigure,
    ViabilityConstants,
)
from library.errors import Refused
from library.science.viability import Constants, recommended_constants

T = TypeVar("T")
Quantity = SpeciesFigure.Quantity
_IN_TEXT = "(common practice)"
_DIOECIOUS = re.compile(r"\bdioecious\b", re.IGNORECASE)


@dataclass(frozen=True)
class Column:
    """Where a figure stands in species.csv, and where its source stands."""

    value: str
    quantity: Quantity
    unit: str
    source: str
    how: str


COLUMNS = [
    Column(
        "isolation_m_home",
        Quantity.ISOLATION_HOME_M,
        "m",
        "isolation_m_home_source",
        "how_isolation_home",
    ),
    Column(
        "isolation_m_certified",
        Quantity.ISOLATION_CERTIFIED_M,
        "m",
        "isolation_m_certified_source",
        "how_isolation_certified",
    ),
    Column(
        "min_population_maintain",
        Quantity.MIN_POPULATION,
        "plants",
        "min_population_source",
        "how_population",
    ),
    Column(
        "storage_behaviour",
        Quantity.STORAGE_BEHAVIOUR,
        "",
        "storage_behaviour_source",
        "how_storage_behaviour",
    ),
    Column(
        "longevity_years_cool_dry",
        Quantity.LONGEVITY_YEARS,
        "years",
        "longevity_source",
        "how_longevity",
    ),
    Column(
        "thousand_seed_weight_g",
        Quantity.THOUSAND_SEED_WEIGHT_G,
        "g",
        "seed_weight_source",
        "how_seed_weight",
    ),
    Column(
        "seeds_per_gram_cfr",
        Quantity.SEEDS_PER_GRAM_CFR,
        "per g",
        "seeds_per_gram_cfr_source",
        "how_seeds_per_gram_cfr",
    ),
    Column(
        "federal_min_germination_pct",
        Quantity.FEDERAL_MIN_PERCENT,
        "%",
        "federal_min_source",
        "how_federal_min",
    ),
    Column(
        "state_min_germination_pct",
        Quantity.STATE_MIN_PERCENT,
        "%",
        "state_min_source",
        "how_state_min",
    ),
    *[
        Column(value, quantity, unit, "germ_test_source", "how_germ_test")
        for value, quantity, unit in [
            ("germ_test_temp_c", Quantity.TEST_TEMPERATURE_C, "°C"),
            ("germ_test_first_count_days", Quantity.TEST_FIRST_COUNT_DAYS, "days"),
            ("germ_test_final_count_days", Quantity.TEST_FINAL_COUNT_DAYS, "days"),
            ("germ_test_special", Quantity.TEST_DIRECTIONS, ""),
            ("germ_test_substrata", Quantity.TEST_SUBSTRATE, ""),
        ]
    ],
]


class Row:
    """One line of a file, which knows how to say what is wrong with it."""

    def __init__(self, file: str, number: int, cells: dict[str, str]) -> None:
        self.file, self.number, self.cells = file, number, cells

    def __getitem__(self, column: str) -> str:
        try:
            return (self.cells[column] or "").strip()
        except KeyError:
            raise self.refusal(column, _("there is no such column")) from None

    def required(self, column: str) -> str:
        if not self[column]:
            raise self.refusal(column, _("the cell is empty"))
        return self[column]

    def choice(self, column: str, choices, text: str | None = None) -> str:
        text = self.required(column) if text is None else text
        if text not in choices.values:
            known = ", ".join(choices.values)
            wrong = _("“%(text)s” is not one of: %(known)s") % {"text": text, "known": known}
            raise self.refusal(column, wrong)
        return text

    def refusal(self, column: str, wrong: str) -> Refused:
        place = {"file": self.file, "row": self.number, "column": column, "wrong": wrong}
        return Refused(
            _("%(file)s, row %(row)s, column %(column)s: %(wrong)s.") % place, field=column
        )


def rows_of(file: str, content: bytes) -> Iterator[Row]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refused(_("%(file)s is not text in UTF-8.") % {"file": file}) from error
    reader = csv.DictReader(io.StringIO(text), strict=True)
    for number, cells in enumerate(reader, start=2):
        if None in cells or None in cells.values():
            raise Refused(
                _("%(file)s, row %(row)s has not as many cells as the first line.")
                % {"file": file, "row": number}
            )
        yield Row(file, number, cells)


def species_of(row: Row) -> Species:
    # "memory (standard botanical and crop references)": the word, then the source.
    how, _paren, source = row.required("how_botany").partition(" (")
    return Species(
        botanical_name=row.required("botanical_name"),
        slug=slugify(row["botanical_name"]),
        common_name=row.required("common_name"),
        synonyms=row["synonyms"],
        family=row.required("family"),
        life_cycle=row.required("life_cycle"),
        pollination=row.choice("pollination", Pollination),
        breeding_note=row["breeding_note"],
        dioecious=_DIOECIOUS.search(row["breeding_note"]) is not None,
        uncertain=row["uncertain"],
        source=source.removesuffix(")"),
        how=row.choice("how_botany", How, how),
    )


def figures_of(row: Row, species: Species) -> Iterator[SpeciesFigure]:
    """Every figure that the row gives; an empty cell gives none."""
    for column in COLUMNS:
        if value := row[column.value]:
            source, how = _sourced(row, column, value)
            number = _number(value)
            yield SpeciesFigure(
                species=species,
                quantity=column.quantity,
                number=number,
                text="" if number is not None else value,
                unit=column.unit,
                source=source,
                how=how,
            )


def crop_of(row: Row, species: dict[str, Species]) -> Crop:
    return Crop(
        species=_find(row, "botanical_name", row.required("botanical_name"), species),
        name=row.required("crop"),
        slug=slugify(row["crop"]),
        other_names=row["other_names"],
        life_cycle=row.choice("life_cycle", LifeCycle),
        counted_as=row.choice("unit", CountedAs),
        note=row["note"],
        source=row.required("source").removesuffix(", from memory"),
        how=How.MEMORY if row["source"].endswith("from memory") else How.READ,
    )


def caution_of(row: Row, species: dict[str, Species]) -> tuple[Caution, list[Species]]:
    applies_to = row.required("applies_to")
    concerns = applies_to if applies_to in Caution.Concern.values else ""
    caution = Caution(
        topic=row.required("topic"),
        text=row.required("caution"),
        source=row.required("source"),
        how=row.choice("how", How),
        for_everything=applies_to == "all",
        concerns=concerns,
    )
    if concerns or caution.for_everything:
        return caution, []
    names = applies_to.split(", ")
    return caution, [_find(row, "applies_to", name, species) for name in names]


def constants_of(rows: list[Row], species: dict[str, Species]) -> Iterator[ViabilityConstants]:
    """The recommended set of each species that the card file knows; a doubtful set never."""
    recommended = _recommended(rows)
    for row in rows:
        name = row.required("botanical_name")
        found = recommended.get(name)
        if found is None or name not in species or row["source"] != found.source:
            continue
        yield ViabilityConstants(
            species=species[name],
            ke=found.ke,
            cw=found.cw,
            ch=found.ch,
            cq=found.cq,
            source=row.required("source"),
            how=row.choice("how", How),
            note=row["note"],
        )


def _recommended(rows: list[Row]) -> dict[str, Constants]:
    try:
        return recommended_constants(row.cells for row in rows)
    except (KeyError, ValueError) as error:
        raise Refused(
            _("viability_constants.csv: %(wrong)s") % {"wrong": error}, field="KE"
        ) from error


def _sourced(row: Row, column: Column, value: str) -> tuple[str, str]:
    if not row[column.how] and value.endswith(_IN_TEXT):
        return _IN_TEXT.strip("()"), How.COMMON_PRACTICE
    return row.required(column.source), row.choice(column.how, How)


def _number(value: str) -> Decimal | None:
    """The value as a number; None for a range or words, which stay as they are written."""
    try:
        return Decimal(value)
    except InvalidOperation:
        return None


def _find(row: Row, column: str, name: str, species: dict[str, Species]) -> Species:
    if name not in species:
        wrong = _("“%(name)s” has no row in species.csv") % {"name": name}
        raise row.refusal(column, wrong)
    return species[name]


def once(rows: list[T], key: Callable[[T], str], file: str) -> list[T]:
    """The rows, refused when two of them are about the same thing."""
    seen: set[str] = set()
    for row in rows:
        if key(row) in seen:
            raise Refused(
                _("%(file)s has two rows for “%(key)s”.") % {"file": file, "key": key(row)}
            )
        seen.add(key(row))
    return rows
