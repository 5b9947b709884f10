"""A line from a first cross: edges, and what is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.science.genetics import generation_breeding_true, homozygosity_after_selfing
from library.science.lines import (
    generation_true_to,
    heterozygosity_at_last,
    heterozygosity_in_line,
    homozygosity_in_line,
)

RATES = st.floats(min_value=0, max_value=1)


@given(RATES)
def test_the_f1_varies_at_every_gene_and_the_f2_at_half_whatever_the_rate(rate):
    assert heterozygosity_in_line(1, rate) == 1
    assert heterozygosity_in_line(2, rate) == 0.5


@given(RATES, st.integers(1, 40))
def test_it_never_rises_and_never_passes_where_it_ends(rate, generation):
    here, after = (heterozygosity_in_line(generation + n, rate) for n in (0, 1))

    assert heterozygosity_at_last(rate) - 1e-12 <= after <= here + 1e-12


@given(RATES)
def test_it_settles_where_it_is_said_to(rate):
    assert heterozygosity_in_line(200, rate) == pytest.approx(heterozygosity_at_last(rate))


@given(RATES, st.floats(min_value=0.01, max_value=0.999), st.integers(1, 20))
def test_the_generation_that_breeds_true_is_the_first_that_does(rate, level, loci):
    first = generation_true_to(level, rate, loci)

    if first is None:
        assert (1 - heterozygosity_at_last(rate)) ** loci <= level + 1e-9
    else:
        assert homozygosity_in_line(first, rate, loci) >= level - 1e-9
        assert first == 1 or homozygosity_in_line(first - 1, rate, loci) < level


@given(st.floats(min_value=0.01, max_value=0.9999), st.integers(1, 1000))
def test_full_selfing_is_the_textbooks_case(level, loci):
    assert generation_true_to(level, 1, loci) == generation_breeding_true(level, loci)


@given(st.integers(1, 1000), st.integers(1, 100))
def test_full_selfing_leaves_the_textbooks_share(generation, loci):
    assert homozygosity_in_line(generation, 1, loci) == pytest.approx(
        homozygosity_after_selfing(generation, loci)
    )


@pytest.mark.parametrize(("level", "rate"), [(0.51, 0), (0.84, 0.8), (0.99, 0.95)])
def test_crossing_keeps_it_from_ever_breeding_true(level, rate):
    assert generation_true_to(level, rate) is None


@pytest.mark.parametrize("level", [0, 1, 1.5, -1, math.nan])
def test_a_level_that_is_none_is_refused(level):
    with pytest.raises(ValueError, match="between 0 and 1"):
        generation_true_to(level, 1)


@pytest.mark.parametrize("rate", [-0.1, 1.1, math.nan])
def test_a_rate_that_is_none_is_refused(rate):
    for ask in (lambda: heterozygosity_in_line(2, rate), lambda: heterozygosity_at_last(rate)):
        with pytest.raises(ValueError, match="selfing rate"):
            ask()


@pytest.mark.parametrize("generation", [0, 1001, 2.5])
def test_a_generation_that_is_none_is_refused(generation):
    with pytest.raises(ValueError, match="whole numbers from 1"):
        heterozygosity_in_line(generation, 1)


@pytest.mark.parametrize("loci", [0, 100_001, 1.5])
def test_a_number_of_genes_that_is_none_is_refused(loci):
    with pytest.raises(ValueError, match="Count 1 to 100 000"):
        homozygosity_in_line(3, 1, loci)
