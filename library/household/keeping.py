"""A member's own lots: until which year their seed is good, and how long new seed keeps.

Seed is good in a year when, on the usual sowing day of that garden, the chance that it is at
the library's standard or above is at least what the member asks for. A lot's own chance comes
from its estimate (storage and tests); that of seed yet to be harvested from what its species is
taken to do in the place where the best lot lies now.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from accounts.models import Member
from library.catalogue.models import BreedingStatus, Variety
from library.germination.estimates import LotViability
from library.germination.many import Known, Shelf
from library.growouts.plans.given import seasons_bound
from library.household.models import SavedVariety, SavingPlan
from library.lending.services import seasons
from library.science.calendar import LifeCycle
from library.science.growout_calendar import Step, steps_of
from library.science.rotation import MOST_VARIETIES, MOST_YEARS
from library.science.seasons import GardenSeason
from library.science.viability import Stretch
from library.stock.models import Lot

FAR_YEARS = MOST_YEARS + 1  # good for longer than anybody plans
MOST_LOTS = 500


@dataclass(frozen=True)
class OwnLot:
    """A lot at home. ``falls_on`` is the day on which its chance falls to what is asked for:
    None where that lies beyond every calendar, or where nothing predicts it (``cannot``).
    """

    lot: Lot
    good_until: int
    falls_on: dt.date | None
    cannot: str = ""


@dataclass(frozen=True)
class OwnVariety:
    """A variety that the member keeps: the best of its lots, and how new seed of it keeps.

    ``lasts`` years after the year of its harvest, 1 or more; ``lasts_from`` says whether that
    is the member's own figure, the species', or taken for what nothing predicts.
    """

    variety: Variety
    lots: tuple[OwnLot, ...]
    lasts: int
    lasts_from: str  # "own", "species" or "assumed"

    @property
    def best(self) -> OwnLot:
        return max(self.lots, key=lambda lot: (lot.good_until, lot.lot.pk))

    @property
    def good_until(self) -> int:
        return self.best.good_until


@dataclass(frozen=True)
class Kept:
    """What is kept at home: what a rotation is made for, and what it leaves out."""

    varieties: tuple[OwnVariety, ...]
    hybrids: tuple[Variety, ...]  # their seed does not breed true
    left_out: int = 0  # beyond what is planned at once
    cannot_be: tuple[Lot, ...] = ()  # lots of which the record cannot be


def kept_by(plan: SavingPlan, *, on: dt.date) -> Kept:
    """The varieties of which the garden's member keeps seed at home, as of a day."""
    lots, left_out = _lots_of(plan.garden.member)
    shelf = Shelf(on)
    known = shelf.known_of(lots)
    own_years = _own_years(plan, {lot.variety_id for lot in lots})
    season, _whose = seasons.season_of(plan.garden)
    by_variety: dict[int, list[Known]] = defaultdict(list)
    for one in known:
        by_variety[one.lot.variety_id].append(one)
    hybrids = [
        ones[0].lot.variety
        for ones in by_variety.values()
        if ones[0].lot.variety.breeding_status == BreedingStatus.F1
    ]
    varieties = [
        _own_variety(plan, ones, season, shelf.rules.standard_percent / 100, own_years)
        for ones in by_variety.values()
        if ones[0].lot.variety.breeding_status != BreedingStatus.F1
    ]
    varieties.sort(key=lambda each: (each.good_until, each.variety.folded_name))
    told = {one.lot.pk for one in known}
    return Kept(
        tuple(varieties[:MOST_VARIETIES]),
        tuple(hybrids),
        left_out + len(varieties[MOST_VARIETIES:]),
        tuple(lot for lot in lots if lot.pk not in told),
    )


def _lots_of(member: Member) -> tuple[list[Lot], int]:
    own = Lot.objects.kept_here().with_seed().filter(custodian=member)
    rows = own.with_variety().order_by("variety__folded_name", "pk")
    lots = list(rows[: MOST_LOTS + 1])
    return lots[:MOST_LOTS], max(0, len(lots) - MOST_LOTS)


