"""A garden's frost dates, the crop's life cycle, and the day a loan is due."""

from __future__ import annotations

import datetime as dt

from accounts.models import Community, Garden, Member
from library.catalogue.models import Variety
from library.lending.models import LendingRules
from library.science import calendar
from library.science.calendar import DueDate, GardenSeason, LifeCycle

THEIR_GARDEN, THE_COMMUNITY, NOBODY = "garden", "community", "unknown"


def garden_of(member: Member, chosen: Garden | None) -> Garden | None:
    """The garden that was chosen, else the member's default one."""
    if chosen is not None:
        return chosen
    return member.gardens.filter(is_default=True).first()


def season_of(garden: Garden | None) -> tuple[GardenSeason | None, str]:
    """The season of a garden, else the community's; and whose frost dates they are."""
    if garden is not None and (season := garden.season) is not None:
        return season, THEIR_GARDEN
    if (season := Community.current().season) is not None:
        return season, THE_COMMUNITY
    return None, NOBODY


def due_date(
    *, variety: Variety, garden: Garden | None, on: dt.date, rules: LendingRules | None = None
) -> DueDate:
    """When seed of a packet lent on ``on`` is due, by the crop's life cycle."""
    season, _whose = season_of(garden)
    return calendar.loan_due(
        lent_on=on,
        life_cycle=LifeCycle(variety.crop.life_cycle),
        garden=season,
        days_to_maturity=days_to_maturity(variety),
        grace_days=(rules or LendingRules.current()).grace_days,
    )


def days_to_maturity(variety: Variety) -> int | None:
    """The card's figure, at most what the calendar takes (400 days)."""
    days = variety.days_to_maturity
    return None if days is None else min(days, 400)
