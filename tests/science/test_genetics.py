"""Small seed lots: what the numbers mean at their edges, and how a chain is read."""

import json
import random
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.science.genetics import (
    allele_capture_probability,
    dioecious_size,
    effective_size,
    effective_size_by_contribution,
    gene_diversity,
    generation_breeding_true,
    harmonic_mean_size,
    heterozygosity_after_selfing,
    heterozygosity_kept,
    homozygosity_after_selfing,
    plants_to_capture,
)

SIZES = st.lists(st.floats(min_value=0.5, max_value=1e6), min_size=1, max_size=20)


def grown(lot="B", **record):
    """A deposit, and one lot grown from it."""
    return {"lot": lot, "lots": {"A": {}, "B": {"parents": {"A": 1}} | record}}


def keys(found):
    return [reason.key for reason in found.assumed]


# One step, one line


@given(SIZES)
def test_the_harmonic_mean_lies_between_the_smallest_and_the_largest(sizes):
    mean = harmonic_mean_size(sizes)

    assert min(sizes) * (1 - 1e-9) <= mean <= max(sizes) * (1 + 1e-9)


@given(SIZES)
def test_another_generation_never_brings_diversity_back(sizes):
    assert heterozygosity_kept(sizes) <= heterozygosity_kept(sizes[:-1]) <= 1


def test_no_generation_keeps_everything():
    assert heterozygosity_kept([]) == 1


@pytest.mark.parametrize(
    ("generation", "level", "loci"),
    [
        # the first generation of the table whose homozygous share reaches the level
        (2, 0.5, 1),
        (5, 0.9, 1),
        (6, 0.95, 1),
        (7, 0.98, 1),
        (8, 0.99, 1),
        (6, 0.85, 5),
        (7, 0.86, 5),
    ],
)
def test_a_line_breeds_true_in_the_first_generation_that_reaches_the_level(
    generation, level, loci
):
    assert generation_breeding_true(level, loci) == generation


@given(st.integers(min_value=2, max_value=30), st.integers(min_value=1, max_value=50))
def test_breeding_true_inverts_the_homozygous_share(generation, loci):
    level = homozygosity_after_selfing(generation, loci)

    assert generation_breeding_true(level, loci) == generation


@given(
    st.floats(min_value=0.001, max_value=0.9),
    st.floats(min_value=0.01, max_value=0.999),
    st.sampled_from([False, True, 0.5]),
)
def test_the_fewest_plants_are_enough_and_one_fewer_is_not(frequency, probability, inbred):
    plants = plants_to_capture(frequency, probability, inbred)

    assert allele_capture_probability(frequency, plants, inbred) >= probability - 1e-9
    assert allele_capture_probability(frequency, plants - 1, inbred) < probability


def test_the_fewest_plants_are_not_one_too_many_where_the_answer_is_whole():
    assert plants_to_capture(0.5, 0.75, inbred=True) == 2
    assert plants_to_capture(0.5, 0.75, inbred=False) == 1


def test_a_form_that_everyone_has_is_caught_and_one_that_nobody_has_is_not():
    assert allele_capture_probability(1, 1, inbred=False) == 1
    assert allele_capture_probability(0, 1000, inbred=True) == 0
    assert allele_capture_probability(0.5, 0, inbred=True) == 0


