"""The lots that a variety could be started from again, and how sure that is some years on."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import NamedTuple

from django.core.cache import cache

from accounts.models import Member
from library.catalogue.models import Variety
from library.germination.many import Known, Shelf
from library.germination.models import BenchRules, LotEstimate
from library.science.regrowth import StartAgain, chances_enough_alive
from library.stock.models import Lot
from library.stock.places import PlaceTree

CHUNK = 4_000  # lots of which tests and keepings are read at once: SQLite counts the keys
REMEMBERED_SECONDS = 7 * 24 * 3600
DAYS_IN_YEAR = 365.25
# A lot that no equation predicts (tubers, cloves, seed that may not be dried): the chance that
# it is still good after a year, and each year after it. Common practice, no source.
UNPREDICTED_YEARLY = 0.3
MEMBER, PLACE = "member ", "place "  # before the key of who or what keeps a lot
NOWHERE = f"{PLACE}not noted"
CANNOT_BE = "record_cannot_be"


class Alive(NamedTuple):
    """The chance that enough is alive, and why it is not from the lot's posterior."""

    chance: float
    unpredicted: str = ""


@dataclass(frozen=True)
class LotLeft:
    """A lot with seed: who keeps it, and what is likely to be alive of it.

    ``seeds`` counted; shares from 0 to 1 today; ``alive`` the chance that enough is left to
    start again at the end of the years looked at, with ``needed`` living seeds for that.
    ``unpredicted`` is the key of the reason why the lot's posterior says nothing of it and
    something is assumed instead: a key of ``germination.reasons``, or CANNOT_BE; else empty.
    ``place_noted``: whether anybody said where it lies.
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
    unpredicted: str = ""
    place_noted: bool = True

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
        self._tops: dict[int, tuple[str, str]] = {}

    def of(self, lot: Lot) -> tuple[str, str]:
        """A key and a name."""
        if lot.custodian_id is not None:
            return f"{MEMBER}{lot.custodian_id}", lot.custodian.display_name  # type: ignore[union-attr]
        if lot.storage_place_id is None:
            return NOWHERE, ""
        if lot.storage_place_id not in self._tops:
            top = self.tree.top(lot.storage_place_id)
            self._tops[lot.storage_place_id] = f"{PLACE}{top.pk}", top.name
        return self._tops[lot.storage_place_id]


def lots_left(
    varieties: Mapping[int, Variety], needed: Mapping[int, int], *, on: dt.date, years: float
) -> dict[int, list[LotLeft]]:
    """By variety the lots with seed of it, as they are on a day.

    Varieties come with crop and species; ``needed`` are living seeds, by variety. A few
    queries, however many lots; what was worked out of a lot is remembered until something that
    it rests on changes.
    """
    lots = _lots_of(varieties)
    kept = _estimates_of(varieties)
    alive = _alive(lots, kept, needed, on=on, years=years)
    keepers, standard = Keepers(), BenchRules.current().standard_percent / 100
    found: dict[int, list[LotLeft]] = {}
    for lot in lots:
        left = _left(lot, kept.get(lot.pk), keepers, needed[lot.variety_id], alive, standard)
        found.setdefault(lot.variety_id, []).append(left)
    return {variety: _somewhere(theirs) for variety, theirs in found.items()}


def _lots_of(varieties: Mapping[int, Variety]) -> list[Lot]:
    """Joined in memory: a library has few keepers, and the varieties are there already."""
    with_seed = Lot.objects.kept_here().with_seed().filter(variety__in=list(varieties))
    lots = list(with_seed.order_by("variety", "pk"))
    keepers = Member.objects.in_bulk({lot.custodian_id for lot in lots if lot.custodian_id})
    for lot in lots:
        lot.variety = varieties[lot.variety_id]
        if lot.custodian_id:
            lot.custodian = keepers[lot.custodian_id]
    return lots


class _Kept(NamedTuple):
    """What is read of a lot's estimate."""

    computed_at: dt.datetime
    low: float
    median: float
    high: float
    evidence: list


def _estimates_of(varieties: Mapping[int, Variety]) -> dict[int, _Kept]:
    rows = LotEstimate.objects.filter(lot__variety__in=list(varieties))
    columns = ("lot_id", *_Kept._fields)
    return {lot: _Kept(*facts) for lot, *facts in rows.values_list(*columns)}


def _left(
    lot: Lot,
    estimate: _Kept | None,
    keepers: Keepers,
    needed: int,
    alive: dict[int, Alive],
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
        alive=alive[lot.pk].chance,
        needed=needed,
        unpredicted=alive[lot.pk].unpredicted,
        place_noted=key != NOWHERE,
    )


def _somewhere(lots: list[LotLeft]) -> list[LotLeft]:
    """Lots of which nobody noted the place taken to lie in the surest of the library's places
    that do hold seed of the variety: a place that may not be there makes nothing safer.
    """
    places = [lot for lot in lots if lot.custodian.startswith(PLACE) and lot.place_noted]
    if not places:
        return lots
    surest = max(places, key=lambda lot: (lot.alive, lot.custodian))
    key, name = surest.custodian, surest.custodian_name
    return [
        lot if lot.place_noted else replace(lot, custodian=key, custodian_name=name)
        for lot in lots
    ]


def _alive(
    lots: Sequence[Lot],
    kept: Mapping[int, _Kept],
    needed: Mapping[int, int],
    *,
    on: dt.date,
    years: float,
) -> dict[int, Alive]:
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
            {keys[pk]: tuple(alive) for pk, alive in worked_out.items()}, REMEMBERED_SECONDS
        )
    return {
        pk: worked_out[pk] if pk in worked_out else Alive(*known[key])
        for pk, key in keys.items()
    }


def _memory_key(
    lot: Lot, estimate: _Kept | None, needed: int, on: dt.date, years: float
) -> str:
    stamp = estimate.computed_at.timestamp() if estimate else "none"
    return f"alive:{lot.pk}:{stamp}:{lot.balance}:{needed}:{years:g}:{on:%G-%V}"


def _work_out(
    lots: list[Lot], needed: Mapping[int, int], *, on: dt.date, years: float
) -> dict[int, Alive]:
    """Nothing can be hoped of a lot whose record cannot be."""
    found = {lot.pk: Alive(0.0, CANNOT_BE) for lot in lots}
    asked: dict[int, StartAgain] = {}
    shelf = Shelf(on)
    known = (shelf.known_of(lots[n : n + CHUNK]) for n in range(0, len(lots), CHUNK))
    for one in chain.from_iterable(known):
        wanted = needed[one.lot.variety_id]
        if one.record is None:
            chance = _unpredicted(one.lot.balance, wanted, years)
            why = one.viability.cannot.key if one.viability.cannot else CANNOT_BE
            found[one.lot.pk] = Alive(chance, why)
        else:
            asked[one.lot.pk] = start_again(one, wanted, on=on, years=years)
    chances = chances_enough_alive(list(asked.values()))
    return found | {pk: Alive(chance) for pk, chance in zip(asked, chances, strict=True)}


def start_again(one: Known, needed: int, *, on: dt.date, years: float) -> StartAgain:
    """The question whether a lot that can be predicted will have enough alive."""
    if one.record is None:
        raise ValueError(f"Lot {one.lot.number} cannot be predicted.")
    day = one.viability.day(on) + years * DAYS_IN_YEAR
    return StartAgain(record=one.record, day=day, seeds=one.lot.balance, needed=needed)


def _unpredicted(seeds: int, needed: int, years: float) -> float:
    return UNPREDICTED_YEARLY**years if seeds >= needed else 0.0
