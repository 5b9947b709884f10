"""Does the retest date earn its seeds? 2,000 invented lots, 20 years, several ways of testing.

Run it by hand: ``python tests/load/retest_simulation.py [--lots N] [--years N] [--seeds N]``.
It prints tables in Markdown, each figure as median [least–most] over the random seeds; nothing
is asserted. What came out, and why, is in DEVELOPERS.md.

What is true of a lot is drawn, and no policy sees it: its species (one of those with published
constants, or one known by its class, or unknown), its place (cupboard, refrigerator, freezer),
its size, its first viability, and its true rate of loss, half again as spread as the prior
believes. The published optimism of the equation is taken for real. Tests of one lot vary more
than chance, as the estimate assumes. Every lot is offered for lending each spring until a
policy's own records say that it is below the standard; then it is regrown and leaves the count.

When to test:

* yearly;
* one third: again after a third of the time that the bare equation predicts for a fall to 85 %
  of initial (FAO 2014), 90 days at least and 40 years at most;
* ours: the day that the retest rule gives from the estimate.

With how much seed:

* 100 seeds, from a lot that never runs out;
* few seeds: the sequential plan that the bench makes by its first rules for a lot of that size;
* as the bench suggests: few seeds for lots under 1,000 seeds, else a tenth of it at most in the
  usual dishes, 100 or 200.

Weakness: the truth is drawn from the family of models that the estimate believes in, only
wider. Dormancy, mixtures and pests are not in it, and nobody forgets a test.
"""

from __future__ import annotations

import argparse
import statistics
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import csv

import numpy as np
from scipy.special import ndtr
from scipy.stats import binom

from library.science.longevity import Longevity, longevity_of
from library.science.moisture import assumed_climate, oil_percent, seed_moisture
from library.science.outlook import LotDates, outlook_of
from library.science.posterior import LotTest, estimate
from library.science.posterior_grid import BETWEEN_TESTS
from library.science.retest import (
    DEFAULT_LEVEL,
    EVEN_CHANCE,
    regeneration_threshold,
    retest_advice,
    third_of_prediction,
)
from library.science.sequential import (
    Outcome,
    SequentialPlan,
    decide,
    fixed_test,
    operating_point,
    plan_for,
)
from library.science.viability import (
    Stretch,
    days_until,
    recommended_constants,
)

REFERENCE = Path(__file__).parents[2] / "fixtures" / "reference"
STANDARD = 0.70  # this and the plan below are the bench's first rules
LOST_BELOW = 0.30  # too little left to regrow from without a bottleneck
FULL_TEST = 100
SMALLEST_TEST = 10
SMALL_LOT = 1000  # of which a test of 100 seeds would be more than a tenth
START = date(2000, 10, 1)
LENT_ON_DAY = 180  # each spring
PLACES = {"cupboard": 0.6, "refrigerator": 0.25, "freezer": 0.15}
SIZES = (100, 4000)  # of lots, in seeds; as likely to be in the lower half of the logarithms
PLAN = SequentialPlan(good=0.775, poor=0.625, alpha=0.1, beta=0.1, group=10, most=FULL_TEST)


@dataclass(frozen=True, kw_only=True)
class Lot:
    """What is true of one lot (its start and rate), and what its library may know."""

    longevity: Longevity
    place: str
    stretch: Stretch
    seeds: int
    start: float
    rate: float

    def alive(self, day: float) -> float:
        loss = self.longevity.expected_loss((self.stretch,)).per_day * day
        return float(ndtr(self.start - self.rate * loss))


@dataclass
class Tally:
    """What a policy cost and let happen, and what set the day of each test."""

    seeds: int = 0
    tests: int = 0
    lent: int = 0
    lent_below: int = 0
    lost_unnoticed: int = 0
    regrown: int = 0
    regrown_in_vain: int = 0
    by_place: Counter[str] = field(default_factory=Counter)
    by_rule: Counter[str] = field(default_factory=Counter)


