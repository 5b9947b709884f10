"""The day by which a lot's viability must be tested again, from its estimate, and why."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from library.science.dates import DAYS_IN_YEAR, add_years
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
from library.science.outlook import LotDates, Outlook, outlook_of
from library.science.posterior import Estimate, ViabilityOn
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
    """Return why a lot should be regrown, or None while it need not be, as `regrow_reason` has
    it, on a day of its storage (0 or later). Raises ValueError for a day out of range.
    """
    return regrow_reason(estimate.on(day), initial=estimate.initial, standard=estimate.standard)


def regrow_reason(now: ViabilityOn, *, initial: float, standard: float) -> Reason | None:
    """Return why a lot of that viability should be regrown, or None while it need not be.

    It is when it has, more likely than not, fallen below the standard, or below 85 % of its
    initial viability. Units: fractions. Source: FAO Genebank Standards 2014, 4.3.4 (from
    memory).
    """
    below_standard = now.chance_above < EVEN_CHANCE
    if not below_standard and not now.below_share_of_initial:
        return None
    return because(
        "regrow_below_standard" if below_standard else "regrow_below_initial",
        CHANCE_SOURCE if below_standard else f"{FAO}, 4.3.4 (from memory)",
        **_percents(now),
        standard_percent=round(100 * standard, 1),
        initial_percent=round(100 * initial, 1),
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
    """Return the day by which one lot must be tested (again), as `retest_advice` has it.

    ``stored_on`` is day 0 of the estimate, ``tested_on`` the day of the newest test or None,
    ``sowing_on`` the next grow-out that counts on the lot. Ranges: level strictly between 0 and
    1; received and tested on or after stored. Raises ValueError outside them.
    """
    dates = LotDates(
        stored_on=stored_on,
        received_on=received_on,
        today=tested_on or received_on,
        tested_on=tested_on,
        sowing_on=sowing_on,
    )
    return retest_advice(
        outlook_of(estimate, level=level, dates=dates),
        first_within_days=first_within_days,
        soonest_days=soonest_days,
    )


def retest_advice(
    outlook: Outlook,
    *,
    first_within_days: int = LATEST_FIRST_TEST_DAYS,
    soonest_days: int = SOONEST_DAYS,
) -> RetestAdvice:
    """Return the day by which a lot must be tested (again), the rule that set it, and whether
    the lot should be regrown.

    The day is the earliest of:

    * the day on which the chance of being above the standard falls to the level;
    * a third of the predicted time to 85 % of initial after the newest test, where the species
      can be predicted at all; else 10 years when it is long-lived, 5 when not;
    * 40 years after it;
    * 60 days before a grow-out, when the 90 % band on that day is wider than 25 points or the
      chance is below the level, and the newest test is older than half a year by then.

    Nothing is tested twice within ``soonest_days``. A lot that is more likely than not below
    the standard is out of use, and tested within a year only if it is kept. ``regenerate`` says
    whether `regrow_reason` has a reason. A lot never tested has its first test within
    ``first_within_days`` of receipt, earlier for a grow-out.

    Ranges: first_within_days and soonest_days 1 to 365. Raises ValueError outside them.
    Source: FAO Genebank Standards 2014, 4.3.1, 4.3.3, 4.3.4 (the latter two from memory); the
    level, the 90 days and the grow-out rule are common practice, no source.
    """
    if not 1 <= soonest_days <= 365:
        raise ValueError(f"Two tests lie 1 to 365 days apart at least, not {soonest_days}.")
    if outlook.dates.tested_on is None or outlook.tested is None:
        return _first(outlook, first_within_days)
    facts = _Facts(outlook, outlook.dates.tested_on, outlook.tested, soonest_days)
    return facts.advice(facts.chosen())


@dataclass(frozen=True)
class _Facts:
    """One lot, on the day of its newest test."""

    outlook: Outlook
    tested_on: date
    now: ViabilityOn
    soonest_days: int

    @property
    def predicted_years(self) -> float:
        return self.outlook.predicted_days / DAYS_IN_YEAR

    @property
    def falls_on(self) -> date | None:
        """The day on which the chance falls to the level; None when that is too far off."""
        stored_on = self.outlook.dates.stored_on
        latest = add_years(self.tested_on, LONGEST_YEARS)
        if self.outlook.falls_on > (latest - stored_on).days:
            return None
        return stored_on + timedelta(days=int(self.outlook.falls_on))

    def chosen(self) -> _Candidate:
        if self.now.chance_above < EVEN_CHANCE:
            return self.confirm()
        candidates = [self.by_fao(), self.by_chance(), _before_sowing(self.outlook)]
        earliest = min(filter(None, candidates), key=lambda candidate: candidate.due_on)
        soonest = self.tested_on + timedelta(days=self.soonest_days)
        if earliest.due_on >= soonest:
            return earliest
        return _Candidate(due_on=soonest, key="retest_not_sooner", source=COMMON_PRACTICE)

    def by_chance(self) -> _Candidate | None:
        if self.falls_on is None:
            return None
        return _Candidate(due_on=self.falls_on, key="retest_chance", source=CHANCE_SOURCE)

    def by_fao(self) -> _Candidate:
        source = f"{FAO}, 4.3.3 (from memory)"
        if self.outlook.longevity.predictable:
            years = third_of_prediction(self.predicted_years)
            capped = years == LONGEST_YEARS
            key = "retest_longest" if capped else "retest_third_of_prediction"
        else:
            years, key = self.unpredicted_years, "retest_no_prediction"
        return _Candidate(due_on=add_years(self.tested_on, years), key=key, source=source)

    @property
    def unpredicted_years(self) -> float:
        return FROZEN_LONG_LIVED_YEARS if self.outlook.longevity.long_lived else FROZEN_YEARS

    def confirm(self) -> _Candidate:
        return _Candidate(
            due_on=add_years(self.tested_on, UNKNOWN_YEARS),
            key="retest_below_standard",
            source=COMMON_PRACTICE,
        )

    def advice(self, chosen: _Candidate) -> RetestAdvice:
        inputs: dict[str, Scalar | date] = {
            "due_on": chosen.due_on,
            "tested_on": self.tested_on,
            "standard_percent": round(100 * self.outlook.standard, 1),
            "level_percent": round(100 * self.outlook.level, 1),
            "falls_on": self.falls_on,
            "predicted_years": round(self.predicted_years, 1),
            "years": _whole_years(chosen.key, self.unpredicted_years),
            "wait_days": self.soonest_days,
            "sowing_on": self.outlook.dates.sowing_on,
            **_percents(self.now),
            "longevity": self.outlook.longevity.known.value,
            "longevity_source": self.outlook.longevity.why.source,
        }
        why = because(chosen.key, chosen.source, **inputs)
        to_regrow = regrow_reason(
            self.now, initial=self.outlook.initial, standard=self.outlook.standard
        )
        return RetestAdvice(chosen.due_on, why, to_regrow is not None)


def _percents(now: ViabilityOn) -> dict[str, Scalar | date]:
    return {
        "median_percent": round(100 * now.median, 1),
        "low_percent": round(100 * now.low, 1),
        "high_percent": round(100 * now.high, 1),
        "chance_percent": round(100 * now.chance_above, 1),
    }


def _whole_years(key: str, unpredicted: float) -> float:
    return unpredicted if key == "retest_no_prediction" else LONGEST_YEARS


def _first(outlook: Outlook, within_days: int) -> RetestAdvice:
    """The first test: within the months that are allowed, or before a grow-out."""
    dates = outlook.dates
    within = first_test_due(received_on=dates.received_on, within_days=within_days)
    wanted = _before_sowing(outlook)
    if wanted is None or wanted.due_on >= within.due_on:
        return within
    due_on = max(wanted.due_on, dates.received_on)
    why = because(wanted.key, wanted.source, due_on=due_on, sowing_on=dates.sowing_on)
    return RetestAdvice(due_on, why)


def _before_sowing(outlook: Outlook) -> _Candidate | None:
    """The test that a grow-out needs, if what is known is neither fresh nor sure enough."""
    then, tested_on, sowing_on = (
        outlook.sowing,
        outlook.dates.tested_on,
        outlook.dates.sowing_on,
    )
    if sowing_on is None or then is None:
        return None
    if tested_on is not None and (sowing_on - tested_on).days <= FRESH_DAYS:
        return None
    if then.high - then.low <= SURE_WITHIN and then.chance_above >= outlook.level:
        return None
    return _Candidate(
        due_on=sowing_on - timedelta(days=TEST_TAKES_DAYS),
        key="retest_before_sowing",
        source=COMMON_PRACTICE,
    )
