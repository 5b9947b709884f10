"""When to look again at what no equation of dry seed can predict: tubers, cloves and slips, and
seed that does not survive drying or cold.
"""

from __future__ import annotations

from datetime import date, timedelta

from library.science.dates import add_years, checked_day
from library.science.germination import RetestAdvice, first_test_due
from library.science.reasons import COMMON_PRACTICE, because

# Common practice, no source:
CLONAL_YEARS = 1.0  # planted again each season
LOOK_AGAIN_DAYS = 90  # what is kept beyond its time
NOT_ORTHODOX = ("recalcitrant", "intermediate")


def keeps_dry(storage_behaviour: str) -> bool:
    """Return whether seed of this storage behaviour keeps dry and cold, or nobody says no.

    Source: the three classes of Roberts 1973 and Ellis, Hong & Roberts 1990 (from memory).
    """
    return storage_behaviour.strip().lower() not in NOT_ORTHODOX


def clonal_check(
    *, stored_on: date, received_on: date, tested_on: date | None, first_within_days: int
) -> RetestAdvice:
    """Return the day by which tubers, cloves or slips must be looked at (again).

    The first time within so many days of receipt (1 to 365), and at the latest a year after
    harvest, when clonal stock is to be planted again; after that every 90 days, with the advice
    to plant it. Raises ValueError for days that cannot be meant. Source: common practice, no
    source.
    """
    season_ends = add_years(checked_day(stored_on), CLONAL_YEARS)
    if tested_on is None:
        first = first_test_due(received_on=received_on, within_days=first_within_days)
        if first.due_on <= season_ends:
            return first
        return _clonal("clonal_season", max(season_ends, received_on), None)
    if checked_day(tested_on) < season_ends:
        return _clonal("clonal_season", season_ends, tested_on)
    return _clonal("clonal_overdue", tested_on + timedelta(days=LOOK_AGAIN_DAYS), tested_on)


def _clonal(key: str, due_on: date, tested_on: date | None) -> RetestAdvice:
    why = because(key, COMMON_PRACTICE, due_on=due_on, tested_on=tested_on)
    return RetestAdvice(due_on, why, key == "clonal_overdue")


def not_orthodox_check(
    *, storage_behaviour: str, received_on: date, tested_on: date | None, first_within_days: int
) -> RetestAdvice:
    """Return the day by which seed that does not keep dry and cold must be tested (again).

    Within 90 days of its newest test, or of receipt when that is sooner than the first test's
    days (1 to 365). Raises ValueError for days that cannot be meant. Source: common practice,
    no source.
    """
    if tested_on is None and first_within_days <= LOOK_AGAIN_DAYS:
        return first_test_due(received_on=received_on, within_days=first_within_days)
    since = checked_day(tested_on or received_on)
    due_on = since + timedelta(days=LOOK_AGAIN_DAYS)
    why = because(
        "not_orthodox",
        COMMON_PRACTICE,
        due_on=due_on,
        tested_on=tested_on,
        storage_behaviour=storage_behaviour,
    )
    return RetestAdvice(due_on, why)
