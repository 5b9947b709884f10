"""Tolerances: between replicates (7 CFR 201.55, after Miles 1963), between two tests (ISTA
table 5C), and between a test and a label (7 CFR 201.63).
"""

import math
import re

import pytest
from scipy.stats import binom, studentized_range

from library.science import germination
from library.science.germination import label_tolerance, tolerated_range
from tests.standards.tables import each, rows


def range_of(replicates, seeds_each):
    return lambda mean: tolerated_range(
        mean_percent=mean, replicates=replicates, seeds_each=seeds_each
    )


PUBLISHED = {
    "replicate_range_4x100": range_of(4, 100),
    "replicate_range_2x100": range_of(2, 100),
    "two_tests_same_lab_2x400": range_of(2, 400),
    "cfr_201_63_tolerance": label_tolerance,
}


@pytest.mark.parametrize(
    "row", each("germ_tolerances", "table", "mean_pct_from", "mean_pct_to")
)
def test_every_row_of_the_published_tables_comes_out(row):
    # 7 CFR 201.55(a) read down to a mean of 70, from memory below; 7 CFR 201.63 read; ISTA
    # table 5C from memory. Tolerance: none, at both ends of each row and every whole percent
    # between them.
    low, high = float(row["mean_pct_from"]), float(row["mean_pct_to"])
    whole = range(math.ceil(low), math.floor(high) + 1)

    computed = {PUBLISHED[row["table"]](mean) for mean in (low, *whole, high)}

    assert computed == {float(row["max_tolerated"])}


@pytest.mark.parametrize(
    "row",
    [
        row
        for row in each("germ_tolerances", "table", "note")
        if "mirror" in row.values[0]["note"]
    ],
)
def test_every_row_has_the_mirror_image_that_its_note_names(row):
    # The same tables: 99 and 2, 98 and 3, and so on. Tolerance: none.
    least, _, most = re.search(r"mean ([\d-]+)$", row["note"])[1].partition("-")

    computed = {
        PUBLISHED[row["table"]](mean) for mean in range(int(least), int(most or least) + 1)
    }

    assert computed == {float(row["max_tolerated"])}


def test_every_published_table_is_among_the_rows():
    assert {row["table"] for row in rows("germ_tolerances")} == set(PUBLISHED)


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
