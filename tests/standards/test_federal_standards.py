"""Federal minimum germination and seed sizes: 7 CFR part 201."""

import statistics

import pytest

from library.science.sowing import seeds_from_weight


@pytest.mark.parametrize(
    ("botanical_name", "minimum"),
    [
        # 7 CFR 201.31, typed anew from a copy of the regulation (read)
        ("Phaseolus vulgaris", 70),
        ("Phaseolus coccineus", 75),
        ("Vicia faba", 75),
        ("Beta vulgaris", 65),
        ("Daucus carota subsp. sativus", 55),
        ("Apium graveolens", 55),
        ("Allium schoenoprasum", 50),
        ("Vigna unguiculata", 75),
        ("Cucumis sativus", 80),
        ("Anethum graveolens", 60),
        ("Solanum melongena", 60),
        ("Allium ampeloprasum (Leek Group)", 60),
        ("Lactuca sativa", 80),
        ("Cucumis melo", 75),
        ("Brassica juncea", 75),
        ("Abelmoschus esculentus", 50),
        ("Allium cepa", 70),
        ("Petroselinum crispum", 60),
        ("Pastinaca sativa", 60),
        ("Pisum sativum", 80),
        ("Capsicum annuum", 55),
        ("Zea mays", 75),
    ],
)
def test_the_species_carry_the_federal_minimum(species, botanical_name, minimum):
    assert species[botanical_name]["federal_min_germination_pct"] == str(minimum)


@pytest.mark.parametrize(
    "botanical_name", ["Zinnia elegans", "Ocimum basilicum", "Coriandrum sativum"]
)
def test_kinds_without_a_federal_standard_have_none(species, botanical_name):
    assert species[botanical_name]["federal_min_germination_pct"] == ""


def sizes(species):
    """Seeds in a gram by name: Kew's, and 7 CFR 201.46's where it is one number."""
    return {
        name: (float(row["seeds_per_gram"]), float(row["seeds_per_gram_cfr"]))
        for name, row in species.items()
        if row["seeds_per_gram"] and row["seeds_per_gram_cfr"].isdecimal()
    }


def test_two_sources_of_seed_size_agree_in_general(species):
    # Kew Seed Information Database (snapshot of 2019) against 7 CFR 201.46 Table 1 (2015
    # edition)
    ratios = {name: kew / cfr for name, (kew, cfr) in sizes(species).items()}

    assert len(ratios) >= 35
    assert 0.9 <= statistics.median(ratios.values()) <= 1.1
    assert {n for n, ratio in ratios.items() if not 0.5 <= ratio <= 2} == {
        "Pisum sativum",
        "Cucurbita pepo",
        "Cucurbita maxima",
    }


def test_a_gram_holds_the_seeds_that_the_seed_weight_says(species):
    # seeds_per_gram was computed as 1000 / weight and rounded: to 0.1 for large seed, else
    # whole
    for row in species.values():
        if row["thousand_seed_weight_g"]:
            weight, printed = float(row["thousand_seed_weight_g"]), row["seeds_per_gram"]
            counted = seeds_from_weight(grams=100, thousand_seed_weight_g=weight)

            assert counted / 100 == pytest.approx(float(printed), abs=0.52, rel=0)
