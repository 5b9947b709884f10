"""The collection's living seed by crop and harvest year: what is left times the share alive."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Any

from django.db.models import Count, F, FloatField, Max, Min, Q, Sum
from django.db.models.functions import Cast

from library.catalogue.models import CountedAs
from library.catalogue.reference_words import in_shown_order, name_of_crop
from library.stock.models import Lot

# Living seeds from which each shade begins. Common practice, no source: 50 are a bed, 200 a
# crop to keep a variety by, 1000 a season's lending, 5000 more than a season's.
SHADES = (1, 50, 200, 1000, 5000)
MOST_YEARS = 14  # columns; years before them share one


@dataclass(frozen=True)
class Heap:
    """Lots taken together: their living seed, and what of them nobody could estimate.

    ``lots`` counts all that ever came, ``with_seed`` those of which seed is left, and
    ``unknown`` those of them without an estimate.
    """

    lots: int = 0
    with_seed: int = 0
    seeds: int = 0
    living: float = 0.0
    unknown: int = 0
    unknown_seeds: int = 0
    since: dt.date | None = None
    until: dt.date | None = None

    def __add__(self, other: Heap) -> Heap:
        return Heap(
            self.lots + other.lots,
            self.with_seed + other.with_seed,
            self.seeds + other.seeds,
            self.living + other.living,
            self.unknown + other.unknown,
            self.unknown_seeds + other.unknown_seeds,
            min(filter(None, (self.since, other.since)), default=None),
            max(filter(None, (self.until, other.until)), default=None),
        )

    @property
    def alive(self) -> int:
        """Living seeds, to the nearest."""
        return round(self.living)

    @property
    def state(self) -> str:
        """``none``: no lot ever; ``used``: no seed left; ``unknown``: nothing estimated."""
        if not self.lots:
            return "none"
        if not self.with_seed:
            return "used"
        return "unknown" if self.unknown == self.with_seed else "known"

    @property
    def shade(self) -> int:
        """How dark the cell is: 1 to 5, and 0 where nothing lives or nothing is known."""
        return shade_of(self.alive)

    @property
    def percent_alive(self) -> float | None:
        """Of the seed that was estimated, the share that lives."""
        estimated = self.seeds - self.unknown_seeds
        return 100 * self.living / estimated if estimated else None


@dataclass(frozen=True)
class Column:
    """A harvest year; ``upto`` when it stands for that year and all before; None: unknown."""

    year: int | None
    upto: bool = False


@dataclass(frozen=True)
class Row:
    """One crop: a heap for each column, and all of them together."""

    name: str
    slug: str
    cells: Sequence[Heap]
    total: Heap


@dataclass(frozen=True)
class LivingSeed:
    """The whole table, and what cannot stand in it."""

    columns: Sequence[Column]
    rows: Sequence[Row]
    totals: Sequence[Heap]
    total: Heap
    plant_parts: Sequence[tuple[str, Heap]]

    @property
    def shades(self) -> list[tuple[int, int, int | None]]:
        """The key: each shade with the fewest and the most living seeds."""
        most = [*(step - 1 for step in SHADES[1:]), None]
        return [(n, *ends) for n, ends in enumerate(zip(SHADES, most, strict=True), start=1)]


def shade_of(alive: int) -> int:
    """Return the shade of so many living seeds: 0 for none, 1 to 5 in steps that widen."""
    return bisect_right(SHADES, alive)


def living_seed(*, crop: str = "", rare: bool = False) -> LivingSeed:
    """The table of all lots, or of one crop's, or of rare varieties': one question."""
    lots = Lot.objects.kept_here().order_by()
    if crop:
        lots = lots.filter(variety__crop__slug=crop)
    if rare:
        lots = lots.filter(variety__is_rare=True)
    found = [(row, _heap(row)) for row in lots.values(*_BY).annotate(**_SUMS)]
    seed = [each for each in found if each[0]["counted_as"] == CountedAs.SEED]
    parts = [each for each in found if each[0]["counted_as"] != CountedAs.SEED]
    return _table(seed, _plant_parts(parts))


_BY = ("variety__crop__name", "variety__crop__slug", "harvest_year", "counted_as")
_LEFT = Q(loose__gt=0) | Q(packed__gt=0)
_UNKNOWN = Q(estimate=None) & _LEFT


def _living(column: str) -> Sum:
    # As fractions: two full columns together would not fit into an integer.
    return Sum(F("estimate__median") * Cast(column, FloatField()), default=0.0)


_SUMS: dict[str, Any] = {
    "lots": Count("pk"),
    "with_seed": Count("pk", filter=_LEFT),
    "seeds": Sum("loose") + Sum("packed"),
    "living": _living("loose") + _living("packed"),
    "unknown": Count("pk", filter=_UNKNOWN),
    "unknown_seeds": Sum("loose", filter=_UNKNOWN, default=0)
    + Sum("packed", filter=_UNKNOWN, default=0),
    "since": Min("estimate__on", filter=_LEFT),
    "until": Max("estimate__on", filter=_LEFT),
}


def _heap(row: dict[str, Any]) -> Heap:
    return Heap(**{name: row[name] for name in _SUMS})


def sum_of(heaps: Iterable[Heap]) -> Heap:
    return reduce(Heap.__add__, heaps, Heap())


def columns_for(years: Iterable[int | None], most: int = MOST_YEARS) -> list[Column]:
    """The years that occur, oldest first; when they are too many, the oldest share a column.

    Lots of which nobody knows the year come last.
    """
    known = sorted({year for year in years if year is not None})
    columns = [Column(year) for year in known[-most:]]
    if len(known) > most:
        columns = [Column(known[-most], upto=True), *columns[1:]]
    return columns + [Column(None)] * (None in set(years))


def _column_of(year: int | None, columns: Sequence[Column]) -> int:
    for n, column in enumerate(columns):
        if column.year == year:
            return n
        if column.upto and year is not None and column.year and year < column.year:
            return n
    raise LookupError(year)


def _table(
    seed: list[tuple[dict[str, Any], Heap]], parts: list[tuple[str, Heap]]
) -> LivingSeed:
    columns = columns_for([row["harvest_year"] for row, _heap in seed])
    crops: dict[tuple[str, str], list[Heap]] = {}
    for row, heap in seed:
        key = row["variety__crop__name"], row["variety__crop__slug"]
        cells = crops.setdefault(key, [Heap()] * len(columns))
        cells[_column_of(row["harvest_year"], columns)] += heap
    by_name = sorted(crops.items(), key=lambda crop: crop[0][0].casefold())
    in_order = in_shown_order(by_name, stored=lambda crop: crop[0][0])
    rows = [
        Row(name_of_crop(name), slug, cells, sum_of(cells)) for (name, slug), cells in in_order
    ]
    totals = [sum_of(row.cells[n] for row in rows) for n in range(len(columns))]
    return LivingSeed(columns, rows, totals, sum_of(totals), parts)


def _plant_parts(found: list[tuple[dict[str, Any], Heap]]) -> list[tuple[str, Heap]]:
    """Tubers, cloves and slips: counted, but whether they live is no matter of an estimate."""
    units = dict(CountedAs.choices)
    heaps: dict[str, Heap] = {}
    for row, heap in found:
        heaps[row["counted_as"]] = heaps.get(row["counted_as"], Heap()) + heap
    return [(str(units[unit]), heap) for unit, heap in sorted(heaps.items())]
