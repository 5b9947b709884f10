"""Which rare forms of a gene come through a chain: gene dropping over the whole graph of lots.

A gene whose form stood at a given frequency in every deposit is carried from lot to lot by
chance, for many independent genes at once. A lot's state at a gene is the frequency of the form
and the share of its seeds that carry both forms. Sowing draws the plants that gave seed from
the lots that were sown, two gene copies in each; pouring lots together mixes them. A lot that
is reached by several ways is drawn once, so ways that share it are lost or kept together. The
mean of p(1 - p) over many genes is the gene diversity of `library.science.coancestry`.

Within one stand this is sampling of gametes as in Wright 1931, Genetics 16:97-159: of ``2 N``
for plants of an outbreeder, fewer where plants are inbred, so that a form is caught with the
chance of Marshall & Brown 1975, in Crop Genetic Resources for Today and Tomorrow (both from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from library.science.chains import Chain, Mating, Step, read_chain

if TYPE_CHECKING:
    from numpy.random import Generator
    from numpy.typing import NDArray

SOURCE = (
    "Gene dropping: sampling after Wright 1931, Genetics 16:97-159; capture after Marshall & "
    "Brown 1975 (from memory)"
)
FREQUENCIES = (0.01, 0.05, 0.10, 0.20)
MOST_FREQUENCIES = 20
SEED = 1931
MOST_GENES, FEWEST_GENES = 5_000, 1_000
DRAWS = 200_000  # genes times lots at each frequency: what a page can wait for
_ALMOST_ONE = 1 - 1e-12


@dataclass(frozen=True)
class AlleleRow:
    """Of the forms that stood at ``frequency`` in the deposits, the share that the measured lot
    still has, and the standard error of that share, both fractions; ``genes`` were followed.
    """

    frequency: float
    kept: float
    standard_error: float
    genes: int


def alleles_kept(
    chain: Mapping[str, Any],
    frequencies: Iterable[float] = FREQUENCIES,
    *,
    genes: int | None = None,
    seed: int = SEED,
) -> tuple[AlleleRow, ...]:
    """Return how many of the forms that the deposits held at each frequency are still there.

    The chain is plain data of the shape that `library.science.chains` describes; every deposit
    holds the form at the frequency given. Formula: gene dropping as above; the standard error
    is sqrt(k (1 - k) / genes). Units: fractions. Ranges: up to 5000 lots; up to 20 frequencies,
    each above 0 and below 1; genes 1 to 1 000 000, chosen by the length of the chain when left
    out (5000 for up to 40 lots, 1000 from 200 on). The same seed gives the same numbers.
    Raises ValueError outside them, and for a chain that cannot be. Source: Wright 1931;
    Marshall & Brown 1975 (from memory).
    """
    wanted = tuple(frequencies)
    _check(wanted, genes)
    read = read_chain(chain)
    count = genes or max(FEWEST_GENES, min(MOST_GENES, DRAWS // len(read.steps)))
    return tuple(
        _row(frequency, frequency_in_lots(read, frequency, genes=count, seed=seed)[read.lot])
        for frequency in wanted
    )


def frequency_in_lots(
    chain: Chain, frequency: float, *, genes: int, seed: int = SEED
) -> dict[str, NDArray[Any]]:
    """Return for each lot of a read chain the form's frequency at each of so many genes."""
    import numpy as np

    drop = _GeneDrop(np.random.default_rng((seed, round(frequency * 1e9))), frequency, genes)
    for step in chain.steps:
        drop.make(step)
    return drop.form


def _check(frequencies: tuple[float, ...], genes: int | None) -> None:
    if len(frequencies) > MOST_FREQUENCIES:
        raise ValueError(f"Ask for up to {MOST_FREQUENCIES} frequencies at once.")
    for frequency in frequencies:
        if not 1e-9 <= frequency <= 1 - 1e-9:
            raise ValueError(
                f"A frequency lies above 0 and below 1, such as 0.05, not {frequency}."
            )
    if genes is not None and not (1 <= genes <= 1_000_000 and genes == int(genes)):
        raise ValueError(f"Follow 1 to 1 000 000 genes, not {genes}.")


