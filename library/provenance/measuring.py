"""What a chain has kept of what was deposited, in numbers that explain themselves."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import astuple, dataclass, field
from functools import cached_property
from typing import Any

from django.core.cache import cache
from django.utils.translation import gettext as _

from library.catalogue.models import SpeciesFigure
from library.errors import Refused
from library.provenance.assumptions import assumptions
from library.provenance.chain import Chain
from library.provenance.figures import Measure, figures_of, lots_assumed
from library.provenance.line import LineProgress, line_of
from library.provenance.mating import described
from library.science.alleles import FREQUENCIES, AlleleRow, alleles_kept
from library.science.chains import MOST_LOTS
from library.science.coancestry import ChainDiversity, LotDiversity, gene_diversity
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

GENE_DROP = 1  # raise it when science.alleles comes to other numbers
REMEMBERED_S = 24 * 3600
TOO_FEW = 5  # where nobody wrote down how many plants keep the species
OF_ONE_CROSS = (0.5,)  # an F1 and a clone carry a form once or twice, never rarely


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
        """Which rare forms came through; worked out when asked, since it takes the longest.

        What was worked out is remembered by the chain's own data, so it is never out of date.
        """
        frequencies = OF_ONE_CROSS if self.is_of_one_cross else FREQUENCIES
        said = json.dumps([GENE_DROP, frequencies, self.data], sort_keys=True)
        key = f"alleles-{hashlib.sha256(said.encode()).hexdigest()}"
        known = cache.get(key)
        if known is None:
            known = [astuple(row) for row in alleles_kept(self.data, frequencies)]
            cache.set(key, known, REMEMBERED_S)
        return tuple(AlleleRow(*row) for row in known)

    @property
    def is_of_one_cross(self) -> bool:
        """Whether it began with plants that were all alike: of an F1, or of a clone."""
        deposits = [record for record in self.data["lots"].values() if "parents" not in record]
        return all(record.get("coancestry") for record in deposits)

    def of(self, lot: Lot) -> LotDiversity:
        """What is left in a lot of the chain."""
        return self.diversity.lots[lot.number]

    def is_assumed(self, lot: Lot) -> bool:
        """Whether nobody noted how many plants gave its seed, or stood."""
        return lot.number in self._assumed_lots

    @cached_property
    def _assumed_lots(self) -> frozenset[str]:
        return lots_assumed(self.diversity)

    def is_bottleneck(self, lot: Lot) -> bool:
        """Whether it is known to be a grow-out of too few plants."""
        few = is_bottleneck(self.of(lot).effective_size, self.population)
        return few and not self.is_assumed(lot)

    @property
    def bottlenecks(self) -> list[Lot]:
        """The grow-outs of too few plants, the fewest first."""
        found = [lot for lot in self.lots.values() if self.is_bottleneck(lot)]
        return sorted(found, key=lambda lot: (self.of(lot).effective_size, lot.pk))


def measure(chain: Chain) -> ChainMeasures:
    """Measure a chain that was read: one query more, for the plants that keep the species.

    Refuses more lots than can be measured at once (5000).
    """
    if len(chain.lots) > MOST_LOTS:
        raise Refused(
            _("%(n)s lots led to %(lot)s; up to %(most)s can be measured at once.")
            % {"n": len(chain.lots), "lot": chain.lot.number, "most": MOST_LOTS}
        )
    data, taken = described(chain)
    diversity = gene_diversity(data)
    numbers = {lot.number: lot for lot in chain.order}
    narrowest = diversity.narrowest
    return ChainMeasures(
        diversity=diversity,
        lots=numbers,
        measures=figures_of(diversity),
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
