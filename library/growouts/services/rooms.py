"""The room that a garden offers: told in square metres or in plots, kept in square metres."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library.errors import Conflict, Refused
from library.growouts.services.checks import number, own_garden, room

MOST_PLOTS = 10_000
MOST_PLOT_M2 = 10_000
EMPTY = (None, "")


@dataclass(frozen=True)
class Room:
    """What is offered of one garden.

    ``room_m2`` in square metres, more than 0; or ``plots`` of ``plot_m2`` square metres each.
    ``room_next_m2`` may stay bound for a second season: all of it unless said otherwise, 0 for
    nothing.
    """

    garden: Garden
    room_m2: Any = None
    room_next_m2: Any = None
    can_cage: bool = False
    can_bag: bool = False
    can_pollinate_by_hand: bool = False
    plots: Any = None
    plot_m2: Any = None


def rooms_of(gardens: Iterable[Room], member: Member) -> list[Room]:
    """The rooms, checked and in square metres; at least one, each garden once."""
    rooms: dict[int, Room] = {}
    for asked in gardens:
        own_garden(asked.garden, member, field="gardens")
        if asked.garden.pk in rooms:
            raise Refused(
                _("“%(name)s” is offered twice.") % {"name": asked.garden.name},
                field="gardens",
            )
        rooms[asked.garden.pk] = _in_metres(asked)
    if not rooms:
        raise Refused(_("Say which of your gardens you offer."), field="gardens")
    return list(rooms.values())


def still_there(gardens: set[int], member: Member) -> None:
    """Conflict when one was removed meanwhile; the member's row is locked, so none goes now."""
    if Garden.objects.filter(member=member, pk__in=gardens).count() < len(gardens):
        raise Conflict(_("One of these gardens was removed."), field="gardens")


def square_metres(*, room_m2: Any = None, plots: Any = None, plot_m2: Any = None) -> Decimal:
    """The room in square metres, from exactly one of the two ways to tell it."""
    in_plots = plots not in EMPTY or plot_m2 not in EMPTY
    if room_m2 not in EMPTY:
        if in_plots:
            raise Refused(
                _("Give the room in square metres or in plots, not both."), field="plots"
            )
        return room(room_m2, field="room_m2")
    if not in_plots:
        raise Refused(
            _("How much room? Give square metres, or plots and the size of one."),
            field="room_m2",
        )
    if plots in EMPTY:
        raise Refused(_("How many plots of that size?"), field="plots")
    if plot_m2 in EMPTY:
        raise Refused(_("How large is one plot, in square metres?"), field="plot_m2")
    each = room(plot_m2, field="plot_m2", most=MOST_PLOT_M2)
    count = number(plots, field="plots", least=1, most=MOST_PLOTS)
    return room(count * each, field="plots")


def later_metres(value: Any) -> Decimal | None:
    """Room in a second season: as much unless told; none is an answer too."""
    return None if value in EMPTY else room(value, field="room_next_m2", least=0)


def _in_metres(asked: Room) -> Room:
    try:
        metres = square_metres(room_m2=asked.room_m2, plots=asked.plots, plot_m2=asked.plot_m2)
        later = later_metres(asked.room_next_m2)
    except Refused as refusal:
        raise Refused(f"“{asked.garden.name}”: {refusal}", field=refusal.field) from refusal
    return replace(
        asked,
        room_m2=metres,
        room_next_m2=later,
        can_cage=bool(asked.can_cage),
        can_bag=bool(asked.can_bag),
        can_pollinate_by_hand=bool(asked.can_pollinate_by_hand),
    )
