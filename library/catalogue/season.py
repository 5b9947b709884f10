"""Which varieties ripen seed in the season that a member's garden has."""

from __future__ import annotations

from django.db.models import Q

from accounts.models import Community
from library.catalogue.models import LifeCycle
from library.science.autumn import OVER_WINTER_DAYS
from library.science.calendar import (
    FIRST_YEAR_DAYS,
    SEED_RIPENING_DAYS,
    GardenSeason,
    growing_days,
    suits_season,
)


def season_for(member) -> GardenSeason | None:
    """The season of the member's default garden, else the community's; None when nobody has
    said when the frosts are.
    """
    garden = None
    if member.is_authenticated:
        garden = member.gardens.filter(is_default=True).first()
    return (garden and garden.season) or Community.current().season


def fits(season: GardenSeason) -> Q:
    """The varieties that fit a season, as a condition for the database.

    An annual must be fit to eat and then ripen its seed before the frost. What is replanted, or
    seeds in a later year, need only be ready to eat; what stands over winter needs only the
    warm months until it is lifted. A variety whose days to maturity nobody
    wrote down is not known to fit.
    """
    if season.frost_free:
        return Q(days_to_maturity__isnull=False)
    annual = Q(crop__life_cycle=LifeCycle.ANNUAL)
    found = (annual & Q(days_to_maturity__lte=_most_days(season, SEED_RIPENING_DAYS))) | (
        ~annual & Q(days_to_maturity__lte=_most_days(season, 0))
    )
    if growing_days(season) >= FIRST_YEAR_DAYS:
        clonal = Q(crop__life_cycle=LifeCycle.CLONAL)
        found |= clonal & Q(days_to_maturity__gte=OVER_WINTER_DAYS)
    return found


def _most_days(season: GardenSeason, ripening: int) -> int:
    """The most days to maturity that the rule of the calendar lets into a season."""
    quickest = suits_season(days_to_maturity=1, garden=season, seed_ripening_days=ripening)
    return 1 + quickest.spare_days