def test_partly_inbred_plants_catch_less_than_outbred_and_more_than_inbred_ones():
    chances = [allele_capture_probability(0.05, 20, inbred=f) for f in (False, 0.5, True)]

    assert chances == sorted(chances, reverse=True)
    assert len(set(chances)) == 3


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        (lambda: harmonic_mean_size([]), "A mean needs at least one generation"),
        (lambda: harmonic_mean_size([10, 0]), "An effective size is 0.5 or more .*, not 0"),
        (lambda: heterozygosity_kept([float("nan")]), "An effective size .*, not nan"),
        (lambda: heterozygosity_after_selfing(0), "whole numbers from 1 .* to 1000, not 0"),
        (lambda: heterozygosity_after_selfing(2.5), "whole numbers from 1 .*, not 2.5"),
        (lambda: homozygosity_after_selfing(6, 0), "Count 1 to 100 000 genes, not 0"),
        (lambda: generation_breeding_true(1), "between 0 and 1, such as 0.95, not 1;"),
        (lambda: effective_size(0, 0.5), "A stand has 1 plant or more, not 0"),
        (lambda: effective_size(10, 95), "from 0 to 1, such as 0.95, not 95"),
        (lambda: dioecious_size(0, 12), "A stand has 1 plant or more, not 0"),
        (lambda: effective_size_by_contribution(20, -1), "0 or more, not -1"),
        (lambda: allele_capture_probability(5, 10, False), "such as 0.05, not 5"),
        (lambda: allele_capture_probability(0.05, 1.5, False), "whole numbers, .* not 1.5"),
        (lambda: allele_capture_probability(0.05, 10, 2), "from 0 to 1, not 2"),
        (lambda: plants_to_capture(0, 0.95, False), "from 0.000001 to below 1"),
        (lambda: plants_to_capture(0.05, 1, False), "such as 0.95, not 1; it is never 1"),
    ],
)
def test_what_cannot_be_is_answered_by_a_sentence(asked, sentence):
    with pytest.raises(ValueError, match=sentence):
        asked()


# Chains


def test_a_deposit_has_kept_everything():
    found = gene_diversity({"lot": "A", "lots": {"A": {"plants": 3}}})

    assert (found.kept, found.generations, found.harmonic_mean_size) == (1, 0, None)
    assert (found.narrowest, found.by_generation, found.assumed) == (None, {}, ())


def test_a_chain_is_plain_data_that_json_can_hold():
    chain = grown(plants=20)

    assert gene_diversity(json.loads(json.dumps(chain))) == gene_diversity(chain)
    assert float(gene_diversity(chain)) == 0.975


def test_shares_may_be_decimals_as_the_database_keeps_them():
    third = Decimal("0.333333")
    lots = {"A": {}, "B": {}, "C": {}}
    lots["D"] = {"parents": {"A": third, "B": third, "C": third}, "mating": "bulk"}

    assert gene_diversity({"lot": "D", "lots": lots}).kept == pytest.approx(1)


def test_a_bulk_of_two_narrow_branches_keeps_more_than_either():
    branch = {"parents": {"A": 1}, "plants": 5}
    bulk = {"parents": {"B": 0.5, "C": 0.5}, "mating": "bulk"}

    found = gene_diversity({"lot": "D", "lots": {"A": {}, "B": branch, "C": branch, "D": bulk}})

    assert found.lots["B"].kept == found.lots["C"].kept == 0.9
    assert found.kept == pytest.approx(0.95)
    assert found.harmonic_mean_size == pytest.approx(10)
    assert found.generations == 1


def test_what_a_shared_ancestor_lost_does_not_come_back_by_bulking():
    wide = {"parents": {"B": 1}, "plants": 10_000_000}
    bulk = {"parents": {"C": 0.5, "D": 0.5}, "mating": "bulk"}
    lots = {"A": {}, "B": {"parents": {"A": 1}, "plants": 5}, "C": wide, "D": wide, "E": bulk}

    found = gene_diversity({"lot": "E", "lots": lots})

    assert found.kept == pytest.approx(0.9, abs=1e-6)
    assert found.narrowest.lot == "B"
    assert found.harmonic_mean_size == pytest.approx(10, rel=1e-5)


def test_paths_of_different_length_are_told_apart():
    lots = {
        "A": {},
        "B": {"parents": {"A": 1}, "plants": 9},
        "C": {"parents": {"B": 1}, "plants": 8},
        "D": {"parents": {"A": 0.25, "C": 0.75}, "plants": 7},
    }

    found = gene_diversity({"lot": "D", "lots": lots}).measured

    assert (found.fewest_generations, found.most_generations) == (1, 3)
    assert found.generations == 2.5


def test_the_grow_outs_are_listed_by_generation_with_the_plants_that_gave_seed():
    lots = {
        "A": {},
        "B": {"parents": {"A": 1}, "plants": 20},
        "C": {"parents": {"A": 1}, "mating": "dioecious", "females": 10, "males": 2},
        "D": {"parents": {"B": 0.5, "C": 0.5}, "mating": "bulk"},
        "E": {"parents": {"D": 1}, "plants": 30, "selfing_rate": 0.5},
    }

    found = gene_diversity({"lot": "E", "lots": lots})

    told = {
        generation: [(lot.lot, lot.plants, round(lot.effective_size, 3)) for lot in grown]
        for generation, grown in found.by_generation.items()
    }
    assert told == {1: [("B", 20, 20), ("C", 12, 6.667)], 2: [("E", 30, 22.5)]}


