"""The steps of a grow-out, each with the day by which it is expected in a garden.

All of it is common practice without a source, except what the calendar's own rules say: when to
sow and when seed is ripe.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from library.science.autumn import UNKNOWN_PLANTED_BY, When, planting_from
from library.science.calendar import (
    DEFAULT_DAYS_TO_MATURITY,
    FIRST_YEAR_DAYS,
    GRACE_DAYS,
    SEED_RIPENING_DAYS,
    SOWING_WAIT_DAYS,
    GardenSeason,
    LifeCycle,
    seed_ripe,
    stands_over_winter,
)
from library.science.dates import checked_year
from library.science.reasons import COMMON_PRACTICE, Reason, because

SOWING_DAYS = 14  # from the last frost, to have sown
STAND_DAYS = 28  # from sowing, until what came up can be counted
FLOWERING_DAYS = 60  # before seed is ripe
ROGUING_DAYS = 7  # before flowering: off-types go before they shed pollen
CLEANING_DAYS = 30  # from harvest
LATE_START_DAYS = 14  # to sow, for who promised after the usual day
UNKNOWN_SOWN_BY = (6, 30)  # where nobody said when it freezes


class Step(StrEnum):
    """What a grower reports, in this order."""

    SOWN = "sown"
    STAND = "stand"
    ROGUED = "rogued"
    ISOLATED = "isolated"
    HARVESTED = "harvested"
    CLEANED = "cleaned"
    RETURNED = "returned"


@dataclass(frozen=True)
class StepDay:
    """A step, the day by which it is expected, and why."""

    step: Step
    on: date
    why: Reason


def steps_of(
    *,
    life_cycle: LifeCycle,
    garden: GardenSeason | None,
    year: int,
    days_to_maturity: int | None = None,
    not_before: date | None = None,
    grace_days: int = GRACE_DAYS,
) -> list[StepDay]:
    """Return the steps of a grow-out in the season of a year, in order of their days.

    ``garden`` is None where nobody said when it freezes; ``not_before`` is the day of the
    promise, for one that came late. A clonal crop has no flowers to isolate; one that stands
    over winter begins in the autumn of the year before. Units: days. Raises ValueError for a
    year that no calendar holds. Source: common practice, no source.
    """
    checked_year(year)
    sown = _sown(life_cycle, garden, year, days_to_maturity, not_before)
    ripe = seed_ripe(
        sown_on=sown.on,
        life_cycle=life_cycle,
        garden=garden,
        days_to_maturity=None if days_to_maturity is None else min(days_to_maturity, 1000),
    ).ripe_on
    stand = _stand(sown, ripe, garden, year)
    flowering = max(ripe - timedelta(days=FLOWERING_DAYS), stand.on)
    rogued = max(flowering - timedelta(days=ROGUING_DAYS), stand.on)
    steps = [
        sown,
        stand,
        _told(Step.ROGUED, rogued, flowering_on=flowering, days=ROGUING_DAYS),
        _told(Step.ISOLATED, flowering, ripe_on=ripe, days=FLOWERING_DAYS),
        _told(Step.HARVESTED, ripe, sown_on=sown.on, ripe_on=ripe),
        _after(Step.CLEANED, ripe, CLEANING_DAYS),
        _after(Step.RETURNED, ripe, max(grace_days, CLEANING_DAYS)),
    ]
    if life_cycle is LifeCycle.CLONAL:
        return [one for one in steps if one.step is not Step.ISOLATED]
    return steps


def _sown(
    life_cycle: LifeCycle,
    garden: GardenSeason | None,
    year: int,
    days_to_maturity: int | None,
    not_before: date | None,
) -> StepDay:
    if stands_over_winter(life_cycle, days_to_maturity):
        planted = _planted(garden, year, not_before)
        if planted is not None:
            return planted
    if garden is None:
        usual, key = date(year, *UNKNOWN_SOWN_BY), "milestone_sown_unknown"
    elif garden.frost_free:
        usual = garden.of_year(year)[0] + timedelta(days=SOWING_WAIT_DAYS)
        key = "milestone_sown_any_time"
    else:
        usual, key = _before_winter(life_cycle, garden, year, days_to_maturity)
    if not_before is not None and usual < not_before + timedelta(days=LATE_START_DAYS):
        late = not_before + timedelta(days=LATE_START_DAYS)
        why = because("milestone_sown_late", COMMON_PRACTICE, promised_on=not_before)
        return StepDay(Step.SOWN, late, why)
    frost = None if garden is None or garden.frost_free else garden.of_year(year)[0]
    return StepDay(Step.SOWN, usual, because(key, COMMON_PRACTICE, last_frost=frost))


def _planted(garden: GardenSeason | None, year: int, not_before: date | None) -> StepDay | None:
    """The planting of what stands over winter; None where no winter sets the time, and where
    it is too late for it.
    """
    if garden is not None and garden.frost_free:
        return None
    ready_on = None if not_before is None else not_before + timedelta(days=LATE_START_DAYS)
    if garden is None:
        usual = date(year - 1, *UNKNOWN_PLANTED_BY)
        if ready_on is not None and ready_on > usual:
            return None
        return _told(Step.SOWN, usual, key="milestone_sown_autumn_unknown")
    found = planting_from(garden, year, ready_on)
    if found is None:
        return None
    autumn, spring = garden.of_year(year - 1)[1], garden.of_year(year)[0]
    if found.when is When.AUTUMN and found.on != ready_on:
        return _told(Step.SOWN, found.on, key="milestone_sown_autumn", first_frost=autumn)
    key = "milestone_sown_spring" if found.when is When.SPRING else "milestone_sown_late"
    return _told(Step.SOWN, found.on, key=key, promised_on=not_before, last_frost=spring)


def _stand(sown: StepDay, ripe: date, garden: GardenSeason | None, year: int) -> StepDay:
    """Four weeks after sowing; where winter lies between, once that is past. What is sown so
    late that frost ends it soon is counted by then.
    """
    if garden is not None and not garden.frost_free:
        autumn, spring = garden.of_year(year - 1)[1], garden.of_year(year)[0]
        if autumn < sown.on < spring:
            on = min(max(spring, sown.on + timedelta(days=STAND_DAYS)), ripe)
            return _told(Step.STAND, on, key="milestone_stand_spring", last_frost=spring)
    return _after(Step.STAND, sown.on, min(STAND_DAYS, (ripe - sown.on).days))


def _before_winter(
    life_cycle: LifeCycle, garden: GardenSeason, year: int, days_to_maturity: int | None
) -> tuple[date, str]:
    """Two weeks after the last frost; a biennial may wait as long as it still grows 90 days."""
    starts, ends = garden.of_year(year)
    around = starts + timedelta(days=SOWING_DAYS)
    if life_cycle in (LifeCycle.BIENNIAL, LifeCycle.PERENNIAL):
        return max(starts, ends - timedelta(days=FIRST_YEAR_DAYS)), "milestone_sown_first_year"
    maturity = DEFAULT_DAYS_TO_MATURITY if days_to_maturity is None else days_to_maturity
    ripening = 0 if life_cycle is LifeCycle.CLONAL else SEED_RIPENING_DAYS
    latest = ends - timedelta(days=maturity + ripening)
    return max(starts, min(around, latest)), "milestone_sown"


def _after(step: Step, day: date, days: int) -> StepDay:
    return _told(step, day + timedelta(days=days), days=days)


def _told(step: Step, day: date, *, key: str = "", **inputs: object) -> StepDay:
    rule = key or f"milestone_{step.value}"
    why = because(rule, COMMON_PRACTICE, **inputs)  # type: ignore[arg-type]
    return StepDay(step, day, why)