def _own_years(plan: SavingPlan, varieties: Iterable[int]) -> Mapping[int, int]:
    """How long seed keeps as the member wrote it: on this list first, else on a newer one."""
    rows = SavedVariety.objects.of(plan.garden.member).filter(
        variety__in=set(varieties), keeps_years__isnull=False
    )
    told = rows.order_by("plan__year", "pk").values_list("variety", "plan", "keeps_years")
    # Later rows take the place of earlier ones.
    in_order = sorted(told, key=lambda row: row[1] == plan.pk)
    return {variety: years for variety, _plan, years in in_order if years is not None}


def _own_variety(
    plan: SavingPlan,
    known: list[Known],
    season: GardenSeason | None,
    standard: float,
    own_years: Mapping[int, int],
) -> OwnVariety:
    variety = known[0].lot.variety
    sowing = _SowingDays(variety, season)
    level = plan.chance_percent / 100
    lots = tuple(_own_lot(plan, one, level, sowing) for one in known)
    if variety.pk in own_years:
        return OwnVariety(variety, lots, own_years[variety.pk], "own")
    best = max(lots, key=lambda lot: (lot.good_until, lot.lot.pk))
    of_best = next(one for one in known if one.lot.pk == best.lot.pk)
    if of_best.record is None:
        return OwnVariety(variety, lots, 1, "assumed")
    lasts = _new_seed_lasts(of_best, standard, level, sowing, plan.year)
    return OwnVariety(variety, lots, lasts, "species")


class _SowingDays:
    """The usual day on which a variety is sown in a garden, in any year."""

    def __init__(self, variety: Variety, season: GardenSeason | None) -> None:
        self.variety, self.season = variety, season
        self._days: dict[int, dict[Step, dt.date]] = {}

    def sown(self, year: int) -> dt.date:
        return self._of(year)[Step.SOWN]

    def harvested(self, year: int) -> dt.date:
        """Of what was sown in the year."""
        return self._of(year)[Step.HARVESTED]

    def _of(self, year: int) -> dict[Step, dt.date]:
        if year not in self._days:
            steps = steps_of(
                life_cycle=LifeCycle(self.variety.crop.life_cycle),
                garden=self.season,
                year=year,
                days_to_maturity=seasons.days_to_maturity(self.variety),
            )
            self._days[year] = {one.step: one.on for one in steps}
        return self._days[year]

    def last_good(self, falls_on: dt.date | None, first: int) -> int:
        """The last year whose sowing day a day has not passed; from a year before the first."""
        if falls_on is None:
            return first + FAR_YEARS
        years = range(first, first + FAR_YEARS + 1)
        good = [year for year in years if self.sown(year) <= falls_on]
        return max(good, default=first - 1)


def _own_lot(plan: SavingPlan, one: Known, level: float, sowing: _SowingDays) -> OwnLot:
    if one.record is None:
        harvest = one.lot.harvest_year or one.lot.received_on.year
        cannot = one.viability.cannot
        return OwnLot(one.lot, harvest + 1, None, cannot.key if cannot else "")
    falls_on = estimated(one).falls_on(level)
    return OwnLot(one.lot, sowing.last_good(falls_on, plan.year), falls_on)


def estimated(one: Known) -> LotViability:
    """A lot's viability, worked out; as it is of a lot that nothing can predict."""
    from library.science.posterior import estimate_from

    if one.record is None:
        return one.viability
    found = estimate_from(one.record, standard=one.viability.standard)
    return replace(one.viability, estimate=found)


def _new_seed_lasts(
    one: Known, standard: float, level: float, sowing: _SowingDays, year: int
) -> int:
    """Years after that of its harvest in which seed grown now would be good to sow, at least 1.

    It is taken to lie where the lot lies now, from the day of its harvest.
    """
    from library.science.posterior import LotRecord, estimate_from

    if one.record is None:
        raise ValueError(f"Lot {one.lot.number} cannot be predicted.")
    last = one.viability.history.stretches[-1]
    place = Stretch(
        days=1, temperature_c=last.temperature_c, moisture_percent=last.moisture_percent
    )
    longevity = one.record.longevity
    fresh = LotRecord(longevity=longevity, curve=longevity.expected_loss((place,)))
    days = estimate_from(fresh, standard=standard).day_chance_falls_to(level)
    harvested = sowing.harvested(year)
    harvest_year = year + seasons_bound(sowing.variety) - 1
    latest = (dt.date.max - harvested).days
    falls_on = None if days > latest else harvested + dt.timedelta(days=int(days))
    return max(1, sowing.last_good(falls_on, harvest_year + 1) - harvest_year)