def test_lots_that_did_not_lead_to_the_measured_one_are_left_out():
    chain = grown(plants=20)
    chain["lots"]["Z"] = {"parents": {"B": 1}, "plants": 1}

    assert list(gene_diversity(chain).lots) == ["A", "B"]


def test_a_clonal_crop_of_one_kind_loses_nothing_more_however_often_it_is_lifted():
    lots = {"A": {"inbreeding": 0.5, "coancestry": 0.75}}
    for n, parent in enumerate("AB"):
        lots["BC"[n]] = {"parents": {parent: 1}, "mating": "clonal", "plants": 3}

    found = gene_diversity({"lot": "C", "lots": lots})

    assert found.kept == 1
    assert found.inbreeding == 0.5
    assert found.generations == 0


def test_a_pure_line_has_nothing_to_lose():
    lots = {"A": {"inbreeding": 1, "coancestry": 1}, "B": {"parents": {"A": 1}, "plants": 1}}

    found = gene_diversity({"lot": "B", "lots": lots})

    assert (found.gene_diversity, found.kept) == (0, 1)


# What was assumed


def test_plants_nobody_noted_are_assumed_and_said():
    found = gene_diversity(grown())

    assert (found.kept, found.assumed[0].source) == (0.975, "common practice, no source")
    assert [reason.sentence for reason in found.assumed] == [
        "Nobody noted how many plants gave seed for B: 20 are assumed."
    ]


def test_the_library_may_say_what_to_assume():
    assert gene_diversity(grown() | {"assumed_plants": 5}).kept == 0.9


def test_plants_that_stood_stand_in_for_those_that_gave_seed():
    found = gene_diversity(grown(stood=10))

    assert found.kept == 0.95
    assert keys(found) == ["chain_plants_as_stood"]


@pytest.mark.parametrize(
    ("record", "males", "told"),
    [
        ({"females": 10, "males": 2}, 2, []),
        ({"females": 10, "stood": 15}, 5, ["chain_males_assumed"]),
        ({"plants": 10}, 10, ["chain_males_assumed"]),
        ({}, 20, ["chain_plants_assumed", "chain_males_assumed"]),
    ],
)
def test_males_nobody_counted_are_assumed_and_said(record, males, told):
    found = gene_diversity(grown(mating="dioecious", **record))

    females = record.get("females") or record.get("plants") or 20
    assert found.measured.effective_size == dioecious_size(males, females)
    assert keys(found) == told


def test_pollen_plants_nobody_counted_are_assumed_and_said():
    lots = {"A": {}, "B": {}}
    lots["C"] = {
        "parents": {"A": None},
        "pollen_parents": {"B": None},
        "mating": "cross",
        "plants": 4,
    }

    found = gene_diversity({"lot": "C", "lots": lots})

    assert found.measured.plants == 8
    assert keys(found) == ["chain_pollen_plants_assumed", "chain_deposits_unrelated"]


def test_shares_nobody_noted_are_equal_and_said():
    lots = {"A": {}, "B": {"parents": {"A": 1}, "plants": 2}}
    bulks = [{"parents": {"A": share, "B": share}, "mating": "bulk"} for share in (None, 0.5)]

    unsaid, said = (gene_diversity({"lot": "C", "lots": lots | {"C": bulk}}) for bulk in bulks)

    assert unsaid.kept == said.kept
    assert (keys(unsaid), keys(said)) == (["chain_shares_equal"], [])


@pytest.mark.parametrize("rate", [None, 0, 0.4])
def test_a_lone_plant_is_taken_to_have_pollinated_itself(rate):
    found = gene_diversity(grown(plants=1, selfing_rate=rate))

    assert (found.kept, found.inbreeding) == (0.5, 0.5)
    assert keys(found) == ["chain_lone_plant"]


