"""A lot's ancestors and descendants: one recursive statement, whatever the chain looks like.

The database gathers the links, each once; shares and depths are then summed over them in the
order of the rows, since a parent is always an older row than its child. Paths are never listed
one by one: a chain that is bulked again and again has more of them than lots in the world.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from django.db import connection

from library.stock.models import Lot

# UNION, not UNION ALL: a link that is reached in several ways is gathered once.
_UPWARD = """
WITH RECURSIVE walked(child, parent, share) AS (
    SELECT child_id, parent_id, share FROM stock_lotparent WHERE child_id = %s
    UNION
    SELECT link.child_id, link.parent_id, link.share
    FROM stock_lotparent link JOIN walked ON link.child_id = walked.parent
)
SELECT child, parent, share FROM walked
"""
_DOWNWARD = """
WITH RECURSIVE walked(child, parent, share) AS (
    SELECT child_id, parent_id, share FROM stock_lotparent WHERE parent_id = %s
    UNION
    SELECT link.child_id, link.parent_id, link.share
    FROM stock_lotparent link JOIN walked ON link.parent_id = walked.child
)
SELECT child, parent, share FROM walked
"""


class Link(NamedTuple):
    """A child, a parent, by their keys, and the parent's share of it, 0 to 1."""

    child: int
    parent: int
    share: float


class Relative(NamedTuple):
    """A lot of a chain, by its key, as seen from the lot where the walk began.

    ``nearest`` and ``farthest`` count the links of the shortest and the longest way there.
    ``share`` is what part of the younger of the two comes from the older, by all ways together.
    """

    lot: int
    nearest: int
    farthest: int
    share: float


@dataclass(frozen=True)
class Walk:
    """All that was reached from a lot in one direction, and by which links."""

    lot: int
    links: tuple[Link, ...]
    relatives: Mapping[int, Relative]

    def nearest_first(self) -> list[Relative]:
        """The relatives by generation, then by the size of their share."""
        return sorted(self.relatives.values(), key=lambda r: (r.nearest, -r.share, r.lot))


def ancestors_of(lot: Lot) -> Walk:
    """Every lot that went into ``lot``, with the part of it that each is."""
    links = _links(_UPWARD, lot.pk)
    return Walk(lot.pk, links, _relatives(lot.pk, sorted(links, reverse=True)))


def descendants_of(lot: Lot) -> Walk:
    """Every lot that ``lot`` went into, with the part of each that it is."""
    links = _links(_DOWNWARD, lot.pk)
    steps = sorted((parent, child, share) for child, parent, share in links)
    return Walk(lot.pk, links, _relatives(lot.pk, steps))


def _links(statement: str, pk: int) -> tuple[Link, ...]:
    with connection.cursor() as cursor:
        cursor.execute(statement, [pk])
        return tuple([Link(child, parent, float(s)) for child, parent, s in cursor.fetchall()])


def _relatives(start: int, steps: Iterable[tuple[int, int, float]]) -> dict[int, Relative]:
    """Sum over steps (from, to, share) in an order in which no lot is left before it is whole.

    A lot's own sums are complete when its first outgoing step comes: every way to it is made of
    rows on one side of it, and the steps are sorted by the row they leave.
    """
    sums: dict[int, tuple[int, int, float]] = {start: (0, 0, 1.0)}
    for here, there, share in steps:
        near, far, part = sums[here]
        if (before := sums.get(there)) is None:
            sums[there] = (near + 1, far + 1, part * share)
        else:
            sums[there] = (
                min(before[0], near + 1),
                max(before[1], far + 1),
                before[2] + part * share,
            )
    del sums[start]
    return {
        lot: Relative(lot, near, far, min(part, 1.0)) for lot, (near, far, part) in sums.items()
    }