@dataclass
class Records:
    """What a library has written down about one lot."""

    seeds_left: int
    tests: list[LotTest] = field(default_factory=list)
    below: bool = False
    rule: str = "first_test"


Count = Callable[[np.random.Generator, float, int], tuple[int, int]]
Next = Callable[[Lot, Records], int]


def drawn_lots(rng: np.random.Generator, how_many: int) -> list[Lot]:
    species, constants = read("species"), recommended_constants(read("viability_constants"))
    seeds = [row for row in species if row["storage_behaviour"] == "orthodox"]
    return [drawn_lot(rng, seeds[rng.integers(len(seeds))], constants) for _ in range(how_many)]


def drawn_lot(rng: np.random.Generator, row: dict, constants: dict) -> Lot:
    name, years = row["botanical_name"], row["longevity_years_cool_dry"]
    oil = oil_percent(family=row["family"], botanical_name=name)
    longevity = longevity_of(
        constants=constants.get(name),
        longevity_years=float(years) if years else None,
        oil_percent=oil,
    )
    kind = str(rng.choice(list(PLACES), p=list(PLACES.values())))
    climate = assumed_climate(kind)
    moisture = seed_moisture(
        measured_percent=None,
        humidity_percent=None,
        temperature_c=climate.temperature_c,
        oil_percent=oil,
        kind=kind,
    )
    return Lot(
        longevity=longevity,
        place=kind,
        stretch=Stretch(
            days=0, temperature_c=climate.temperature_c, moisture_percent=moisture.percent
        ),
        seeds=int(np.exp(rng.uniform(*np.log(SIZES)))),
        start=float(rng.normal(1.5, 0.9)),
        rate=float(np.exp(rng.normal(0, 1.5 * longevity.spread))),
    )


def read(name: str) -> list[dict[str, str]]:
    with (REFERENCE / f"{name}.csv").open(newline="", encoding="utf-8") as table:
        return list(csv.DictReader(table))


# Counting


def dish_share(rng: np.random.Generator, alive: float) -> float:
    """The share this test will show: tests of one lot vary more than chance alone."""
    alive = min(max(alive, 1e-6), 1 - 1e-6)
    size = (1 - BETWEEN_TESTS) / BETWEEN_TESTS
    return float(rng.beta(alive * size, (1 - alive) * size))


def full_count(rng: np.random.Generator, alive: float, left: int) -> tuple[int, int]:
    return int(rng.binomial(FULL_TEST, dish_share(rng, alive))), FULL_TEST


def few_seeds(rng: np.random.Generator, alive: float, left: int) -> tuple[int, int]:
    plan = plan_for(standard=STANDARD, available=left)  # its defaults are the bench's
    share, germinated, sown = dish_share(rng, alive), 0, 0
    if plan is None:
        sown = min(SMALLEST_TEST, left)
        return int(rng.binomial(sown, share)), sown
    while (verdict := decide(plan, germinated=germinated, sown=sown)).outcome is (
        Outcome.SOW_MORE
    ):
        germinated += int(rng.binomial(verdict.sow_next, share))
        sown += verdict.sow_next
    return germinated, sown


def as_suggested(rng: np.random.Generator, alive: float, left: int) -> tuple[int, int]:
    if left < SMALL_LOT:
        return few_seeds(rng, alive, left)
    sown = 2 * FULL_TEST if left >= 2 * SMALL_LOT else FULL_TEST
    return int(rng.binomial(sown, dish_share(rng, alive))), sown


# The next test


def yearly(lot: Lot, records: Records) -> int:
    judge_by_newest(records)
    return 365


def one_third(lot: Lot, records: Records) -> int:
    judge_by_newest(records)
    first = records.tests[0]
    initial = min(max(first.germinated / first.sown, 0.02), 0.98)
    days = days_until(
        initial=initial,
        target=regeneration_threshold(initial),
        moisture_percent=lot.stretch.moisture_percent,
        temperature_c=lot.stretch.temperature_c,
        constants=lot.longevity.constants,
    )
    return max(90, int(365.25 * third_of_prediction(days / 365.25)))