def _row(frequency: float, left: NDArray[Any]) -> AlleleRow:
    kept = float((left > 0).mean())
    genes = len(left)
    return AlleleRow(frequency, kept, math.sqrt(kept * (1 - kept) / genes), genes)


class _GeneDrop:
    """The genes of all lots, filled in from parents to children.

    ``form`` is the frequency of the form in a lot, ``both`` the share of its seeds that carry
    both forms; one number for each gene.
    """

    def __init__(self, chance: Generator, frequency: float, genes: int) -> None:
        self.chance, self.frequency, self.genes = chance, frequency, genes
        self.form: dict[str, NDArray[Any]] = {}
        self.both: dict[str, NDArray[Any]] = {}

    def make(self, step: Step) -> None:
        if step.is_deposit:
            form, both = self._deposit(step)
        elif step.mating is Mating.BULK:
            form, both = self._mixed(step.seed_side)
        elif step.two_sided:
            form, both = self._two_sided(step)
        else:
            form, both = self._stand(step)
        self.form[step.lot], self.both[step.lot] = form, both

    def _deposit(self, step: Step) -> tuple[NDArray[Any], NDArray[Any]]:
        import numpy as np

        p = self.frequency
        within = 0.0  # inbreeding beside the lot's own seeds: -1 where all carry both forms
        if step.coancestry < _ALMOST_ONE:
            within = (step.inbreeding - step.coancestry) / (1 - step.coancestry)
        both = min(max(2 * p * (1 - p) * (1 - within), 0.0), 2 * min(p, 1 - p))
        return np.full(self.genes, p), np.full(self.genes, both)

    def _mixed(self, side: Mapping[str, float]) -> tuple[NDArray[Any], NDArray[Any]]:
        if len(side) == 1:
            lot = next(iter(side))
            return self.form[lot], self.both[lot]
        form = sum(share * self.form[lot] for lot, share in side.items())
        both = sum(share * self.both[lot] for lot, share in side.items())
        return form, both  # type: ignore[return-value]

    def _plants(
        self, side: Mapping[str, float], plants: int
    ) -> tuple[NDArray[Any], NDArray[Any]]:
        """Draw the plants that gave genes: the form's frequency, and the share with both."""
        import numpy as np

        form, both = self._mixed(side)
        pure = np.clip(form - both / 2, 0.0, 1.0)  # carry the form twice
        once = np.divide(both, 1 - pure, out=np.zeros_like(both), where=pure < 1)
        twice = self.chance.binomial(plants, pure)
        single = self.chance.binomial(plants - twice, np.clip(once, 0.0, 1.0))
        return (twice + single / 2) / plants, single / plants

    def _two_sided(self, step: Step) -> tuple[NDArray[Any], NDArray[Any]]:
        mothers, _ = self._plants(step.seed_side, step.mothers)
        fathers, _ = self._plants(step.pollen_side, step.fathers)
        return (mothers + fathers) / 2, mothers * (1 - fathers) + fathers * (1 - mothers)

    def _stand(self, step: Step) -> tuple[NDArray[Any], NDArray[Any]]:
        form, carriers = self._plants(step.seed_side, step.mothers)
        if step.mating is Mating.CLONAL:
            return form, carriers
        selfed, plants = carriers / 2, step.mothers
        rate = step.selfing_rate
        if plants == 1 or rate is None:
            rate = 1 / plants
        if plants == 1:
            return form, selfed
        # Two genes of two different plants: what two genes of the stand would be, less those
        # of one plant.
        crossed = (2 * form * (1 - form) - selfed / plants) * plants / (plants - 1)
        return form, rate * selfed + (1 - rate) * crossed
