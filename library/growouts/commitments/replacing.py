"""Who could still grow a variety whose crop failed, in the same season."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from accounts.models import Community
from library.catalogue.models import SpeciesFigure, Variety
from library.growouts.experience import Experience, experience_of
from library.growouts.models import Commitment, GardenOffer, Season
from library.growouts.plans.given import days_needed, room_needed
from library.lending.services.growouts import seeds_here
from library.lending.services.seasons import days_to_maturity
from library.science.autumn import planting_from
from library.science.calendar import GardenSeason, LifeCycle, stands_over_winter
from library.science.growout_calendar import LATE_START_DAYS
from library.stock.models import Isolation

NO_END = 365  # days, where no frost sets the end


@dataclass(frozen=True)
class Candidate:
    """A garden that is offered and could still take it: days left, room left, and how sure its
    grower is. ``technique`` keeps it from crossing.
    """

    garden_offer: GardenOffer
    technique: str
    days_left: int
    room_left: float
    experience: Experience

    @property
    def garden(self):
        return self.garden_offer.garden


@dataclass(frozen=True)
class Replacement:
    """What the season still allows; empty ``candidates`` with the reason why."""

    days_needed: int
    room_m2: float
    seeds: int
    candidates: tuple[Candidate, ...]


def replacement_for(failed: Commitment, *, on: dt.date, most: int = 10) -> Replacement:
    """Gardens that could take over a failed grow-out from today on, the surest grower first.

    A garden qualifies with enough days before its autumn frost, room that nothing promised
    takes, a grower who wants one more and was not asked for this variety yet, and a technique
    where the species crosses: distance is for the plan to judge, which looks at everybody.
    """
    variety = failed.variety
    need, room = days_needed(variety), room_needed(variety, failed.plants)
    seeds = seeds_here(variety)
    if not seeds or failed.season.is_over:
        return Replacement(need, room, seeds, ())
    found = candidates_for(season=failed.season, variety=variety, plants=failed.plants, on=on)
    return Replacement(need, room, seeds, tuple(found[:most]))


def candidates_for(
    *, season: Season, variety: Variety, plants: int | None, on: dt.date
) -> list[Candidate]:
    """Gardens of a season that could take a variety from today on, the surest grower first."""
    need, room = days_needed(variety), room_needed(variety, plants)
    offers = GardenOffer.objects.standing(season).select_related("offer__member", "garden")
    bound = _bound(season)
    asked = set(
        Commitment.objects.filter(season=season, variety=variety).values_list(
            "grower", flat=True
        )
    )
    rows = [row for row in offers if row.offer.member_id not in asked]
    known = experience_of({row.offer.member_id for row in rows}, on=on)
    crosses, usual = _crosses(variety), Community.current().season
    found = []
    for row in rows:
        frosts = row.garden.season or usual
        days = _days_left(frosts, season.year, on)
        if days < need or _too_late_to_plant(variety, frosts, season.year, on):
            continue
        experience = known[row.offer.member_id]
        candidate = _candidate(row, days, room, bound, crosses, experience)
        if candidate is not None:
            found.append(candidate)
    return sorted(found, key=lambda c: (-c.experience.mean, -c.days_left, c.garden.pk))


def _candidate(row, days, room, bound, crosses, experience) -> Candidate | None:
    promised = bound.get(row.offer.member_id, 0)
    left = float(row.room_m2) - bound.get(("garden", row.garden_id), 0.0)
    technique = _technique(row, crosses)
    if promised >= row.offer.most or left < room or technique is None:
        return None
    return Candidate(row, technique, days, left, experience)


def _days_left(season: GardenSeason | None, year: int, on: dt.date) -> int:
    """Days from a sowing two weeks on to the autumn frost; a year where none sets the end."""
    if season is None or season.frost_free:
        return NO_END
    starts, ends = season.of_year(year)
    return (ends - max(on + dt.timedelta(days=LATE_START_DAYS), starts)).days


def _too_late_to_plant(
    variety: Variety, frosts: GardenSeason | None, year: int, on: dt.date
) -> bool:
    """What stands over winter is planted by the last frost of spring, if not before."""
    cycle, days = LifeCycle(variety.crop.life_cycle), days_to_maturity(variety)
    if frosts is None or frosts.frost_free or not stands_over_winter(cycle, days):
        return False
    return planting_from(frosts, year, on + dt.timedelta(days=LATE_START_DAYS)) is None


def _technique(row: GardenOffer, crosses: str) -> str | None:
    if not crosses:
        return Isolation.DISTANCE
    if row.can_bag:
        return Isolation.BAG
    if row.can_pollinate_by_hand:
        return Isolation.HAND_POLLINATION
    return Isolation.CAGE if row.can_cage and crosses != "wind" else None


def _crosses(variety) -> str:
    """How its pollen travels; empty where no distance is needed."""
    pollination = variety.crop.species.pollination
    if pollination in ("clonal", "self") or variety.crop.life_cycle == LifeCycle.CLONAL:
        return ""
    figure = SpeciesFigure.objects.filter(
        species=variety.crop.species_id, quantity=SpeciesFigure.Quantity.ISOLATION_HOME_M
    ).first()
    far = figure is not None and figure.number is not None and figure.number > 10
    return pollination if far else ""


def _bound(season) -> dict:
    """Varieties that each grower has promised, and room that each garden has given away."""
    bound: dict = {}
    rows = Commitment.objects.open().filter(season=season).select_related("variety__crop")
    for row in rows:
        bound[row.grower_id] = bound.get(row.grower_id, 0) + 1
        key = ("garden", row.garden_id)
        bound[key] = bound.get(key, 0.0) + room_needed(row.variety, row.plants)
    return bound
