"""Gene diversity along a chain that branches, joins and is poured together.

The coancestry of two lots is the chance that two genes, picked at random from two seeds, one of
each lot, are copies of one gene of a deposit. It is carried from parents to children, so that a
lot that is reached by several ways, of whatever length, counts for what it is. For a lot grown
from parents with shares ``w`` by plants that gave seed:

* to any other lot M: the mean of its parents' coancestries with M, weighted by their shares;
* to itself: ``c (1 + F) / 2 + (1 - c) T``, where ``T = sum w_i w_j (coancestry of i and j)`` is
  that of two plants of the stand, ``F`` their mean inbreeding, and ``c`` the chance that two
  genes come through one plant: ``1 / N``, or ``1 / (4 Nm) + 1 / (4 Nf)`` where the sexes are
  apart;
* the inbreeding of its seeds: ``s (1 + F) / 2 + (1 - s) T`` with selfing rate ``s``, where
  random mating within the stand means ``s = 1 / N``.

Bulking only mixes. Lots are taken to hold many more seeds than are sown of them, every plant
to give about the same part of the seed, and the plants of a stand to be drawn at random from
the lots that were sown. Sources (from memory): Wright 1922, American Naturalist 56:330-338;
Malécot 1948, Les mathématiques de l'hérédité; Cockerham 1967, Genetics 56:89-104; Crow & Kimura
1970 for sizes and sexes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from library.science.chains import Chain, Mating, Step, read_chain
from library.science.reasons import Reason

if TYPE_CHECKING:
    from numpy.typing import NDArray

SOURCE = (
    "Coancestry recursion: Malécot 1948; Cockerham 1967, Genetics 56:89-104; sizes after Crow "
    "& Kimura 1970"
)


@dataclass(frozen=True, kw_only=True)
class LotDiversity:
    """What is left in one lot of a chain.

    ``gene_diversity`` is the chance that two genes of two of its seeds are not copies of one
    gene of a deposit; ``kept`` that diversity as a share of what the deposits held between
    them, mixed as they are in this lot (1 where they held none to lose); ``inbreeding`` the
    chance that a seed's own two genes are copies. ``plants`` gave its genes and count for
    ``effective_size``; both are None where nothing was grown, and a clonal crop, whose genes
    are not shuffled, has no effective size. ``generations`` is the mean number of times its
    genes were grown on from seed since the deposit, between ``fewest_generations`` and
    ``most_generations``.
    """

    lot: str
    gene_diversity: float
    kept: float
    inbreeding: float
    plants: int | None
    effective_size: float | None
    generations: float
    fewest_generations: int
    most_generations: int


@dataclass(frozen=True, kw_only=True)
class ChainDiversity:
    """What a chain kept, lot by lot, and what was assumed where nobody noted.

    ``kept``, ``gene_diversity``, ``inbreeding`` and ``generations`` are the measured lot's.
    ``harmonic_mean_size`` weighs each grow-out by the part of the lot's genes that came through
    it: ``t / sum(c^2 / Ne)``, the plain harmonic mean for a line; None before the first
    grow-out. ``lots`` are in order, parents before children. ``float()`` of it is ``kept``.
    """

    lot: str
    lots: Mapping[str, LotDiversity]
    harmonic_mean_size: float | None
    assumed: tuple[Reason, ...]
    source: str = SOURCE

    def __float__(self) -> float:
        return self.kept

    @property
    def measured(self) -> LotDiversity:
        """The lot that was asked for."""
        return self.lots[self.lot]

    @property
    def kept(self) -> float:
        return self.measured.kept

    @property
    def gene_diversity(self) -> float:
        return self.measured.gene_diversity

    @property
    def inbreeding(self) -> float:
        return self.measured.inbreeding

    @property
    def generations(self) -> float:
        return self.measured.generations

    @property
    def narrowest(self) -> LotDiversity | None:
        """The grow-out with the smallest effective size, the first of them; None before any."""
        grown = [lot for lot in self.lots.values() if lot.effective_size is not None]
        return min(grown, key=lambda lot: lot.effective_size or 0.0, default=None)

    @property
    def by_generation(self) -> dict[int, tuple[LotDiversity, ...]]:
        """The grow-outs by how many generations, at most, lie between them and a deposit."""
        generations: dict[int, tuple[LotDiversity, ...]] = {}
        for lot in self.lots.values():
            if lot.effective_size is not None:
                beside = generations.get(lot.most_generations, ())
                generations[lot.most_generations] = (*beside, lot)
        return dict(sorted(generations.items()))


def gene_diversity(chain: Mapping[str, Any]) -> ChainDiversity:
    """Return how much of the deposits' gene diversity a lot has kept, over the whole graph of
    lots that led to it.

    Units: fractions, plants, generations. The chain is plain data of the shape that
    `library.science.chains` describes, such as ``{"lot": "B", "lots": {"A": {}, "B":
    {"parents": {"A": 1}, "plants": 20}}}``. Range: up to 5000 lots. Raises ValueError, naming
    the lot, for a chain that cannot be. Formula: 1 - coancestry, by the recursion above.
    Source: Malécot 1948; Cockerham 1967; Crow & Kimura 1970 (from memory). Where plants were
    not recorded, ``assumed`` says what was taken instead.
    """
    read = read_chain(chain)
    recursion = _Recursion(read)
    lots = {step.lot: recursion.lot_diversity(n, step) for n, step in enumerate(read.steps)}
    return ChainDiversity(
        lot=read.lot,
        lots=lots,
        harmonic_mean_size=_harmonic_mean_size(read),
        assumed=read.assumed,
    )


class _Recursion:
    """The coancestries of all lots of a chain, filled in from parents to children."""

    def __init__(self, chain: Chain) -> None:
        import numpy as np

        self.places = {step.lot: n for n, step in enumerate(chain.steps)}
        deposits = [n for n, step in enumerate(chain.steps) if step.is_deposit]
        self.deposit_places = {n: place for place, n in enumerate(deposits)}
        size = len(chain.steps)
        self.coancestry = np.zeros((size, size))
        self.inbreeding = np.zeros(size)
        self.origins = np.zeros((size, len(deposits)))
        self.fewest, self.most, self.mean = [0] * size, [0] * size, [0.0] * size
        for n, step in enumerate(chain.steps):
            if step.is_deposit:
                self._deposit(n, step)
            else:
                self._descend(n, step)
        self.deposited = self.coancestry[np.ix_(deposits, deposits)]

    def lot_diversity(self, n: int, step: Step) -> LotDiversity:
        diversity = 1.0 - float(self.coancestry[n, n])
        origin = self.origins[n]
        deposited = 1.0 - float(origin @ self.deposited @ origin)
        return LotDiversity(
            lot=step.lot,
            gene_diversity=diversity,
            kept=diversity / deposited if deposited > 1e-12 else 1.0,
            inbreeding=float(self.inbreeding[n]),
            plants=_plants(step),
            effective_size=_effective_size(step) if step.is_growout else None,
            generations=self.mean[n],
            fewest_generations=self.fewest[n],
            most_generations=self.most[n],
        )

    def _deposit(self, n: int, step: Step) -> None:
        self.coancestry[n, n] = step.coancestry
        self.inbreeding[n] = step.inbreeding
        self.origins[n, self.deposit_places[n]] = 1.0

    def _descend(self, n: int, step: Step) -> None:
        seed, pollen = self._weights(step.seed_side), self._weights(step.pollen_side)
        both = self._weights(step.sources())
        row = sum(share * self.coancestry[place, :n] for place, share in both.items())
        self.coancestry[n, :n] = self.coancestry[:n, n] = row
        self.origins[n] = sum(share * self.origins[place] for place, share in both.items())
        self._reproduce(n, step, seed, pollen)
        grown = int(step.is_growout)
        self.mean[n] = grown + sum(self.mean[place] * share for place, share in both.items())
        self.fewest[n] = grown + min(self.fewest[place] for place in both)
        self.most[n] = grown + max(self.most[place] for place in both)

    def _reproduce(
        self, n: int, step: Step, seed: dict[int, float], pollen: dict[int, float]
    ) -> None:
        stand = self._between(seed, seed)
        inbreeding = sum(self.inbreeding[place] * share for place, share in seed.items())
        one_plant = (1 + inbreeding) / 2
        if step.mating is Mating.BULK:
            own, born = stand, inbreeding
        elif step.two_sided:
            born = self._between(seed, pollen)
            maternal = _same_or_not(1 / step.mothers, one_plant, stand)
            paternal = self._paternal(step, pollen)
            own = (maternal + paternal + 2 * born) / 4
        else:
            own = _same_or_not(1 / step.mothers, one_plant, stand)
            born = _same_or_not(_own_pollen(step), one_plant, stand)
            if step.mating is Mating.CLONAL:
                born = inbreeding
        self.coancestry[n, n], self.inbreeding[n] = own, born

    def _paternal(self, step: Step, pollen: dict[int, float]) -> float:
        inbreeding = sum(self.inbreeding[place] * share for place, share in pollen.items())
        stand = self._between(pollen, pollen)
        return _same_or_not(1 / step.fathers, (1 + inbreeding) / 2, stand)

    def _between(self, ones: dict[int, float], others: dict[int, float]) -> float:
        """The coancestry of two different plants, one drawn of each mixture."""
        if len(ones) == len(others) == 1:
            return float(self.coancestry[next(iter(ones)), next(iter(others))])
        import numpy as np

        block = self.coancestry[np.ix_(list(ones), list(others))]
        left: NDArray[Any] = np.fromiter(ones.values(), float)
        return float(left @ block @ np.fromiter(others.values(), float))

    def _weights(self, side: Mapping[str, float]) -> dict[int, float]:
        return {self.places[lot]: share for lot, share in side.items()}


def _same_or_not(same: float, one_plant: float, stand: float) -> float:
    """What two genes share that come through one plant with this chance, else through two."""
    return float(same * one_plant + (1 - same) * stand)


def _own_pollen(step: Step) -> float:
    """The chance that a seed's pollen came from its own mother."""
    if step.selfing_rate is None or step.mothers == 1:
        return 1 / step.mothers
    return step.selfing_rate


def _effective_size(step: Step) -> float:
    if step.two_sided:
        return 4 * step.mothers * step.fathers / (step.mothers + step.fathers)
    rate = step.selfing_rate or 0.0
    return step.mothers / (1 + rate / (2 - rate))


def _plants(step: Step) -> int | None:
    """The plants that gave genes; None where nothing grew, or before the deposit."""
    if step.mothers == 0:
        return None
    return step.mothers + step.fathers if step.two_sided else step.mothers


def _harmonic_mean_size(chain: Chain) -> float | None:
    """Each grow-out by the part of the lot's genes that came through it."""
    parts = {step.lot: 0.0 for step in chain.steps} | {chain.lot: 1.0}
    generations = losses = 0.0
    for step in reversed(chain.steps):
        part = parts[step.lot]
        if step.is_growout:
            generations += part
            losses += part**2 / _effective_size(step)
        for lot, share in step.sources().items():
            parts[lot] += part * share
    return generations / losses if losses else None
