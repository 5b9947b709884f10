"""How much of a variety's diversity comes through, when seed is saved from few plants.

What is measured is the chance that two genes picked at random differ: *heterozygosity* when
they come from one plant, *gene diversity* when from two. Each grow-out loses a part of it, the
more the fewer plants gave seed. Whole chains, with bulked lots and shared ancestors, are
measured by `gene_diversity`; the other functions here are the arithmetic of one step or one
line.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from library.science.coancestry import ChainDiversity, LotDiversity, gene_diversity

__all__ = [
    "ChainDiversity",
    "LotDiversity",
    "allele_capture_probability",
    "dioecious_size",
    "effective_size",
    "effective_size_by_contribution",
    "equilibrium_inbreeding",
    "gene_diversity",
    "generation_breeding_true",
    "harmonic_mean_size",
    "heterozygosity_after_selfing",
    "heterozygosity_kept",
    "homozygosity_after_selfing",
    "plants_to_capture",
]

MOST_GENERATIONS = 1000
MOST_PLANTS = 1_000_000_000
_ALMOST = 1e-12  # what rounding may take from a power that is exact on paper


def harmonic_mean_size(sizes: Iterable[float]) -> float:
    """Return the constant effective size that loses as much as these successive ones.

    Formula: Ne = t / sum(1 / N_i) over t generations; the smallest ones weigh most. Units:
    plants that gave seed (or the effective size of each generation). Range: at least one size,
    each 0.5 (a single plant of a line that is selfed throughout) or more. Raises ValueError
    outside it. Source: Falconer & Mackay 1996, Introduction to Quantitative Genetics, 4th ed.,
    ch. 4; Crow & Kimura 1970 (from memory).
    """
    checked = _sizes(sizes)
    if not checked:
        raise ValueError("A mean needs at least one generation; give the plants of each.")
    return len(checked) / math.fsum(1 / size for size in checked)


def heterozygosity_kept(sizes: Iterable[float]) -> float:
    """Return the share of the expected heterozygosity that is left after these generations.

    Formula: H_t / H_0 = prod(1 - 1 / (2 Ne_i)), the exact product; the inbreeding that has come
    about is 1 minus it. Units: effective size of each generation, in plants; the result is a
    fraction. Range: each 0.5 or more; no generation at all keeps everything. Raises ValueError
    outside it. It holds for random mating within a stand that sheds its pollen freely; for
    bulked lots and shared ancestors use `gene_diversity`. Source: Falconer & Mackay 1996, ch. 3
    and 4 (from memory).
    """
    return math.prod(1 - 1 / (2 * size) for size in _sizes(sizes))


def heterozygosity_after_selfing(generation: int) -> float:
    """Return the share of a hybrid's differing genes at which a selfed plant still carries
    both forms.

    Formula: (1/2)^(n - 1); F1 is generation 1 and carries both at all of them. Units: a
    fraction. Range: whole generations 1 to 1000. Raises ValueError outside it. Source: Mendel
    1866, as in any genetics text (from memory).
    """
    return 0.5 ** (_generation(generation) - 1)


def homozygosity_after_selfing(generation: int, loci: int = 1) -> float:
    """Return the chance that a selfed plant of this generation is fixed at all of so many
    genes.

    Formula: (1 - (1/2)^(n - 1))^k for k genes that are inherited independently. Units: a
    fraction. Ranges: whole generations 1 (the F1) to 1000; loci 1 to 100 000. Raises ValueError
    outside them. Source: as heterozygosity_after_selfing.
    """
    return float((1 - heterozygosity_after_selfing(generation)) ** _loci(loci))


def generation_breeding_true(level: float, loci: int = 1) -> int:
    """Return the first generation of selfing in which a line breeds true to this level.

    It is the smallest n with (1 - (1/2)^(n - 1))^k >= level: the chance that a plant is fixed
    at all k genes that matter, or, with one gene, the share of all genes that are fixed. Units:
    level is a fraction; F1 is generation 1. Ranges: level above 0 and below 1; loci 1 to
    100 000. Raises ValueError outside them. It holds for a crop that is selfed in every
    generation, one plant to each line; selection for uniform plants gets there sooner. Source:
    as heterozygosity_after_selfing.
    """
    if not 0 < level < 1:
        raise ValueError(
            "The level to breed true to lies between 0 and 1, such as 0.95, not "
            f"{level}; it comes ever closer to 1 and never reaches it."
        )
    generation = 2
    while homozygosity_after_selfing(generation, loci) < level - _ALMOST:
        generation += 1
    return generation


def equilibrium_inbreeding(selfing_rate: float) -> float:
    """Return the inbreeding coefficient at which a partly selfing population settles.

    Formula: F = s / (2 - s). Units: both fractions. Range: 0 (never selfs) to 1 (always).
    Raises ValueError outside it. Source: Crow & Kimura 1970; Pollak 1987 (from memory).
    """
    if not 0 <= selfing_rate <= 1:
        raise ValueError(
            f"A selfing rate is a fraction from 0 to 1, such as 0.95, not {selfing_rate}."
        )
    return selfing_rate / (2 - selfing_rate)


def effective_size(census: float, selfing_rate: float) -> float:
    """Return how many randomly mating plants so many plants of a partly selfing crop count for.

    Formula: Ne = N / (1 + F) with F = s / (2 - s). Units: plants that gave seed; the selfing
    rate is a fraction. Ranges: census 1 or more; selfing_rate 0 to 1. Raises ValueError outside
    them. Source: Crow & Kimura 1970; Pollak 1987 (from memory).
    """
    return _plants(census) / (1 + equilibrium_inbreeding(selfing_rate))


def dioecious_size(males: float, females: float) -> float:
    """Return the effective size of a stand whose plants are either male or female.

    Formula: Ne = 4 Nm Nf / (Nm + Nf): the rarer sex decides. Units: plants that shed pollen and
    plants that gave seed. Range: each 1 or more. Raises ValueError outside it. Source: Wright
    1931, Genetics 16:97-159 (from memory); university lecture notes.
    """
    pollen, seed = _plants(males), _plants(females)
    return 4 * pollen * seed / (pollen + seed)


def effective_size_by_contribution(plants: float, variance: float) -> float:
    """Return the effective size when some plants gave more of the seed than others.

    Formula: Ne = (4N - 2) / (Vk + 2), for a stand that keeps its size. Vk is the variance
    between plants of how many seeds of each became plants of the next stand: 0 when the same
    number was taken from each, which nearly doubles the effective size; about 2 when seed was
    taken blindly from an even mixture. Ranges: plants 1 or more; variance 0 or more. Raises
    ValueError outside them. Source: Crow & Kimura 1970 (from memory).
    """
    if not 0 <= variance < math.inf:
        raise ValueError(f"A variance of seeds per plant is 0 or more, not {variance}.")
    return (4 * _plants(plants) - 2) / (variance + 2)


def allele_capture_probability(frequency: float, plants: int, inbred: float | bool) -> float:
    """Return the chance that so many plants carry at least one copy of a gene's form.

    Formula: 1 - ((1 - p)^2 + F p (1 - p))^n for n plants with inbreeding F, which is
    1 - (1 - p)^(2n) for plants of an outbreeder (False, or 0) and 1 - (1 - p)^n for those of a
    fully inbred population (True, or 1). What is left to 1 is the chance that it is lost.
    Units: fractions. Ranges: frequency 0 to 1; plants 0 or more, whole; inbred False, True, or
    an inbreeding coefficient from 0 to 1. Raises ValueError outside them. Source: Marshall &
    Brown 1975, in Crop Genetic Resources for Today and Tomorrow (from memory); between the two,
    the share of plants without the form is Wright's.
    """
    p, inbreeding = _frequency(frequency), _inbreeding(inbred)
    if not (0 <= plants <= MOST_PLANTS and plants == int(plants)):
        raise ValueError(f"Plants are counted in whole numbers, 0 or more, not {plants}.")
    without = (1 - p) ** 2 + inbreeding * p * (1 - p)
    return float(1 - without ** int(plants))


def plants_to_capture(frequency: float, probability: float, inbred: float | bool) -> int:
    """Return the fewest plants that carry a gene's form with at least this chance.

    It inverts allele_capture_probability: ln(1 - P) / ln(1 - p) gametes, of which a plant of an
    outbreeder carries two. Units: fractions. Ranges: frequency and probability above 0 and
    below 1, frequency at least 0.000001; inbred as there. Raises ValueError outside them.
    Source: Marshall & Brown 1975; Brown & Marshall 1995 (from memory): 59 gametes for 95 % at
    0.05.
    """
    p, inbreeding = _frequency(frequency), _inbreeding(inbred)
    if not 1e-6 <= p < 1:
        raise ValueError(
            f"Give a frequency from 0.000001 to below 1, such as 0.05, not {frequency}."
        )
    if not 0 < probability < 1:
        raise ValueError(
            f"The chance lies between 0 and 1, such as 0.95, not {probability}; it is never 1."
        )
    without = (1 - p) ** 2 + inbreeding * p * (1 - p)
    needed = math.log1p(-probability) / math.log(without)
    return max(1, math.ceil(needed - _ALMOST * max(1.0, needed)))


def _sizes(sizes: Iterable[float]) -> list[float]:
    checked = list(sizes)
    for size in checked:
        if not 0.5 <= size <= MOST_PLANTS:
            raise ValueError(
                "An effective size is 0.5 or more (a single plant of an outbreeder counts 1), "
                f"not {size}."
            )
    return checked


def _plants(count: float) -> float:
    if not 1 <= count <= MOST_PLANTS:
        raise ValueError(f"A stand has 1 plant or more, not {count}.")
    return count


def _generation(generation: int) -> int:
    if not (1 <= generation <= MOST_GENERATIONS and generation == int(generation)):
        raise ValueError(
            f"Generations are whole numbers from 1 (the F1) to {MOST_GENERATIONS}, not "
            f"{generation}."
        )
    return int(generation)


def _loci(loci: int) -> int:
    if not (1 <= loci <= 100_000 and loci == int(loci)):
        raise ValueError(f"Count 1 to 100 000 genes, not {loci}.")
    return int(loci)


def _frequency(frequency: float) -> float:
    if not 0 <= frequency <= 1:
        raise ValueError(
            f"A frequency is a fraction from 0 to 1, such as 0.05, not {frequency}."
        )
    return frequency


def _inbreeding(inbred: float | bool) -> float:
    if not 0 <= inbred <= 1:
        raise ValueError(
            "Say False for plants of an outbreeder, True for those of an inbreeder, or an "
            f"inbreeding coefficient from 0 to 1, not {inbred}."
        )
    return float(inbred)
