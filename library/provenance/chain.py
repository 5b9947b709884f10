"""A lot's chain with everything that its pages tell of it, in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from django.db.models import Prefetch

from library.catalogue.models import Variety
from library.provenance.walking import Link, Relative, Walk, ancestors_of, descendants_of
from library.stock.models import Growing, Lot, Origin


@dataclass(frozen=True)
class Chain:
    """The lots of a walk, the one it began from included, by their keys.

    Each lot has its variety with crop and species, grower, custodian, how it was grown and
    whose it was elsewhere, all read already. ``order`` has parents before children.
    """

    lot: Lot
    walk: Walk
    lots: Mapping[int, Lot]

    @cached_property
    def order(self) -> list[Lot]:
        """Parents before children: a parent is always an older row."""
        return [self.lots[pk] for pk in sorted(self.lots)]

    @cached_property
    def parents(self) -> Mapping[int, list[Link]]:
        """The links to each lot's parents, the greatest share first."""
        return self._by("child")

    @cached_property
    def children(self) -> Mapping[int, list[Link]]:
        """The links to each lot's children, the greatest share first."""
        return self._by("parent")

    def _by(self, end: str) -> Mapping[int, list[Link]]:
        grouped: dict[int, list[Link]] = defaultdict(list)
        for link in sorted(self.walk.links, key=lambda link: (-link.share, link)):
            grouped[getattr(link, end)].append(link)
        return grouped

    def relative(self, lot: Lot) -> Relative:
        """How a lot of the chain is related to where it began; 0 links and 1 for itself."""
        return self.walk.relatives.get(lot.pk, Relative(lot.pk, 0, 0, 1.0))


def chain_up(lot: Lot) -> Chain:
    """The lot and its ancestors: five queries at most, whatever the depth."""
    return _chain(lot, ancestors_of(lot))


def chain_down(lot: Lot) -> Chain:
    """The lot and its descendants: five queries at most, whatever the depth."""
    return _chain(lot, descendants_of(lot))


def _chain(lot: Lot, walk: Walk) -> Chain:
    rows = Lot.objects.filter(pk__in=[lot.pk, *walk.relatives]).order_by()
    # Hundreds of lots share a few varieties and growers: joined, each would be made anew.
    varieties = Prefetch("variety", Variety.objects.select_related("crop__species"))
    rows = rows.select_related("growing", "foreign")
    rows = rows.prefetch_related(varieties, "grower", "custodian")
    return Chain(lot, walk, {row.pk: row for row in rows})


def came_about(lot: Lot) -> str:
    """How a lot's seed came about: deposit, return or bulk; of one kept elsewhere, there."""
    return lot.foreign.origin_there if lot.origin == Origin.ELSEWHERE else lot.origin


def growing_of(lot: Lot) -> Growing | None:
    """How it was grown, where anything was told."""
    return getattr(lot, "growing", None)