def judge_by_newest(records: Records) -> None:
    newest = records.tests[-1]
    records.below = newest.germinated < STANDARD * newest.sown


def ours(lot: Lot, records: Records) -> int:
    tested_on = START + timedelta(days=int(records.tests[-1].day))
    known = estimate(
        tests=records.tests, history=[lot.stretch], longevity=lot.longevity, standard=STANDARD
    )
    dates = LotDates(stored_on=START, received_on=START, today=tested_on, tested_on=tested_on)
    outlook = outlook_of(known, level=DEFAULT_LEVEL, dates=dates)
    advice = retest_advice(outlook)
    records.below = outlook.today.chance_above < EVEN_CHANCE
    records.rule = advice.rule
    return max(1, (advice.due_on - tested_on).days)


# Twenty years of one lot


def live(
    lot: Lot, policy: Next, count: Count, rng: np.random.Generator, end: int, tally: Tally
) -> None:
    """Test, lend and regrow one lot as a policy says, and tally what happens."""
    records, due = Records(lot.seeds), 30
    springs = iter(range(LENT_ON_DAY, end, 365))
    spring = next(springs)
    lost_on = lost_day(lot, end)
    while min(due, spring) < end:
        if due > spring:
            tally.lent += 1
            tally.lent_below += lot.alive(spring) < STANDARD
            spring = next(springs, end)
            continue
        test(lot, records, count, rng, due, tally)
        tested, due = due, due + policy(lot, records)
        if records.below:
            tally.regrown += 1
            tally.regrown_in_vain += lot.alive(tested) >= STANDARD
            tally.lost_unnoticed += tested > lost_on
            return
    tally.lost_unnoticed += lost_on < end


def test(
    lot: Lot, records: Records, count: Count, rng: np.random.Generator, due: int, tally: Tally
) -> None:
    germinated, sown = count(rng, lot.alive(due), records.seeds_left)
    tally.seeds, tally.tests = tally.seeds + sown, tally.tests + 1
    tally.by_place[lot.place] += 1
    tally.by_rule[records.rule] += 1
    if sown:
        records.tests.append(LotTest(day=due, germinated=germinated, sown=sown))
    if count is not full_count:
        records.seeds_left = max(0, records.seeds_left - sown)


def lost_day(lot: Lot, end: int) -> float:
    """The first month in which the lot has too little life to be regrown, if it ever had."""
    months = range(30, end, 30)
    return next((day for day in months if lot.alive(day) < LOST_BELOW), float("inf"))


POLICIES: dict[str, tuple[Next, Count]] = {
    "(a) yearly, 100 seeds": (yearly, full_count),
    "(b) one third, 100 seeds": (one_third, full_count),
    "(c) ours, 100 seeds": (ours, full_count),
    "(c) ours, few seeds": (ours, few_seeds),
    "(c) ours, as the bench suggests": (ours, as_suggested),
    "(a) yearly, few seeds": (yearly, few_seeds),
    "(b) one third, few seeds": (one_third, few_seeds),
}
YEARLY, DATE_ALONE = "(a) yearly, 100 seeds", "(c) ours, 100 seeds"


def simulated(seed: int, how_many: int, years: int) -> dict[str, Tally]:
    """All policies over one drawing of lots."""
    lots = drawn_lots(np.random.default_rng(seed), how_many)
    tallies = {name: Tally() for name in POLICIES}
    for name, (policy, count) in POLICIES.items():
        for number, lot in enumerate(lots):
            rng = np.random.default_rng((seed, number))
            live(lot, policy, count, rng, 365 * years, tallies[name])
    return tallies


def spread(figures: list[float], form: str = "{:,.0f}") -> str:
    """``median [least–most]``."""
    middle, least, most = (form.format(pick(figures)) for pick in (statistics.median, min, max))
    return f"{middle} [{least}–{most}]"


