"""Gene dropping: what must hold whatever the chance, and how it is asked."""

import math

import pytest

from library.science.alleles import AlleleRow, alleles_kept, frequency_in_lots
from library.science.chains import read_chain


def chain(lot="B", **lots):
    return {"lot": lot, "lots": {"A": {}} | lots}


def test_the_same_chain_gives_the_same_numbers():
    asked = chain(B={"parents": {"A": 1}, "plants": 10})

    assert alleles_kept(asked) == alleles_kept(asked)
    assert alleles_kept(asked) != alleles_kept(asked, seed=7)


def test_a_deposit_and_what_was_only_poured_keep_everything():
    poured = chain(C={}, B={"parents": {"A": 0.999, "C": 0.001}, "mating": "bulk"})

    for row in (*alleles_kept(chain("A")), *alleles_kept(poured)):
        assert (row.kept, row.standard_error) == (1, 0)


def test_the_standard_error_is_that_of_a_share():
    row = alleles_kept(chain(B={"parents": {"A": 1}, "plants": 10}), [0.05], genes=900)[0]

    assert row == AlleleRow(0.05, row.kept, math.sqrt(row.kept * (1 - row.kept) / 900), 900)


def test_commoner_forms_come_through_more_often():
    kept = [row.kept for row in alleles_kept(chain(B={"parents": {"A": 1}, "plants": 10}))]

    assert kept == sorted(kept)
    assert kept[0] < kept[-1]


def test_a_clone_keeps_both_forms_and_a_pure_line_its_one():
    clone = {"inbreeding": 0, "coancestry": 0.5}
    planted = {"parents": {"A": 1}, "plants": 1, "mating": "clonal"}
    line = {"inbreeding": 1, "coancestry": 1}

    kept = alleles_kept({"lot": "B", "lots": {"A": clone, "B": planted}}, [0.5])

    assert [(row.kept, row.standard_error) for row in kept] == [(1, 0)]
    assert alleles_kept({"lot": "A", "lots": {"A": line}}, [0.2])[0].kept == 1


def test_a_lot_by_two_ways_from_one_ancestor_is_lost_or_kept_as_one():
    """Both ways go through a single selfed plant: the bulk holds no more than it does."""
    asked = chain(
        "E",
        B={"parents": {"A": 1}, "plants": 1, "mating": "selfing"},
        C={"parents": {"B": 1}, "plants": 500},
        D={"parents": {"B": 1}, "plants": 500},
        E={"parents": {"C": 0.5, "D": 0.5}, "mating": "bulk"},
    )

    form = frequency_in_lots(read_chain(asked), 0.1, genes=2000)

    assert ((form["E"] > 0) <= (form["B"] > 0)).all()


def test_frequencies_stay_between_none_and_all():
    mixed = chain(
        "D",
        B={"parents": {"A": 1}, "mating": "dioecious", "females": 3, "males": 1},
        C={"parents": {"A": 0.3, "B": 0.7}, "plants": 4, "mating": "selfing"},
        D={"parents": {"C": 1}, "pollen_parents": {"B": 1}, "plants": 2, "mating": "cross"},
    )

    for lot in frequency_in_lots(read_chain(mixed), 0.4, genes=500).values():
        assert ((lot >= 0) & (lot <= 1)).all()


@pytest.mark.parametrize("frequency", [0, 1, -0.1, 1.5, math.nan])
def test_a_frequency_that_is_none_is_refused(frequency):
    with pytest.raises(ValueError, match="frequency lies above 0 and below 1"):
        alleles_kept(chain("A"), [frequency])


@pytest.mark.parametrize("genes", [0, -1, 1_000_001, 2.5])
def test_a_number_of_genes_that_is_none_is_refused(genes):
    with pytest.raises(ValueError, match="Follow 1 to 1 000 000 genes"):
        alleles_kept(chain("A"), genes=genes)


def test_too_many_frequencies_and_too_many_lots_are_refused():
    lots = {str(n): {"parents": {str(n - 1): 1}} for n in range(1, 5001)} | {"0": {}}

    with pytest.raises(ValueError, match="up to 20"):
        alleles_kept(chain("A"), [0.1] * 21)
    with pytest.raises(ValueError, match="up to 5000"):
        alleles_kept({"lot": "5000", "lots": lots})
