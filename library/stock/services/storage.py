"""Storage places, and where each lot lies and who holds it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from library import hooks
from library.errors import Conflict, Refused
from library.stock.models import Keeping, Lot, Packet, StoragePlace
from library.stock.places import PlaceTree
from library.stock.services.checks import day_here, fields_of, fits

_CLIMATE = ("kind", "inside", "temperature_c", "humidity_percent")
_FACTS = ("name", *_CLIMATE, "note")


@transaction.atomic
def add_storage_place(
    *,
    name: str,
    kind: str,
    by,
    inside: StoragePlace | None = None,
    temperature_c: Any = None,
    humidity_percent: Any = None,
    note: str = "",
) -> StoragePlace:
    """A new room, or a new box in one."""
    place = StoragePlace(
        name=fits(name, field="name", most=80),
        kind=kind,
        inside=inside,
        temperature_c=temperature_c,
        humidity_percent=humidity_percent,
        note=fits(note, field="note", most=2000),
    )
    return _saved(place)


@transaction.atomic
def edit_storage_place(*, place: StoragePlace, by, **changes: Any) -> StoragePlace:
    """Rename a place, say its climate, or put it into another. The place has ``told`` what
    follows from that for the lots in it.
    """
    if unknown := set(changes) - set(_FACTS):
        raise TypeError(f"a storage place has no {sorted(unknown)}")
    # All places are held: two moves that are each right alone could close a ring together.
    inside_of: dict[int, int | None] = {
        row.pk: row.inside_id for row in StoragePlace.objects.select_for_update()
    }
    climate = [getattr(place, name) for name in _CLIMATE]
    for name, value in changes.items():
        setattr(place, name, value)
    _check_no_ring(place, inside_of)
    _saved(place)
    if climate != [getattr(place, name) for name in _CLIMATE]:
        within = PlaceTree().within(place.pk)
        place.told = tuple(hooks.tell("storage_climate_changed", places=within))
    return place


def _check_no_ring(place: StoragePlace, inside_of: dict[int, int | None]) -> None:
    above = place.inside_id
    while above is not None:
        if above == place.pk:
            raise Refused(
                _("%(place)s cannot lie inside itself, nor in what lies in it.")
                % {"place": place.name},
                field="inside",
            )
        above = inside_of[above]


def _saved(place: StoragePlace) -> StoragePlace:
    fields_of(place, names=["name", "kind", "temperature_c", "humidity_percent", "note"])
    try:
        with transaction.atomic():
            place.save()
    except IntegrityError:
        raise Conflict(
            _("There is a place called %(name)s there already.") % {"name": place.name},
            field="name",
        ) from None
    return place


@transaction.atomic
def remove_storage_place(*, place: StoragePlace, by) -> None:
    """Remove a place that nothing lies in."""
    StoragePlace.objects.select_for_update().get(pk=place.pk)
    if place.lots.exists() or place.packets.exists() or place.holds.exists():
        raise Conflict(
            _("%(place)s is not empty; move what lies in it first.") % {"place": place.name}
        )
    place.delete()


@transaction.atomic
def move_lot(
    *,
    lot: Lot,
    storage_place: StoragePlace | None,
    by,
    on: dt.date | None = None,
    with_packets: bool = True,
) -> None:
    """Put a lot's jar, and its packets on the shelf unless told otherwise, somewhere else."""
    day = day_here(lot, on or max(timezone.localdate(), lot.received_on))
    if with_packets:
        packets = Packet.objects.filter(lot=lot, state=Packet.State.ON_SHELF)
        list(packets.select_for_update().order_by("pk"))
        packets.update(storage_place=storage_place)
    row = _held(lot)
    Lot.objects.filter(pk=lot.pk).update(storage_place=storage_place)
    _keep(row, day, by, storage_place=storage_place, custodian_id=row.custodian_id)
    lot.storage_place = storage_place
    hooks.tell("lot_kept_elsewhere", lot=lot)


@transaction.atomic
def move_packet(*, packet: Packet, storage_place: StoragePlace | None, by) -> None:
    """Put one packet on the shelf somewhere else."""
    on_shelf = Packet.objects.filter(pk=packet.pk, state=Packet.State.ON_SHELF)
    if not on_shelf.update(storage_place=storage_place):
        raise Conflict(
            _("Packet %(code)s is not on the shelf.") % {"code": packet.code}, field="packet"
        )
    packet.storage_place = storage_place


@transaction.atomic
def hand_to_custodian(*, lot: Lot, custodian, by, on: dt.date) -> None:
    """Give a lot to a member to keep at home, or (None) back to the library."""
    day_here(lot, on)
    if custodian is not None and not custodian.is_approved:
        raise Refused(_("Only an approved member can keep a lot."), field="custodian")
    row = _held(lot)
    if row.custodian_id == (custodian.pk if custodian else None):
        raise Refused(_("It is kept there already."), field="custodian")
    Lot.objects.filter(pk=lot.pk).update(custodian=custodian)
    _keep(row, on, by, storage_place=row.storage_place, custodian=custodian)
    lot.custodian = custodian
    hooks.tell("lot_kept_elsewhere", lot=lot)


def _held(lot: Lot) -> Lot:
    return Lot.objects.select_for_update(no_key=True).get(pk=lot.pk)


def _keep(lot: Lot, since: dt.date, by, **where: Any) -> None:
    Keeping.objects.create(lot=lot, since=since, recorded_by=by, **where)
