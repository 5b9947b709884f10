"""Where a lot lay and lies, for the strip under its curve."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.utils.translation import gettext as _

from library.germination.pictures.facts import Stay
from library.germination.storage import Place, StorageHistory
from library.science.viability import Stretch
from library.stock.models import StoragePlace
from library.stock.places import PlaceTree

_KINDS = dict(StoragePlace.Kind.choices)


def stays_of(
    history: StorageHistory, *, tree: PlaceTree | None = None, for_desk: bool
) -> list[Stay]:
    """The stretches of a lot's storage with their days and what is known of the place.

    Without ``for_desk`` only the kind of place is told, such as a freezer.
    """
    tree = tree or PlaceTree()
    *begins, _end = history.days
    way = list(zip(begins, history.stretches, history.places, strict=True))
    stays = [
        _stay(since, stretch, place, tree, for_desk)
        for n, (since, stretch, place) in enumerate(way, start=1)
        if stretch.days or n == len(way)
    ]
    return list(_changes(stays))


def _stay(
    since: dt.date, stretch: Stretch, lay_in: Place | None, tree: PlaceTree, for_desk: bool
) -> Stay:
    if lay_in is None:
        short, place = _("before it came"), _("before it came: an ordinary room is assumed")
    elif lay_in.at_home:
        short, place = _("at home"), _("kept by a member: an ordinary room is assumed")
    else:
        short = _kind(tree, lay_in.key) or _("not noted")
        place = _("nobody noted where: an ordinary room is assumed")
        if lay_in.key is not None:
            place = tree.path(lay_in.key) if for_desk else short
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
