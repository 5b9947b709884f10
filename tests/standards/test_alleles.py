"""Gene dropping and lines against exact chances and worked rows.

The simulation's seed is fixed, so that a check that passes passes always; each allows the
simulation four of its own standard errors.
"""

import numpy as np
import pytest
from scipy.stats import binom

from library.science.alleles import alleles_kept, frequency_in_lots
from library.science.chains import read_chain
from library.science.genetics import allele_capture_probability, gene_diversity
from library.science.lines import generation_true_to, heterozygosity_in_line
from tests.standards.test_coancestry import random_lots
from tests.standards.test_genetics import CAPTURED, SELFED, line_of

GENES = 20_000


def agrees(row, expected):
    return row.kept == pytest.approx(expected, abs=4 * max(row.standard_error, 1 / GENES))


@pytest.mark.parametrize(("frequency", "plants", "chance"), CAPTURED)
def test_one_generation_catches_what_the_table_prints(frequency, plants, chance):
    """Marshall & Brown 1975 (from memory), genetics.md section 5: 1 - (1 - p)^(2n)."""
    row = alleles_kept(line_of([plants]), [frequency], genes=GENES)[0]

    assert agrees(row, float(chance))
    assert agrees(row, 1 - (1 - frequency) ** (2 * plants))


@pytest.mark.parametrize(("rate", "inbreeding"), [(1.0, 1.0), (0.8, 2 / 3)])
@pytest.mark.parametrize("frequency", [0.05, 0.2])
def test_one_generation_of_inbred_plants_catches_less(frequency, rate, inbreeding):
    """Marshall & Brown 1975; between the two, plants without it as in Wright (from memory)."""
    chain = line_of([15], mating="selfing", selfing_rate=rate)
    chain["lots"]["0"] = {"mating": "selfing", "selfing_rate": rate}

    row = alleles_kept(chain, [frequency], genes=GENES)[0]

    assert agrees(row, allele_capture_probability(frequency, 15, inbreeding))


@pytest.mark.parametrize("sizes", [(10,), (20, 20, 20), (50, 5, 50, 50), (2, 2, 2, 2, 2)])
@pytest.mark.parametrize("frequency", [0.05, 0.2])
def test_a_line_agrees_with_the_exact_chain_of_binomial_samples(sizes, frequency):
    """Wright 1931; the transition matrix is in Ewens 1979, Mathematical Population Genetics
    (from memory): binomial samples of 2N, each from the frequency that the last one left.
    """
    copies, chances = np.array([0]), np.array([1.0])
    pool = np.array([frequency])
    for plants in sizes:
        copies = np.arange(2 * plants + 1)
        chances = chances @ binom.pmf(copies, 2 * plants, pool[:, None])
        pool = copies / (2 * plants)

    row = alleles_kept(line_of(sizes), [frequency], genes=GENES)[0]

    assert agrees(row, 1 - chances[0])


SHAPES = {
    "bulked again": {
        "A": {},
        "B": {"parents": {"A": 1}, "plants": 4},
        "C": {"parents": {"A": 1}, "plants": 6, "mating": "selfing", "selfing_rate": 0.8},
        "D": {"parents": {"B": 0.3, "C": 0.7}, "mating": "bulk"},
        "E": {"parents": {"D": 1}, "plants": 3, "mating": "dioecious", "males": 2},
        "Z": {"parents": {"E": 0.5, "B": 0.5}, "plants": 8},
    },
    "a plant alone, and one that cannot self": {
        "A": {},
        "B": {"parents": {"A": 1}, "plants": 1},
        "C": {"parents": {"A": 0.5, "B": 0.5}, "plants": 5, "selfing_rate": 0},
        "Z": {"parents": {"C": 1}, "plants": 5, "selfing_rate": 0.3},
    },
    "an F1 grown on": {
        "A": {"inbreeding": 0, "coancestry": 0.5},
        "B": {"parents": {"A": 1}, "plants": 6, "mating": "selfing"},
        "Z": {"parents": {"B": 1}, "plants": 3, "mating": "selfing"},
    },
    "clones and a cross": {
        "A": {},
        "B": {},
        "C": {"parents": {"A": 1}, "plants": 3, "mating": "clonal"},
        "Z": {
            "parents": {"C": 1},
            "pollen_parents": {"B": 1},
            "mating": "cross",
            "plants": 4,
            "pollen_plants": 2,
        },
    },
}


