"""The plan of gardens as members see it: their own gardens, and counts of others by cell.

A cell is 0.1 degrees wide and high, the grid on which gardens that were not placed by
coordinate are kept. A cell's count is told only where at least three other members grow for
the season in it; all others are counted together as elsewhere. Who asks is never counted, so
moving one's own garden about changes nothing of what is told of others.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from functools import cached_property

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Garden, Member
from library.growouts.models import Commitment, Season
from library.growouts.pictures.gardens.cells_layout import (
    NARROW,
    WIDE,
    Drawn,
    draw,
)

GRID = Decimal("0.1")
LEAST = 3  # members of whom none can be told from the others

Cell = tuple[Decimal, Decimal]  # latitude and longitude of its middle, in degrees


@dataclass(frozen=True)
class Count:
    """So many others grow for the season in this cell."""

    latitude: Decimal
    longitude: Decimal
    growers: int

    @property
    def words(self) -> str:
        return place_words(self.latitude, self.longitude)


@dataclass(frozen=True)
class OwnGarden:
    """One's own garden, where it is as closely as one told; None where one told no place."""

    name: str
    latitude: Decimal | None
    longitude: Decimal | None
    is_exact: bool
    grows: Sequence[str]

    @property
    def words(self) -> str:
        if self.latitude is None or self.longitude is None:
            return _("place not told")
        return place_words(self.latitude, self.longitude)


@dataclass(frozen=True, eq=False)
class MembersPlan:
    """What a member may know of where the season is grown. Who grows in two cells is counted in
    both, and once among the ``growers``.
    """

    season: Season
    growers: int
    cells: Sequence[Count]
    elsewhere: int
    own: Sequence[OwnGarden]

    @cached_property
    def shapes(self) -> list[Drawn]:
        cells = [(float(c.latitude), float(c.longitude), c.growers) for c in self.cells]
        own = [
            (float(g.latitude), float(g.longitude), g.name)
            for g in self.own
            if g.latitude is not None and g.longitude is not None
        ]
        if not cells and not own:
            return []
        return [draw(cells, own, shape) for shape in (WIDE, NARROW)]

    @property
    def title(self) -> str:
        return _("Where the season of %(year)s is grown") % {"year": self.season.year}

    @property
    def summary(self) -> str:
        """What the picture shows, for who hears it."""
        n = self.growers
        return ngettext(
            "%(n)s other member grows for the season.",
            "%(n)s other members grow for the season.",
            n,
        ) % {"n": n}


def members_plan(season: Season, *, viewer: Member) -> MembersPlan:
    """The coarse plan of a season for one member; three queries."""
    promised = Commitment.objects.promised().filter(season=season)
    others: dict[Cell | None, set[int]] = defaultdict(set)
    rows = promised.exclude(grower=viewer).values_list(
        "grower", "garden__latitude", "garden__longitude"
    )
    for grower, latitude, longitude in rows:
        others[cell_of(latitude, longitude)].add(grower)
    told = {
        cell: growers
        for cell, growers in others.items()
        if cell is not None and len(growers) >= LEAST
    }
    shown = set().union(*told.values())
    everyone = set().union(*others.values())
    counts = [Count(*cell, len(growers)) for cell, growers in sorted(told.items())]
    n = len(everyone)
    return MembersPlan(season, n, counts, len(everyone - shown), _own(season, viewer))


def _own(season: Season, viewer: Member) -> list[OwnGarden]:
    grows: dict[int | None, list[str]] = defaultdict(list)
    mine = Commitment.objects.promised().of(viewer).filter(season=season)
    for garden, name in mine.order_by("variety__folded_name").values_list(
        "garden", "variety__name"
    ):
        grows[garden].append(name)
    return [
        OwnGarden(
            name=garden.name,
            latitude=garden.latitude,
            longitude=garden.longitude,
            is_exact=garden.placed == Garden.Placed.EXACT,
            grows=grows[garden.pk],
        )
        for garden in Garden.objects.filter(member=viewer).order_by("name", "pk")
    ]


def cell_of(latitude: Decimal | None, longitude: Decimal | None) -> Cell | None:
    """The middle of the cell of a place; None where no place is known."""
    if latitude is None or longitude is None:
        return None
    return _onto_grid(latitude), _onto_grid(longitude)


def _onto_grid(degrees: Decimal) -> Decimal:
    # Adding zero turns -0.0 into 0.0.
    return degrees.quantize(GRID, rounding=ROUND_HALF_EVEN) + Decimal(0)


def place_words(latitude: Decimal, longitude: Decimal) -> str:
    """A place in degrees, such as "54.2° N, 2.9° W"."""
    north = _("%(n)s° N") if latitude >= 0 else _("%(n)s° S")
    east = _("%(n)s° E") if longitude >= 0 else _("%(n)s° W")
    return ", ".join([north % {"n": _degrees(latitude)}, east % {"n": _degrees(longitude)}])


def _degrees(value: Decimal) -> str:
    told = abs(value).normalize()
    places = max(1, -int(told.as_tuple().exponent)) if math.isfinite(told) else 1
    return number_format(told, places)