def test_a_deposit_of_a_selfing_crop_is_taken_to_be_inbred():
    chain = grown(plants=50, mating="selfing", selfing_rate=0.9)
    chain["lots"]["A"] = {"mating": "selfing", "selfing_rate": 0.9}

    found = gene_diversity(chain)

    assert found.kept == pytest.approx(1 - 1 / (2 * effective_size(50, 0.9)))
    assert found.lots["A"].inbreeding == pytest.approx(0.9 / 1.1)
    assert keys(found) == ["chain_deposit_inbred"]


# What cannot be


@pytest.mark.parametrize(
    ("chain", "sentence"),
    [
        ({}, "A chain is {'lot': the one to measure"),
        (None, "A chain is {'lot': the one to measure"),
        (grown("Z"), "names the lot Z and does not describe it"),
        (grown(parents={"Y": 1}), "names the lot Y and does not describe it"),
        (grown(parents={"B": 1}), "No lot can be its own ancestor: B from B"),
        (grown(parents=["A"]), "Lot B: parents maps each lot to its share"),
        (grown(parents={"A": 0.5}), "Lot B: the shares of its parents make 0.5"),
        (grown(parents={"A": 0}), "Lot B: the share of A is a fraction above 0 to 1, not 0"),
        (grown(parents={"A": "half"}), "Lot B: the share of A .*, not half"),
        (grown(plants=0), "Lot B: plants is a whole number of plants, 1 or more, not 0"),
        (grown(plants=2.5), "Lot B: plants is a whole number .*, not 2.5"),
        (grown(plants="twenty"), "Lot B: plants is a whole number .*, not twenty"),
        (grown(plants=True), "Lot B: plants is a whole number .*, not True"),
        (grown(plants=float("nan")), "Lot B: plants is a whole number .*, not nan"),
        (grown(selfing_rate=95), "Lot B: selfing_rate is a fraction from 0 to 1, not 95"),
        (grown(mating="wind"), "Lot B: mating is one of outcrossing, .*, not 'wind'"),
        (grown(mating="cross"), "Lot B: a cross needs pollen_parents"),
        (grown(plant=20), "Lot B: nothing is known of 'plant'; the words are"),
        (grown() | {"assumed_plants": 0}, "assumed_plants is a whole number"),
        ({"lot": "A", "lots": {"A": 20}}, "Lot A: describe it by a mapping"),
        (
            {"lot": "A", "lots": {"A": {"pollen_parents": {"B": 1}}, "B": {}}},
            "Lot A: pollen parents need seed parents",
        ),
    ],
)
def test_a_chain_that_cannot_be_is_answered_by_a_sentence(chain, sentence):
    with pytest.raises(ValueError, match=sentence):
        gene_diversity(chain)


def test_a_circle_is_named_in_full():
    lots = {"A": {"parents": {"C": 1}}, "B": {"parents": {"A": 1}}, "C": {"parents": {"B": 1}}}

    with pytest.raises(ValueError, match=r"own ancestor: (\w) from \w from \w from \1\."):
        gene_diversity({"lot": "C", "lots": lots})


def test_more_lots_than_can_be_measured_are_refused():
    lots = {"0": {}} | {str(n): {"parents": {str(n - 1): 1}} for n in range(1, 5001)}

    with pytest.raises(ValueError, match="5001 lots led to 5000; up to 5000"):
        gene_diversity({"lot": "5000", "lots": lots})


def test_a_thousand_bulked_lots_are_measured_and_their_order_does_not_matter():
    draw = random.Random(4)
    lots = {"0": {}}
    for n in range(1, 1000):
        parents = draw.sample(range(max(0, n - 30), n), min(n, 3))
        shares = {str(parent): 1 / len(parents) for parent in parents}
        lots[str(n)] = {"parents": shares, "plants": draw.randint(5, 60)}
    lots["end"] = {"parents": {str(n): None for n in range(1000)}, "mating": "bulk"}
    shuffled = draw.sample(list(lots), len(lots))

    found = gene_diversity({"lot": "end", "lots": lots})
    again = gene_diversity({"lot": "end", "lots": {lot: lots[lot] for lot in shuffled}})

    assert len(found.lots) == 1001
    assert 0 < found.kept < 1
    assert again.kept == pytest.approx(found.kept)
