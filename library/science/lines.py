"""A line that is grown on from a first cross: how much of it still varies, and when it breeds
true.

An F1 of two lines carries both forms of every gene at which they differ. Each seed from a
plant's own pollen halves what is left of that; seed from another plant of the line does not.
With ``F`` the inbreeding measured from a stand that mates at random, which is -1 in the F1, and
``s`` the share of seeds from own pollen::

    F(1) = -1,   F(n + 1) = s (1 + F(n)) / 2,   carry both forms: (1 - F(n)) / 2

So the F2 carries both at half of the genes whatever ``s``; with ``s = 1`` each generation
halves it, (1/2)^(n - 1), with ``s = 0`` it stays at a half, and else it comes down to
(1 - s) / (2 - s). This is what is expected of a large stand without selection: few plants, or
the choice of uniform ones, gets there sooner. Sources (from memory): Wright 1921, Genetics
6:111-178; Crow & Kimura 1970; the case s = 1 is in any genetics text.
"""

from __future__ import annotations

from library.science.genetics import MOST_GENERATIONS

SOURCE = (
    "F(n+1) = s (1 + F(n)) / 2 from F = -1 in the F1: Wright 1921, Genetics 6:111-178; Crow & "
    "Kimura 1970 (from memory)"
)
MOST_LOCI = 100_000
_ALMOST = 1e-12  # what rounding may take from a number that is exact on paper


def heterozygosity_in_line(generation: int, selfing_rate: float) -> float:
    """Return the share of the genes at which the F1's parents differed that a plant of this
    generation is expected to carry in both forms.

    Formula: (1 - F) / 2 as above. Units: a fraction; F1 is generation 1; the selfing rate is a
    fraction. Ranges: whole generations 1 to 1000; selfing_rate 0 to 1. Raises ValueError
    outside them. Source: Wright 1921; Crow & Kimura 1970 (from memory).
    """
    rate = _rate(selfing_rate)
    inbreeding = -1.0
    for _ in range(_generation(generation) - 1):
        inbreeding = rate * (1 + inbreeding) / 2
    return (1 - inbreeding) / 2


def homozygosity_in_line(generation: int, selfing_rate: float, loci: int = 1) -> float:
    """Return the chance that a plant of this generation is fixed at all of so many genes.

    Formula: (1 - H)^k for k genes that are inherited independently, H as in
    heterozygosity_in_line; with partial selfing it is a little low, since the same plants tend
    to be fixed at every gene. With one gene it is the share of all genes that are fixed. Units:
    a fraction. Ranges: as there; loci 1 to 100 000. Raises ValueError outside them. Source: as
    there.
    """
    return float((1 - heterozygosity_in_line(generation, selfing_rate)) ** _loci(loci))


def heterozygosity_at_last(selfing_rate: float) -> float:
    """Return the share of differing genes that never settles, however long the line is grown.

    Formula: (1 - s) / (2 - s). Units: fractions. Range: 0 to 1. Raises ValueError outside it.
    Source: as heterozygosity_in_line.
    """
    rate = _rate(selfing_rate)
    return (1 - rate) / (2 - rate)


def generation_true_to(level: float, selfing_rate: float, loci: int = 1) -> int | None:
    """Return the first generation in which the line breeds true to this level, None if never.

    It is the smallest n with (1 - H(n))^k >= level, for k genes; with one gene, the share of
    genes that are fixed. Units: level is a fraction; F1 is generation 1. Ranges: level above 0
    and below 1; selfing_rate 0 to 1; loci 1 to 100 000. Raises ValueError outside them. None
    where crossing between plants keeps more varying than that, and where it would take more
    than 1000 generations. Source: as heterozygosity_in_line.
    """
    if not 0 < level < 1:
        raise ValueError(
            "The level to breed true to lies between 0 and 1, such as 0.95, not "
            f"{level}; it comes ever closer to 1 and never reaches it."
        )
    rate, power = _rate(selfing_rate), _loci(loci)
    inbreeding = -1.0
    for generation in range(1, MOST_GENERATIONS + 1):
        if ((1 + inbreeding) / 2) ** power >= level - _ALMOST:
            return generation
        following = rate * (1 + inbreeding) / 2
        if generation > 2 and following == inbreeding:  # it has settled
            return None
        inbreeding = following
    return None


def _generation(generation: int) -> int:
    if not (1 <= generation <= MOST_GENERATIONS and generation == int(generation)):
        raise ValueError(
            f"Generations are whole numbers from 1 (the F1) to {MOST_GENERATIONS}, not "
            f"{generation}."
        )
    return int(generation)


def _rate(selfing_rate: float) -> float:
    if not 0 <= selfing_rate <= 1:
        raise ValueError(
            f"A selfing rate is a fraction from 0 to 1, such as 0.95, not {selfing_rate}."
        )
    return float(selfing_rate)


def _loci(loci: int) -> int:
    if not (1 <= loci <= MOST_LOCI and loci == int(loci)):
        raise ValueError(f"Count 1 to 100 000 genes, not {loci}.")
    return int(loci)
