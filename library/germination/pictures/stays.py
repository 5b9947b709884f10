"""Where a lot lay and lies, for the strip under its curve."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _

from library.germination.pictures.facts import Stay
from library.stock.models import Keeping, StoragePlace
from library.stock.places import PlaceTree

if TYPE_CHECKING:
    from library.germination.estimates import LotViability
    from library.stock.models import Lot

_KINDS = dict(StoragePlace.Kind.choices)


def stays_of(
    lot: Lot, viability: LotViability, *, tree: PlaceTree | None = None, with_places: bool
) -> list[Stay]:
    """The stretches of a lot's storage with their days and what is known of the place.

    Without ``with_places`` only the kind of place is told, such as a freezer.
    """
    tree = tree or PlaceTree()
    keepings = list(lot.keepings.all())
    found = [
        _stay(since, stretch, _keeping_on(keepings, since), lot, tree, with_places)
        for since, stretch in _dated(viability)
    ]
    return list(_changes(found))


def _dated(viability: LotViability) -> Iterator[tuple]:
    """The stretches with the day each begins on; one of no days only if it is the last."""
    since, stretches = viability.stored_on, viability.history.stretches
    for number, stretch in enumerate(stretches, start=1):
        if stretch.days or number == len(stretches):
            yield since, stretch
        since += dt.timedelta(days=round(stretch.days))


def _keeping_on(keepings: list[Keeping], on: dt.date) -> Keeping | None:
    """The place that was last written down for a day."""
    return next((keeping for keeping in reversed(keepings) if keeping.since <= on), None)


def _stay(
    since: dt.date,
    stretch,
    keeping: Keeping | None,
    lot: Lot,
    tree: PlaceTree,
    with_places: bool,
) -> Stay:
    if since < lot.received_on:
        short, place = _("before it came"), _("before it came: an ordinary room is assumed")
    elif keeping is not None and keeping.custodian_id:
        short, place = _("at home"), _("kept by a member")
    else:
        key = keeping.storage_place_id if keeping else lot.storage_place_id
        kind = _kind(tree, key)
        short = kind or _("not noted")
        place = (with_places and tree.path(key)) or kind or _("nobody noted where")
    return Stay(
        since=since,
        short=short,
        place=place,
        temperature_c=stretch.temperature_c,
        moisture_percent=stretch.moisture_percent,
    )


def _kind(tree: PlaceTree, key: int | None) -> str:
    """What keeps the air: a room, a cupboard, a refrigerator or a freezer."""
    return str(_KINDS.get(tree.kind(key), ""))


def _changes(stays: list[Stay]) -> Iterator[Stay]:
    """The stays, those that say the same as the one before them left out."""
    before = None
    for stay in stays:
        said = (stay.short, stay.place, stay.temperature_c, stay.moisture_percent)
        if said != before:
            yield stay
        before = said