def print_policies(runs: list[dict[str, Tally]]) -> None:
    print(
        "\n| policy | tests | seeds | of yearly's | loans | below standard | lost unnoticed "
        "| regrown | still good |\n|---|--:|--:|--:|--:|--:|--:|--:|--:|"
    )
    for name in POLICIES:
        tallies = [run[name] for run in runs]
        shares = [run[name].seeds / run[YEARLY].seeds for run in runs]
        columns = [
            spread([tally.tests for tally in tallies]),
            spread([tally.seeds for tally in tallies]),
            spread(shares, "{:.0%}"),
            spread([tally.lent for tally in tallies]),
            spread([tally.lent_below for tally in tallies]),
            spread([tally.lost_unnoticed for tally in tallies]),
            spread([tally.regrown for tally in tallies]),
            spread([tally.regrown_in_vain for tally in tallies]),
        ]
        print(f"| {name} | {' | '.join(columns)} |")


def print_reasons(runs: list[dict[str, Tally]]) -> None:
    """Where the tests of 100 seeds go when only the day is ours."""
    print("\n| place | yearly: tests | ours: tests | ours of yearly's |\n|---|--:|--:|--:|")
    for place in PLACES:
        yearly_ones = [run[YEARLY].by_place[place] for run in runs]
        our_ones = [run[DATE_ALONE].by_place[place] for run in runs]
        shares = [one / other for one, other in zip(our_ones, yearly_ones, strict=True)]
        print(
            f"| {place} | {spread(yearly_ones)} | {spread(our_ones)} "
            f"| {spread(shares, '{:.0%}')} |"
        )
    print("\n| what set the day of ours | of its tests |\n|---|--:|")
    for rule, _ in sum((run[DATE_ALONE].by_rule for run in runs), Counter()).most_common():
        shares = [run[DATE_ALONE].by_rule[rule] / run[DATE_ALONE].tests for run in runs]
        print(f"| {rule} | {spread(shares, '{:.0%}')} |")


def print_operating_curve() -> None:
    """The sequential plan beside a fixed test that keeps the same two risks."""
    risk_good = 1 - operating_point(PLAN, germination=PLAN.good).chance_above
    risk_poor = operating_point(PLAN, germination=PLAN.poor).chance_above
    fixed = fixed_test(good=PLAN.good, poor=PLAN.poor, alpha=risk_good, beta=risk_poor)
    print(
        f"\nThe few-seeds plan calls {PLAN.good:.1%} below with a chance of {risk_good:.1%}, "
        f"and {PLAN.poor:.1%} above with {risk_poor:.1%}. A fixed test with these risks: "
        f"{fixed.seeds} seeds, above from {fixed.at_least}.\n"
    )
    print("| germination | called above | mean seeds | fixed: called above | fixed: seeds |")
    print("|--:|--:|--:|--:|--:|")
    for percent in range(40, 100, 5):
        point = operating_point(PLAN, germination=percent / 100)
        above = float(binom.sf(fixed.at_least - 1, fixed.seeds, percent / 100))
        print(
            f"| {percent} % | {point.chance_above:.1%} | {point.expected_seeds:.1f} "
            f"| {above:.1%} | {fixed.seeds} |"
        )


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--lots", type=int, default=2000)
    options.add_argument("--years", type=int, default=20)
    options.add_argument("--seeds", type=int, default=5, help="random seeds 1 to this")
    asked = options.parse_args()
    print(f"{asked.lots} lots, {asked.years} years, standard {STANDARD:.0%}")
    runs = []
    for seed in range(1, asked.seeds + 1):
        runs.append(simulated(seed, asked.lots, asked.years))
        print(f"random seed {seed} done", file=sys.stderr, flush=True)
    print_policies(runs)
    print_reasons(runs)
    print_operating_curve()


if __name__ == "__main__":
    main()
