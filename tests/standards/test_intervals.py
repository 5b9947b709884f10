"""Exact binomial intervals against an independent implementation and printed tables."""

import pytest
from scipy.stats import binom, binomtest

from library.science.germination import exact_interval
from library.science.sowing import seeds_to_sow


@pytest.mark.parametrize("confidence", [0.8, 0.9, 0.95, 0.99])
@pytest.mark.parametrize("sown", [1, 2, 10, 25, 50, 100, 400])
def test_intervals_equal_those_of_scipy(sown, confidence):
    # Tolerance: 1e-12; two implementations of Clopper & Pearson 1934.
    for germinated in {0, 1, sown // 3, sown // 2, sown - 1, sown}:
        expected = binomtest(germinated, sown).proportion_ci(confidence, method="exact")

        assert exact_interval(germinated, sown, confidence) == pytest.approx(
            (expected.low, expected.high), abs=1e-12
        )


@pytest.mark.parametrize(
    ("germinated", "sown", "low", "high"),
    [
        # 95 % limits as printed in tables of exact binomial limits (from memory)
        (0, 10, 0.000, 0.308),
        (5, 10, 0.187, 0.813),
        (10, 20, 0.272, 0.728),
        (0, 100, 0.000, 0.036),
        (50, 100, 0.398, 0.602),
    ],
)
def test_intervals_agree_with_printed_tables(germinated, sown, low, high):
    # Tolerance: 0.0006, a little more than half a unit in the last printed digit.
    assert exact_interval(germinated, sown) == pytest.approx((low, high), abs=0.0006)


@pytest.mark.parametrize("sown", [3, 20, 100])
def test_when_nothing_comes_up_the_limit_is_the_closed_form(sown):
    # Clopper & Pearson 1934: with no success the upper limit solves (1 - p)^n = alpha / 2.
    # Tolerance: one part in a million.
    assert exact_interval(0, sown)[1] == pytest.approx(1 - 0.025 ** (1 / sown))


@pytest.mark.parametrize("chance", [0.2, 0.55, 0.9])
@pytest.mark.parametrize("plants", [1, 7, 40, 900])
def test_seeds_to_sow_is_the_smallest_number_by_the_binomial_distribution(plants, chance):
    seeds = seeds_to_sow(plants=plants, germination=chance, confidence=0.95)

    assert binom.sf(plants - 1, seeds, chance) >= 0.95
    assert seeds == plants or binom.sf(plants - 1, seeds - 1, chance) < 0.95


def test_seeds_to_sow_gives_the_59_gametes_of_the_genebanks():
    # Marshall & Brown 1975 (from memory): 59 gametes hold an allele of 5 % with 95 % chance.
    # The same question in other words: one success at 5 % with 95 % confidence.
    assert seeds_to_sow(plants=1, germination=0.05, confidence=0.95) == 59
