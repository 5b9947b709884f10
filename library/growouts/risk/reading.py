"""Each variety's chance of being lost, read for all of them in a few queries.

The model is `science.risk`; what it is given is here: who keeps what and how sure it is to be
alive at the end of the years looked at, which grow-outs were promised, and whether the variety
can be had elsewhere. Open loans are told beside it and counted for nothing: what was lent for
sowing is seed that its keeper means to use up.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Exists, Max, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from library.catalogue.models import BreedingStatus, Crop, Variety
from library.growouts.experience import experience_of
from library.growouts.models import Commitment, Elsewhere, GrowOutRules
from library.growouts.risk.elsewhere import chance_elsewhere, newest_records
from library.growouts.risk.lots import LotLeft, lots_left
from library.lending.models import Loan
from library.lending.services.reserve import Population, Reserve, reserves_of
from library.science.risk import (
    Helped,
    Holding,
    Risk,
    Situation,
    chance_of_loss,
    what_would_help,
)
from library.stock.models import Growing, Lot


@dataclass(frozen=True)
class Promised:
    """A grow-out that somebody promised, and the chance (0 to 1) that it gives seed."""

    commitment: Commitment
    success: float


@dataclass(frozen=True, kw_only=True)
class AtRisk:
    """A variety, its chance of being lost, and everything that went into it."""

    variety: Variety
    situation: Situation
    risk: Risk
    reserve: Reserve
    lots: tuple[LotLeft, ...] = ()
    growing: tuple[Promised, ...] = ()
    elsewhere: Elsewhere | None = None
    loans_out: int = 0
    newest_harvest_year: int | None = None
    last_grown_year: int | None = None
    usual_success: float = 0.7
    tested: tuple[tuple[float, float], ...] = ()  # see risk.testing

    @property
    def lost(self) -> float:
        """The chance, 0 to 1, that it is lost within the years looked at."""
        return self.risk.lost

    @property
    def can_be_regrown(self) -> bool:
        """Whether its own seed gives it again: a first-generation hybrid's does not."""
        return self.variety.breeding_status != BreedingStatus.F1

    @property
    def years(self) -> float:
        """How far it is looked ahead."""
        return self.situation.years

    @property
    def best_lot(self) -> LotLeft | None:
        """The lot that is surest to be good at the end: the one a test would be made of."""
        return max(self.lots, key=lambda one: (one.alive, one.lot.number), default=None)

    @property
    def population(self) -> Population:
        """The plants that keep it, and who says so."""
        return self.reserve.population

    @property
    def custodians(self) -> list[str]:
        """The names of who keeps seed of it; for the library its places, for the desk."""
        return sorted({lot.custodian_name or _("the library") for lot in self.lots})

    @property
    def living_seeds(self) -> tuple[int, int, int]:
        """Seeds alive today: low, median and high, added up over the lots."""
        each = [lot.living for lot in self.lots]
        low, median, high = (
            (sum(column) for column in zip(*each, strict=True)) if each else (0, 0, 0)
        )
        return low, median, high

    @property
    def reserve_short(self) -> int:
        """Seeds that are missing to regrow it as often as the library means to."""
        return max(0, self.reserve.seeds - self.reserve.have)

    @property
    def help(self) -> list[Helped]:
        """What would lower the chance most, the best first; nothing for a hybrid.

        A test is among them once ``risk.testing`` was asked what it may show. Where nothing
        is likely to be alive there is nothing to sow, and no grower helps.
        """
        if not self.can_be_regrown:
            return []
        success = self.usual_success if self.can_be_sown else 0.0
        return what_would_help(self.situation, success=success, tested=self.tested)

    @property
    def can_be_sown(self) -> bool:
        """Whether, as likely as not, a seed is alive here that a grower could be given."""
        return self.living_seeds[1] >= 1


def of_concern(on: dt.date) -> QuerySet:
    """The varieties that could be lost: of which seed is or was here, that somebody grows or
    asked after elsewhere, or that are rare.

    A first-generation hybrid cannot be kept by growing it, so it is not among them.
    """
    lots = Lot.objects.filter(variety=OuterRef("pk"))
    told = Elsewhere.objects.filter(variety=OuterRef("pk"))
    return Variety.objects.exclude(breeding_status=BreedingStatus.F1).filter(
        Q(is_rare=True) | Exists(lots) | Exists(told)
    )


