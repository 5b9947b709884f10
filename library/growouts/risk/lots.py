"""The lots that a variety could be started from again, and how sure that is some years on."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.core.cache import cache

from library.catalogue.models import Species
from library.germination.many import Shelf
from library.germination.models import BenchRules, LotEstimate
from library.science.reasons import COMMON_PRACTICE
from library.science.regrowth import StartAgain, chances_enough_alive
from library.stock.models import Lot
from library.stock.places import PlaceTree

REMEMBERED_SECONDS = 7 * 24 * 3600
DAYS_IN_YEAR = 365.25
# A lot that no equation predicts (tubers, cloves, seed that may not be dried): the chance that
# it is still good after a year, and each year after it. Common practice, no source.
UNPREDICTED_YEARLY = 0.3


@dataclass(frozen=True)
class LotLeft:
    """A lot with seed: who keeps it, and what is likely to be alive of it.

    ``seeds`` counted; shares from 0 to 1 today; ``alive`` the chance that enough is left to
    start again at the end of the years looked at, with ``needed`` living seeds for that.
    """

    lot: Lot
    custodian: str
    custodian_name: str
    seeds: int
    low: float
    median: float
    high: float
    tested: bool
    alive: float
    needed: int
    source: str

    @property
    def living(self) -> tuple[int, int, int]:
        """Seeds alive today: low, median and high."""
        return (
            math.floor(self.seeds * self.low),
            round(self.seeds * self.median),
            math.ceil(self.seeds * self.high),
        )


class Keepers:
    """Who keeps a lot: a member, or the place at the top of the tree in which it lies.

    What lies in one building goes together; a second building is a second keeper.
    """

    def __init__(self) -> None:
        self.tree = PlaceTree()

    def of(self, lot: Lot) -> tuple[str, str]:
        """A key and a name."""
        if lot.custodian_id is not None:
            return f"member {lot.custodian_id}", lot.custodian.display_name  # type: ignore[union-attr]
        path = self.tree.path(lot.storage_place_id)
        top = path.partition(" › ")[0]
        return f"place {top}", top


def lots_left(
    varieties, needed: dict[int, int], *, on: dt.date, years: float
) -> dict[int, list[LotLeft]]:
    """By variety the lots with seed of it, as they are on a day.

    ``needed`` are living seeds, by variety. A few queries, however many lots; what was worked
    out of a lot is remembered until something that it rests on changes.
    """
    lots = list(
        Lot.objects.kept_here()
        .with_seed()
        .filter(variety__in=varieties)
        .select_related("variety__crop", "custodian")
        .order_by("variety", "pk")
    )
    species = Species.objects.in_bulk({lot.variety.crop.species_id for lot in lots})
    for lot in lots:
        lot.variety.crop.species = species[lot.variety.crop.species_id]
    kept = {row.lot_id: row for row in LotEstimate.objects.filter(lot__in=lots)}
    alive = _alive(lots, kept, needed, on=on, years=years)
    keepers, standard = Keepers(), BenchRules.current().standard_percent / 100
    found: dict[int, list[LotLeft]] = {}
    for lot in lots:
        left = _left(lot, kept.get(lot.pk), keepers, needed[lot.variety_id], alive, standard)
        found.setdefault(lot.variety_id, []).append(left)
    return found


def _left(
    lot: Lot,
    estimate: LotEstimate | None,
    keepers: Keepers,
    needed: int,
    alive: dict[int, float],
    standard: float,
) -> LotLeft:
    key, name = keepers.of(lot)
    share = (estimate.low, estimate.median, estimate.high) if estimate else (0.0, standard, 1.0)
    return LotLeft(
        lot=lot,
        custodian=key,
        custodian_name=name,
        seeds=lot.balance,
        low=share[0],
        median=share[1],
        high=share[2],
        tested=bool(estimate and estimate.evidence),
        alive=alive[lot.pk],
        needed=needed,
        source="estimate" if estimate else COMMON_PRACTICE,
    )


def _alive(
    lots: Sequence[Lot],
    kept: dict[int, LotEstimate],
    needed: dict[int, int],
    *,
    on: dt.date,
    years: float,
) -> dict[int, float]:
    """By lot the chance that it can still be started from; from memory where that holds."""
    keys = {
        lot.pk: _memory_key(lot, kept.get(lot.pk), needed[lot.variety_id], on, years)
        for lot in lots
    }
    known = cache.get_many(list(keys.values()))
    fresh = [lot for lot in lots if keys[lot.pk] not in known]
    worked_out = _work_out(fresh, needed, on=on, years=years) if fresh else {}
    if worked_out:
        cache.set_many(
            {keys[pk]: chance for pk, chance in worked_out.items()}, REMEMBERED_SECONDS
        )
    return {pk: worked_out[pk] if pk in worked_out else known[key] for pk, key in keys.items()}


def _memory_key(
    lot: Lot, estimate: LotEstimate | None, needed: int, on: dt.date, years: float
) -> str:
    stamp = estimate.computed_at.timestamp() if estimate else "none"
    return f"alive:{lot.pk}:{stamp}:{lot.balance}:{needed}:{years:g}:{on:%G-%V}"


def _work_out(
    lots: list[Lot], needed: dict[int, int], *, on: dt.date, years: float
) -> dict[int, float]:
    """0 for a lot whose record cannot be."""
    chances = {lot.pk: 0.0 for lot in lots}
    asked: dict[int, StartAgain] = {}
    for one in Shelf(on).known_of(lots):
        seeds, wanted = one.lot.balance, needed[one.lot.variety_id]
        if one.record is None:
            chances[one.lot.pk] = _unpredicted(seeds, wanted, years)
            continue
        day = one.viability.day(on) + years * DAYS_IN_YEAR
        asked[one.lot.pk] = StartAgain(record=one.record, day=day, seeds=seeds, needed=wanted)
    return chances | dict(zip(asked, chances_enough_alive(list(asked.values())), strict=True))


def _unpredicted(seeds: int, needed: int, years: float) -> float:
    return UNPREDICTED_YEARLY**years if seeds >= needed else 0.0
