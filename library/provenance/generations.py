"""A chain's grow-outs by generation, as its table and its bars show them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from library.provenance.chain import growing_of
from library.provenance.figures import percent, size
from library.provenance.measuring import ChainMeasures
from library.science.coancestry import LotDiversity
from library.stock.models import Lot


@dataclass(frozen=True)
class GrowOut:
    """One grow-out of a chain: the lot that it made, and what is left in it."""

    lot: Lot
    found: LotDiversity
    is_bottleneck: bool
    is_assumed: bool

    @property
    def plants_noted(self) -> bool:
        """Whether somebody counted the plants that gave seed."""
        growing = growing_of(self.lot)
        return bool(growing and growing.plants_gave_seed)

    @property
    def effective(self) -> str:
        return "" if self.found.effective_size is None else size(self.found.effective_size)

    @property
    def kept(self) -> str:
        return percent(self.found.kept)


@dataclass(frozen=True)
class Generation:
    """The grow-outs of one generation, counted by the longest way from a deposit; 0 is what was
    deposited, which has none.
    """

    number: int
    grow_outs: tuple[GrowOut, ...] = ()

    @property
    def least(self) -> float:
        """The smallest share of the gene diversity that one of its lots kept."""
        return min((one.found.kept for one in self.grow_outs), default=1.0)

    @property
    def most(self) -> float:
        """The greatest share that one of its lots kept."""
        return max((one.found.kept for one in self.grow_outs), default=1.0)

    @property
    def kept(self) -> str:
        least, most = percent(self.least), percent(self.most)
        if least == most:
            return least
        return _("%(least)s to %(most)s") % {"least": least, "most": most}

    @property
    def bar(self) -> float:
        """The length of its bar, 0 to 100: what all of its lots kept."""
        return round(100 * min(self.least, 1.0), 2)

    @property
    def beyond(self) -> float:
        """How much longer the bar of the lot is that kept most."""
        return round(100 * min(self.most, 1.0) - self.bar, 2)

    @property
    def narrowest(self) -> GrowOut | None:
        """The grow-out of the smallest effective size."""
        return min(self.grow_outs, key=lambda one: one.found.effective_size or 0, default=None)

    @property
    def bottlenecks(self) -> int:
        return sum(one.is_bottleneck for one in self.grow_outs)


def generations_of(measures: ChainMeasures) -> list[Generation]:
    """The deposits, and then each generation that was grown from them."""
    found = measures.diversity.by_generation.items()
    return [
        Generation(0),
        *(Generation(n, tuple(_grow_outs(measures, lots))) for n, lots in found),
    ]


def grow_outs_of(measures: ChainMeasures) -> list[GrowOut]:
    """Every grow-out of the chain, by generation."""
    return [one for generation in generations_of(measures) for one in generation.grow_outs]


def _grow_outs(measures: ChainMeasures, found: Iterable[LotDiversity]) -> Iterable[GrowOut]:
    for each in found:
        lot = measures.lots[each.lot]
        yield GrowOut(lot, each, measures.is_bottleneck(lot), measures.is_assumed(lot))
