"""Time runs one way along the chain, and a line stays a line.

Years are compared while the series of lot numbers is held: receiving a lot takes a number
first, and an amendment of a harvest year holds the same row, so that two changes that are each
right alone are never made at once.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.utils.translation import gettext as _

from library.catalogue.models import BreedingStatus
from library.errors import Refused
from library.stock.models import Lot
from library.stock.services.checks import in_words

# A cross, and what is selected from it, comes from lots of another card of the same species.
_FROM_OTHER_VARIETIES = {
    BreedingStatus.F1,
    BreedingStatus.SEGREGATING,
    BreedingStatus.STABILISED,
}


def check_same_line(lot: Lot, parents: Iterable[Lot]) -> None:
    """Refuse parents of another variety, unless the child's card says it came of a cross."""
    for parent in parents:
        if parent.variety_id == lot.variety_id:
            continue
        same_species = parent.variety.crop.species_id == lot.variety.crop.species_id
        if same_species and lot.variety.breeding_status in _FROM_OTHER_VARIETIES:
            continue
        raise Refused(
            _("Lot %(parent)s is of %(variety)s; a parent must be of the same variety.")
            % {"parent": parent.number, "variety": parent.variety.name},
            field="parents",
        )


def check_harvest_order(
    year: int | None,
    *,
    received: dt.date,
    parents: Iterable[Lot] = (),
    children: Iterable[Lot] = (),
) -> None:
    """Refuse a harvest later than its receipt or than a child's, or earlier than a parent's.

    Where a relative's year is not known, the next one along the chain is asked.
    """
    if year is not None and year > received.year:
        raise Refused(
            _("A harvest of %(year)s cannot have been received on %(on)s.")
            % {"year": year, "on": in_words(received)},
            field="harvest_year",
        )
    below = min(_known_years(children, "child_links__child"), default=None)
    above = max(_known_years(parents, "parent_links__parent"), default=None)
    if year is not None and above is not None and year < above:
        raise Refused(
            _("Harvested in %(year)s, before its parent lot's harvest of %(other)s.")
            % {"year": year, "other": above},
            field="harvest_year",
        )
    latest = year if year is not None else above
    if latest is not None and below is not None and latest > below:
        raise Refused(
            _("Harvested in %(year)s, after the harvest of %(other)s that was grown from it.")
            % {"year": latest, "other": below},
            field="harvest_year",
        )


def _known_years(lots: Iterable[Lot], onward: str) -> list[int]:
    """The nearest known harvest years along the chain; one query for each generation."""
    known: list[int] = []
    ring = [(lot.pk, lot.harvest_year) for lot in lots]
    while ring:
        known += [year for _pk, year in ring if year is not None]
        unknown = [pk for pk, year in ring if year is None]
        onward_rows = Lot.objects.filter(pk__in=unknown, **{f"{onward}__isnull": False})
        ring = list(onward_rows.values_list(onward, f"{onward}__harvest_year").distinct())
    return known
