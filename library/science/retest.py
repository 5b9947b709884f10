"""The day by which a lot's viability must be tested again, from its estimate, and why."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from library.science.dates import DAYS_IN_YEAR, add_years, checked_day
from library.science.germination import (
    FAO,
    FROZEN_LONG_LIVED_YEARS,
    FROZEN_YEARS,
    LATEST_FIRST_TEST_DAYS,
    LONGEST_YEARS,
    UNKNOWN_YEARS,
    RetestAdvice,
    first_test_due,
)
from library.science.posterior import Estimate, check_level
from library.science.posterior_grid import ACT_BELOW_SHARE_OF_INITIAL
from library.science.reasons import COMMON_PRACTICE, Reason, Scalar, because

DEFAULT_LEVEL = 0.8
EVEN_CHANCE = 0.5
CHANCE_SOURCE = "this library's level of chance, applied to the lot's own estimate"
# Common practice, no source:
SOONEST_DAYS = 90  # between two tests, which both cost seed
TEST_TAKES_DAYS = 60  # before sowing: to germinate, to read, to sow more or find another lot
FRESH_DAYS = 180  # a test this long before sowing says enough
SURE_WITHIN = 0.25  # the widest 90 % band that still says how much to sow


@dataclass(frozen=True, kw_only=True)
class _Candidate:
    due_on: date
    key: str
    source: str


def regeneration_threshold(initial: float) -> float:
    """Return the viability below which a lot should be regrown: 85 % of its initial one.

    Units: fractions. Range: above 0 to 1. Raises ValueError outside it. Source: FAO Genebank
    Standards 2014, 4.3.4 (from memory).
    """
    if not 0 < initial <= 1:
        raise ValueError(f"An initial viability is above 0 and up to 1, not {initial:g}.")
    return ACT_BELOW_SHARE_OF_INITIAL * initial


def third_of_prediction(predicted_years: float) -> float:
    """Return the years to wait when viability is predicted to need so many to fall to 85 % of
    initial: a third, and never more than 40.

    Range: above 0. Raises ValueError outside it. Source: FAO Genebank Standards 2014, 4.3.3
    (from memory).
    """
    if not predicted_years > 0:
        raise ValueError(f"A predicted time is above 0 years, not {predicted_years:g}.")
    return min(predicted_years / 3, LONGEST_YEARS)


def why_regrow(estimate: Estimate, *, day: float) -> Reason | None:
    """Return why a lot should be regrown, or None while it need not be.

    It is when it has, more likely than not, fallen below the standard on a day of its storage
    (0 or later), or below 85 % of its initial viability. Raises ValueError for a day out of
    range. Source: FAO Genebank Standards 2014, 4.3.4 (from memory).
    """
    now = estimate.on(day)
    below_standard = now.chance_above < EVEN_CHANCE
    if not below_standard and not estimate.below_share_of_initial(day):
        return None
    return because(
        "regrow_below_standard" if below_standard else "regrow_below_initial",
        CHANCE_SOURCE if below_standard else f"{FAO}, 4.3.4 (from memory)",
        median_percent=round(100 * now.median, 1),
        low_percent=round(100 * now.low, 1),
        high_percent=round(100 * now.high, 1),
        chance_percent=round(100 * now.chance_above, 1),
        standard_percent=round(100 * estimate.standard, 1),
        initial_percent=round(100 * estimate.on(0).median, 1),
    )


def retest_day(
    *,
    estimate: Estimate,
    stored_on: date,
    received_on: date,
    tested_on: date | None,
    level: float = DEFAULT_LEVEL,
    sowing_on: date | None = None,
    first_within_days: int = LATEST_FIRST_TEST_DAYS,
    soonest_days: int = SOONEST_DAYS,
) -> RetestAdvice:
    """Return the day by which a lot must be tested (again), the rule that set it, and whether
    the lot should be regrown.

    ``stored_on`` is day 0 of the estimate, ``tested_on`` the day of the newest test or None,
    ``sowing_on`` the next grow-out that counts on the lot. The day is the earliest of:

    * the day on which the chance of being above the standard falls to ``level``;
    * a third of the predicted time to 85 % of initial after the newest test, where the species
      can be predicted at all; else 10 years when it is long-lived, 5 when not;
    * 40 years after it;
    * 60 days before a grow-out, when the 90 % band on that day is wider than 25 points or the
      chance is below ``level``, and the newest test is older than half a year by then.

    Nothing is tested twice within ``soonest_days``. A lot that is more likely than not below
    the standard is out of use, and tested within a year only if it is kept. ``regenerate`` says
    whether `why_regrow` has a reason. A lot never tested has its first test within
    ``first_within_days`` of receipt, earlier for a grow-out.

    Ranges: level strictly between 0 and 1; first_within_days and soonest_days 1 to 365;
    received on or after stored, tested on or after stored. Raises ValueError outside them.
    Source: FAO Genebank Standards 2014, 4.3.1, 4.3.3, 4.3.4 (the latter two from memory); the
    level, the 90 days and the grow-out rule are common practice, no source.
    """
    check_level(level)
    if not 1 <= soonest_days <= 365:
        raise ValueError(f"Two tests lie 1 to 365 days apart at least, not {soonest_days}.")
    for day in (received_on, tested_on):
        if checked_day(day or stored_on) < checked_day(stored_on):
            raise ValueError(
                f"A lot stored on {stored_on.isoformat()} cannot have been received or tested "
                f"on {day}; give the day on which its storage began."
            )
    if tested_on is None:
        return _first(estimate, stored_on, received_on, first_within_days, sowing_on, level)
    facts = _Facts(estimate, stored_on, tested_on, level, sowing_on, soonest_days)
    if facts.below_standard:
        return facts.advice(facts.confirm())
    earliest = min(facts.candidates(), key=lambda candidate: candidate.due_on)
    soonest = tested_on + timedelta(days=soonest_days)
    if earliest.due_on < soonest:
        earliest = _Candidate(due_on=soonest, key="retest_not_sooner", source=COMMON_PRACTICE)
    return facts.advice(earliest)


@dataclass(frozen=True)
class _Facts:
    """One lot, on the day of its newest test."""

    estimate: Estimate
    stored_on: date
    tested_on: date
    level: float
    sowing_on: date | None
    soonest_days: int

    @property
    def tested_day(self) -> int:
        return (self.tested_on - self.stored_on).days

    @property
    def below_standard(self) -> bool:
        return self.estimate.chance_above(self.tested_day) < EVEN_CHANCE

    @property
    def predicted_years(self) -> float:
        return self.estimate.days_to_share_of_initial() / DAYS_IN_YEAR

    @property
    def latest(self) -> date:
        return add_years(self.tested_on, LONGEST_YEARS)

    def candidates(self) -> list[_Candidate]:
        found = [self.by_fao()]
        if self.falls_on is not None:
            found.append(
                _Candidate(due_on=self.falls_on, key="retest_chance", source=CHANCE_SOURCE)
            )
        wanted = _before_sowing(
            self.estimate, self.stored_on, self.tested_on, self.sowing_on, self.level
        )
        return [*found, wanted] if wanted else found

    @property
    def falls_on(self) -> date | None:
        """The day on which the chance falls to the level; None when that is too far off."""
        days = self.estimate.day_chance_falls_to(self.level)
        if days > (self.latest - self.stored_on).days:
            return None
        return self.stored_on + timedelta(days=int(days))

    def by_fao(self) -> _Candidate:
        source = f"{FAO}, 4.3.3 (from memory)"
        if self.estimate.longevity.predictable:
            years = third_of_prediction(self.predicted_years)
            capped = years == LONGEST_YEARS
            key = "retest_longest" if capped else "retest_third_of_prediction"
        else:
            years, key = self.unpredicted_years, "retest_no_prediction"
        return _Candidate(due_on=add_years(self.tested_on, years), key=key, source=source)

    @property
    def unpredicted_years(self) -> float:
        return FROZEN_LONG_LIVED_YEARS if self.estimate.longevity.long_lived else FROZEN_YEARS

    def confirm(self) -> _Candidate:
        return _Candidate(
            due_on=add_years(self.tested_on, UNKNOWN_YEARS),
            key="retest_below_standard",
            source=COMMON_PRACTICE,
        )

    def advice(self, chosen: _Candidate) -> RetestAdvice:
        now = self.estimate.on(self.tested_day)
        inputs: dict[str, Scalar | date] = {
            "due_on": chosen.due_on,
            "tested_on": self.tested_on,
            "standard_percent": round(100 * self.estimate.standard, 1),
            "level_percent": round(100 * self.level, 1),
            "falls_on": self.falls_on,
            "predicted_years": round(self.predicted_years, 1),
            "years": _whole_years(chosen.key, self.unpredicted_years),
            "wait_days": self.soonest_days,
            "sowing_on": self.sowing_on,
            "median_percent": round(100 * now.median, 1),
            "low_percent": round(100 * now.low, 1),
            "high_percent": round(100 * now.high, 1),
            "chance_percent": round(100 * now.chance_above, 1),
            "longevity": self.estimate.longevity.known.value,
            "longevity_source": self.estimate.longevity.why.source,
        }
        why = because(chosen.key, chosen.source, **inputs)
        to_regrow = why_regrow(self.estimate, day=self.tested_day) is not None
        return RetestAdvice(chosen.due_on, why, to_regrow)


def _whole_years(key: str, unpredicted: float) -> float:
    return unpredicted if key == "retest_no_prediction" else LONGEST_YEARS


def _first(
    estimate: Estimate,
    stored_on: date,
    received_on: date,
    within_days: int,
    sowing_on: date | None,
    level: float,
) -> RetestAdvice:
    """The first test: within the months that are allowed, or before a grow-out."""
    within = first_test_due(received_on=received_on, within_days=within_days)
    wanted = _before_sowing(estimate, stored_on, None, sowing_on, level)
    if wanted is None or wanted.due_on >= within.due_on:
        return within
    due_on = max(wanted.due_on, received_on)
    why = because(wanted.key, wanted.source, due_on=due_on, sowing_on=sowing_on)
    return RetestAdvice(due_on, why)


def _before_sowing(
    estimate: Estimate,
    stored_on: date,
    tested_on: date | None,
    sowing_on: date | None,
    level: float,
) -> _Candidate | None:
    """The test that a grow-out needs, if what is known is neither fresh nor sure enough."""
    if sowing_on is None or sowing_on < (tested_on or stored_on):
        return None
    if tested_on is not None and (sowing_on - tested_on).days <= FRESH_DAYS:
        return None
    then = estimate.on((sowing_on - stored_on).days)
    if then.high - then.low <= SURE_WITHIN and then.chance_above >= level:
        return None
    return _Candidate(
        due_on=sowing_on - timedelta(days=TEST_TAKES_DAYS),
        key="retest_before_sowing",
        source=COMMON_PRACTICE,
    )
