"""Tolerated ranges between replicates: 7 CFR 201.55, after Miles 1963."""

import math

import pytest
from scipy.stats import binom, studentized_range

from library.science import germination
from library.science.germination import tolerated_range

REPLICATES = {"replicate_range_4x100": 4, "replicate_range_2x100": 2}


@pytest.mark.parametrize("table", REPLICATES)
def test_every_row_of_the_published_table_comes_out(reference, table):
    # 7 CFR 201.55(a), read down to a mean of 70; the 4 x 100 rows below it are from memory.
    printed = {
        mean: float(row["max_tolerated"])
        for row in reference("germ_tolerances")
        if row["table"] == table
        for mean in range(int(row["mean_pct_from"]), int(row["mean_pct_to"]) + 1)
    }

    computed = {
        mean: tolerated_range(mean_percent=mean, replicates=REPLICATES[table], seeds_each=100)
        for mean in printed
    }

    assert len(printed) >= 27
    assert computed == printed


def test_the_lower_half_of_the_table_mirrors_the_upper():
    # 7 CFR 201.55(a) prints one row for the means 99 and 2, 98 and 3, and so on to 51 and 50.
    for mean in range(51, 100):
        upper = tolerated_range(mean_percent=mean, replicates=4, seeds_each=100)
        lower = tolerated_range(mean_percent=101 - mean, replicates=4, seeds_each=100)

        assert upper == lower


def test_the_quantiles_are_those_of_scipy_to_two_decimals():
    expected = {
        k: round(float(studentized_range.ppf(0.975, k, math.inf)), 2) for k in range(2, 17)
    }

    assert expected == germination._STUDENTIZED_975


def false_alarm(replicates, seeds, chance, spread):
    """The exact chance that binomial replicates lie farther apart than a number of seeds."""

    def at_most(k):
        return binom.cdf(k, seeds, chance)

    within = sum(
        (at_most(k + spread) - at_most(k - 1)) ** replicates
        - (at_most(k + spread) - at_most(k)) ** replicates
        for k in range(seeds + 1)
    )
    return 1 - within


@pytest.mark.parametrize(
    "layout", [(2, 10), (2, 25), (2, 50), (3, 10), (4, 25), (4, 50), (8, 50)]
)
@pytest.mark.parametrize("mean", [50, 70, 80, 90, 95])
def test_small_tests_raise_a_false_alarm_about_as_rarely_as_the_standard_one(layout, mean):
    # No table is published for these sizes; the standard 4 x 100 is meant for 2.5 % (Miles
    # 1963).
    replicates, seeds = layout
    spread = tolerated_range(mean_percent=mean, replicates=replicates, seeds_each=seeds)

    chance = false_alarm(replicates, seeds, mean / 100, round(spread * seeds / 100))

    assert chance <= 0.03
