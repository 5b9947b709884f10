"""What lies where, to walk along the shelves with."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any

from django.db.models import Count, Q
from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from accounts.models import Community
from library.catalogue.reference_words import in_shown_order
from library.paper import words
from library.stock.models import Lot
from library.stock.places import PlaceTree


def lots_of_places(places: Sequence[int]):
    """Lots with seed in the places and what lies within; of no place every lot kept here."""
    lots = Lot.objects.kept_here().with_seed()
    if not places:
        return lots.filter(custodian=None)
    tree = PlaceTree()
    inside = {key for place in places for key in tree.within(place)}
    return lots.lying_in(inside)


def shelf_list(
    lots: Sequence[int],
    *,
    paper: str,
    on: dt.date,
    progress: Callable[[int], None] = lambda made: None,
) -> dict[str, Any]:
    """The lots by the place of their jar, each with a box to tick."""
    tree, community = PlaceTree(), Community.current()
    rows = (
        Lot.objects.filter(pk__in=lots)
        .with_variety()
        .select_related("estimate", "test_date")
        .annotate(shelf=Count("packets", filter=Q(packets__state="on_shelf")))
        .order_by("variety__crop__name", "variety__folded_name", "-harvest_year", "pk")
    )
    places: dict[str, list[dict[str, Any]]] = {}
    in_order = in_shown_order(rows, stored=lambda lot: lot.variety.crop.name)
    for number, lot in enumerate(in_order, start=1):
        path = tree.path(lot.storage_place_id) or _("No place said")
        places.setdefault(path, []).append(_row(lot, lot.shelf))
        progress(number)
    return {
        "title": _("Shelf list of %(name)s") % {"name": community.name},
        "library": community.name,
        "printed": date_format(on),
        "paper": paper,
        "head": [
            _("Lot"),
            _("Variety"),
            _("Harvest"),
            _("Packets"),
            _("In the jar"),
            _("Sprouts"),
            _("Test by"),
            _("Seen"),
        ],
        "page_word": _("page"),
        "empty": _("No seed lies here."),
        "places": [{"path": path, "rows": places[path]} for path in sorted(places)],
    }


def _row(lot: Lot, packets: int) -> dict[str, Any]:
    estimate, test = getattr(lot, "estimate", None), getattr(lot, "test_date", None)
    return {
        "number": lot.number,
        "name": words.named(lot.variety.name),
        "crop": words.named(lot.variety.crop.local_name),
        "harvest": str(lot.harvest_year or "–"),
        "packets": number_format(packets),
        "loose": number_format(lot.loose, force_grouping=True),
        "sprouts": f"{round(100 * estimate.median)} %" if estimate else "–",
        "test": date_format(test.due_on, "YEAR_MONTH_FORMAT") if test else "–",
    }
