"""When to plant what stands in the ground over winter, such as garlic.

It goes in after the first frost of the autumn before, so that it roots but hardly sprouts, and
is lifted in the summer that the season is called after. Where that autumn is past, it goes in
by the last frost of the spring. All of it is common practice, no source: none of our reference
tables says when cloves are planted.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from library.science.seasons import GardenSeason

OVER_WINTER_DAYS = 200  # a clone that takes as long or longer was planted in autumn
AFTER_FROST_DAYS = 14  # from the first frost, the usual day
AUTUMN_DAYS = 28  # more, until the ground is taken to be frozen
SPRING_DAYS = 28  # before the last frost, when the ground can be worked again
UNKNOWN_PLANTED_BY = (10, 31)  # of the year before, where nobody said when it freezes


class When(StrEnum):
    """Before or after the winter."""

    AUTUMN = "autumn"
    SPRING = "spring"


@dataclass(frozen=True)
class Planting:
    """The day on which to plant, and the days around it that will do."""

    when: When
    on: date
    opens: date
    closes: date


def autumn_planting(garden: GardenSeason, year: int) -> Planting:
    """Return when to plant before the winter, for the season of a year.

    Two weeks after the first frost of the autumn before, within six of it, and never after the
    last frost of the spring. For gardens with frost. Units: days. Source: common practice, no
    source.
    """
    frost, spring = garden.of_year(year - 1)[1], garden.of_year(year)[0]
    usual = min(frost + timedelta(days=AFTER_FROST_DAYS), spring)
    closes = min(usual + timedelta(days=AUTUMN_DAYS), spring)
    return Planting(When.AUTUMN, usual, frost, closes)


def planting_from(garden: GardenSeason, year: int, ready_on: date | None) -> Planting | None:
    """Return when to plant for the season of a year with cloves that are there from a day on.

    In autumn while that lasts, else by the last frost of the spring; None when that is past
    too. ``ready_on`` None for always. Source: common practice, no source.
    """
    autumn = autumn_planting(garden, year)
    if ready_on is None or ready_on <= autumn.closes:
        on = autumn.on if ready_on is None else max(ready_on, autumn.on)
        return Planting(When.AUTUMN, on, autumn.opens, autumn.closes)
    spring = garden.of_year(year)[0]
    if ready_on > spring:
        return None
    opens = max(autumn.closes, spring - timedelta(days=SPRING_DAYS))
    return Planting(When.SPRING, spring, opens, spring)
