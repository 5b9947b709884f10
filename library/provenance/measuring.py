"""What a chain has kept of what was deposited, in numbers that explain themselves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from library.catalogue.models import SpeciesFigure
from library.provenance.assumptions import assumptions
from library.provenance.chain import Chain
from library.provenance.line import LineProgress, line_of
from library.provenance.mating import described
from library.science.alleles import FREQUENCIES, AlleleRow, alleles_kept
from library.science.coancestry import SOURCE, ChainDiversity, LotDiversity, gene_diversity
from library.stock.models import Lot

__all__ = [
    "AlleleRow",
    "ChainMeasures",
    "LineProgress",
    "Measure",
    "chain_data",
    "is_bottleneck",
    "measure",
]

TOO_FEW = 5  # where nobody wrote down how many plants keep the species
OF_ONE_CROSS = (0.5,)  # an F1 and a clone carry a form once or twice, never rarely
SIZE_SOURCE = "Falconer & Mackay 1996, ch. 4; Crow & Kimura 1970 (from memory)"


@dataclass(frozen=True)
class Measure:
    """One number of a chain, in words; ``number`` is None where there is nothing to count."""

    key: str
    label: str
    value: str
    number: float | None
    formula: str
    source: str
    sentence: str


@dataclass(frozen=True)
class ChainMeasures:
    """What was measured of a chain; lots are told by their numbers.

    ``population`` is how many plants keep the variety, None where nobody knows. ``assumed``
    are translated sentences. ``narrowest`` is the grow-out with the smallest effective size.
    """

    diversity: ChainDiversity
    lots: Mapping[str, Lot]
    measures: tuple[Measure, ...]
    line: LineProgress | None
    assumed: tuple[str, ...]
    narrowest: Lot | None
    population: int | None
    data: Mapping[str, Any] = field(repr=False)

    @cached_property
    def alleles(self) -> tuple[AlleleRow, ...]:
        """Which rare forms came through; worked out when asked, since it takes the longest."""
        return alleles_kept(self.data, OF_ONE_CROSS if self.is_of_one_cross else FREQUENCIES)

    @property
    def is_of_one_cross(self) -> bool:
        """Whether it began with plants that were all alike: of an F1, or of a clone."""
        deposits = [record for record in self.data["lots"].values() if "parents" not in record]
        return all(record.get("coancestry") for record in deposits)

    def of(self, lot: Lot) -> LotDiversity:
        """What is left in a lot of the chain."""
        return self.diversity.lots[lot.number]

    def is_bottleneck(self, lot: Lot) -> bool:
        """Whether it is a grow-out of too few plants."""
        return is_bottleneck(self.of(lot).effective_size, self.population)

    @property
    def bottlenecks(self) -> list[Lot]:
        """The grow-outs of too few plants, the fewest first."""
        found = [lot for lot in self.lots.values() if self.is_bottleneck(lot)]
        return sorted(found, key=lambda lot: (self.of(lot).effective_size, lot.pk))


def measure(chain: Chain) -> ChainMeasures:
    """Measure a chain that was read: one query more, for the plants that keep the species.

    Raises ValueError for more lots than can be measured at once (5000).
    """
    data, taken = described(chain)
    diversity = gene_diversity(data)
    numbers = {lot.number: lot for lot in chain.order}
    narrowest = diversity.narrowest
    return ChainMeasures(
        diversity=diversity,
        lots=numbers,
        measures=_measures(diversity),
        line=line_of(chain),
        assumed=assumptions([*taken, *diversity.assumed]),
        narrowest=numbers[narrowest.lot] if narrowest else None,
        population=population_of(numbers[chain.lot.number]),
        data=data,
    )


def chain_data(chain: Chain) -> dict[str, Any]:
    """The chain as the plain data of `library.science.chains`; lots by their numbers."""
    return described(chain)[0]


def is_bottleneck(effective_size: float | None, population: int | None) -> bool:
    """Whether a grow-out came through too few plants: under half of those that keep the
    variety, or under five where nobody knows how many do (common practice, no source).

    None for the size is a lot for which nothing was grown from seed.
    """
    if effective_size is None:
        return False
    return effective_size < (TOO_FEW if population is None else population / 2)


def population_of(lot: Lot) -> int | None:
    """How many plants keep the lot's variety: by its card, else by its species' figure."""
    if lot.variety.min_population is not None:
        return lot.variety.min_population
    quantity = SpeciesFigure.Quantity.MIN_POPULATION
    figures = SpeciesFigure.objects.filter(
        species=lot.variety.crop.species_id, quantity=quantity, number__gte=1
    )
    number = figures.values_list("number", flat=True).first()
    return None if number is None else int(number)


def percent(share: float) -> str:
    """A share as a percentage that never rounds to a certainty that it is not."""
    if 0 < share < 0.001:
        return _("less than 0.1 %")
    if 0.999 < share < 1:
        return _("more than 99.9 %")
    return _("%(n)s %%") % {"n": number_format(100 * share, 1)}


def size(plants: float | None) -> str:
    """An effective size, with one decimal where it has one."""
    return "" if plants is None else str(number_format(plants, int(round(plants, 1) % 1 != 0)))


def _measures(diversity: ChainDiversity) -> tuple[Measure, ...]:
    return (
        _generations(diversity),
        _effective_size(diversity),
        _kept(diversity),
        _inbreeding(diversity),
    )


def _generations(diversity: ChainDiversity) -> Measure:
    lot = diversity.measured
    fewest, most = lot.fewest_generations, lot.most_generations
    sentence = _("How many times its seed was grown on since it was brought.")
    if fewest != most:
        sentence = _(
            "How many times its seed was grown on since it was brought: by the ways that led "
            "to it, %(fewest)s to %(most)s, on the mean %(mean)s."
        ) % {"fewest": fewest, "most": most, "mean": number_format(lot.generations, 1)}
    value = _("%(fewest)s to %(most)s") % {"fewest": fewest, "most": most}
    return Measure(
        key="generations",
        label=_("Generations since the deposit"),
        value=str(most) if fewest == most else value,
        number=lot.generations,
        formula=_("grow-outs along each way, weighted by the part of the lot that came by it"),
        source=_("counted from the chain"),
        sentence=sentence,
    )


def _effective_size(diversity: ChainDiversity) -> Measure:
    mean = diversity.harmonic_mean_size
    return Measure(
        key="effective_size",
        label=_("Effective size over the generations"),
        value=_("nothing was grown from seed yet") if mean is None else size(mean),
        number=mean,
        formula=_("t / sum(c² / Ne), c being the part of the lot that came through a grow-out"),
        source=SIZE_SOURCE,
        sentence=_(
            "A steady stand of so many plants, all alike in giving seed, would have lost as "
            "much. The smallest grow-out weighs most."
        ),
    )


def _kept(diversity: ChainDiversity) -> Measure:
    return Measure(
        key="gene_diversity_kept",
        label=_("Gene diversity kept"),
        value=percent(diversity.kept),
        number=diversity.kept,
        formula=_("(1 − coancestry within the lot) / (1 − coancestry within its deposits)"),
        source=SOURCE,
        sentence=_(
            "Of the chance that two seeds differ at a gene, this part is left of what the "
            "deposits had; the rest was lost in growing from few plants."
        ),
    )


def _inbreeding(diversity: ChainDiversity) -> Measure:
    return Measure(
        key="inbreeding",
        label=_("Inbreeding of its seeds"),
        value=percent(diversity.inbreeding),
        number=diversity.inbreeding,
        formula=_("s (1 + F) / 2 + (1 − s) T, from each lot to the next"),
        source=SOURCE,
        sentence=_(
            "The chance that the two copies of a gene in one seed are copies of one copy in a "
            "deposit. A crop that pollinates itself is inbred by nature and none the worse."
        ),
    )