def at_risk(
    *, on: dt.date, varieties: Iterable[Variety] | None = None, years: float | None = None
) -> list[AtRisk]:
    """Every variety that could be lost, the likeliest first.

    ``varieties`` narrows it; ``years`` looks ahead so far instead of as the rules say.
    """
    found = situations(on=on, varieties=varieties, years=years).values()
    return sorted(found, key=lambda one: (-one.lost, one.variety.folded_name, one.variety.pk))


def chances_of_loss(
    *, on: dt.date, varieties: Iterable[Variety] | None = None, years: float | None = None
) -> dict[int, float]:
    """By variety the chance, 0 to 1, that it is lost within the years looked at."""
    found = situations(on=on, varieties=varieties, years=years)
    return {key: one.lost for key, one in found.items()}


def situations(
    *,
    on: dt.date,
    varieties: Iterable[Variety] | None = None,
    years: float | None = None,
    without_season: int | None = None,
) -> dict[int, AtRisk]:
    """By variety what is known of it; a few queries for all.

    ``without_season`` leaves out what was promised in the season of that key: the plan of a
    season asks what is lost if nobody grows.
    """
    rules = GrowOutRules.current()
    rows = _varieties(of_concern(on) if varieties is None else varieties)
    by_key = {variety.pk: variety for variety in rows}
    keys = list(by_key)
    ahead = float(rules.horizon_years if years is None else years)
    reserves = reserves_of(rows)
    needed = {pk: one.population.plants for pk, one in reserves.items()}
    lots = lots_left(by_key, needed, on=on, years=ahead)
    growing = _promised(keys, on=on, without_season=without_season)
    elsewhere, out = newest_records(keys, on=on), _loans_out(keys)
    grown = _last_grown(keys)
    found = {}
    for variety in rows:
        pk = variety.pk
        situation = Situation(
            holdings=tuple(
                Holding(key=one.lot.number, custodian=one.custodian, alive=one.alive)
                for one in lots.get(pk, ())
            ),
            growing=tuple(one.success for one in growing[pk]),
            elsewhere=chance_elsewhere(elsewhere.get(pk), on=on),
            hazard=float(rules.yearly_hazard_percent) / 100,
            years=ahead,
        )
        found[pk] = AtRisk(
            variety=variety,
            situation=situation,
            risk=chance_of_loss(situation),
            reserve=reserves[pk],
            lots=tuple(lots.get(pk, ())),
            growing=tuple(growing[pk]),
            elsewhere=elsewhere.get(pk),
            loans_out=out.get(pk, 0),
            newest_harvest_year=_newest(lots.get(pk, ())),
            last_grown_year=grown.get(pk),
            usual_success=rules.usual_success_percent / 100,
        )
    return found


def _varieties(rows: Iterable[Variety]) -> list[Variety]:
    """Each with its crop and species; joined in memory, since a library has few of those."""
    if not isinstance(rows, QuerySet):
        return list(rows)
    varieties = list(rows)
    wanted = {variety.crop_id for variety in varieties}
    crops = Crop.objects.select_related("species").in_bulk(wanted)
    for variety in varieties:
        variety.crop = crops[variety.crop_id]
    return varieties


def _promised(
    varieties: list[int], *, on: dt.date, without_season: int | None
) -> dict[int, list[Promised]]:
    rows = Commitment.objects.growing().filter(variety__in=varieties)
    if without_season is not None:
        rows = rows.exclude(season=without_season)
    found = list(rows.select_related("grower", "season").order_by("pk"))
    chances = experience_of({row.grower_id for row in found}, on=on) if found else {}
    promised: dict[int, list[Promised]] = defaultdict(list)
    for row in found:
        promised[row.variety_id].append(Promised(row, chances[row.grower_id].mean))
    return promised


def _loans_out(varieties: list[int]) -> dict[int, int]:
    rows = Loan.objects.open().filter(packet__lot__variety__in=varieties).order_by()
    counted = rows.values("packet__lot__variety").annotate(n=Count("pk"))
    return dict(counted.values_list("packet__lot__variety", "n"))


def _last_grown(varieties: list[int]) -> dict[int, int | None]:
    """By variety the year in which it was last grown, as far as anybody wrote it down."""
    grown = (
        Growing.objects.filter(lot__variety__in=varieties)
        .order_by()
        .values("lot__variety")
        .annotate(year=Max("lot__harvest_year"))
    )
    return dict(grown.values_list("lot__variety", "year"))


def _newest(lots: Iterable[LotLeft]) -> int | None:
    """The newest harvest of seed that is left; None where nobody knows."""
    years = (one.lot.harvest_year for one in lots)
    return max((year for year in years if year is not None), default=None)