@pytest.mark.parametrize("shape", SHAPES)
def test_the_diversity_of_the_genes_that_were_dropped_is_the_recursions(shape):
    """Two ways to one number: dropping genes, and coancestry (Malécot 1948, from memory). Of
    forms that stand at p in the deposits, E[q (1 - q)] = p (1 - p) (share of diversity kept).
    """
    chain = {"lot": "Z", "lots": SHAPES[shape]}
    start = 0.5

    form = frequency_in_lots(read_chain(chain), start, genes=GENES)
    diversity = gene_diversity(chain)

    for lot, found in diversity.lots.items():
        spread = 4 * form[lot] * (1 - form[lot])
        error = float(spread.std()) / GENES**0.5
        deposited = 1 - chain["lots"]["A"].get("coancestry", 0)
        kept = found.gene_diversity / deposited
        assert float(spread.mean()) == pytest.approx(kept, abs=4 * error + 1e-9)


def test_so_it_is_on_random_graphs_with_bulking():
    """As above, for every kind of mating, bulks, and several ways to one ancestor."""
    misses = []
    for seed in range(12):
        chain = {"lot": "end", "lots": random_lots(seed)}
        form = frequency_in_lots(read_chain(chain), 0.3, genes=GENES, seed=seed)["end"]
        spread = form * (1 - form) / (0.3 * 0.7)
        error = float(spread.std()) / GENES**0.5
        misses.append((float(spread.mean()) - gene_diversity(chain).gene_diversity) / error)

    # In standard errors: none is far out, and they lie to both sides.
    assert max(abs(miss) for miss in misses) < 4
    assert abs(np.mean(misses)) < 1


@pytest.mark.parametrize("name", SELFED)
def test_a_line_that_is_selfed_halves_what_varies(name):
    """genetics.md section 3: any genetics text (from memory)."""
    varies, settled = SELFED[name]
    generation = int(name.removeprefix("F"))

    assert heterozygosity_in_line(generation, 1) == float(varies)
    assert 1 - heterozygosity_in_line(generation, 1) == float(settled)


def test_the_worked_line_to_f6():
    """genetics.md section 3: to F6 about 97 % per gene; all of five genes 0.853215."""
    assert generation_true_to(0.968, 1) == 6
    assert generation_true_to(0.853, 1, loci=5) == 6
    assert generation_true_to(0.854, 1, loci=5) == 7


@pytest.mark.parametrize(
    ("rate", "left"), [(0.5, 1 / 3), (0.9, 1 / 11), (0.95, 1 / 21), (1.0, 0.0)]
)
def test_a_partly_selfed_line_settles_at_the_inbreeding_of_the_worked_rows(rate, left):
    """genetics.md section 3, F = s / (2 - s), so that (1 - F) / 2 of the genes still vary;
    s = 0.5: F = 1/3, s = 0.9: 0.818182, s = 0.95: 0.904762 (Crow & Kimura 1970, from memory).
    """
    assert heterozygosity_in_line(400, rate) == pytest.approx(left)


def test_a_partly_selfed_line_agrees_with_the_coancestry_recursion():
    """A large stand from one F1: the chain's own inbreeding is the line's."""
    lots = {"0": {"inbreeding": 0, "coancestry": 0.5}}
    for n in range(1, 8):
        lots[str(n)] = {
            "parents": {str(n - 1): 1},
            "plants": 10_000_000,
            "mating": "selfing",
            "selfing_rate": 0.8,
        }

    found = gene_diversity({"lot": "7", "lots": lots})

    for n in range(8):
        left = 1 - found.lots[str(n)].inbreeding
        assert left == pytest.approx(heterozygosity_in_line(n + 1, 0.8), abs=1e-6)
