"""The seed ledger: the one place where balances change."""

from __future__ import annotations

import datetime as dt
from contextlib import suppress

from django.db import transaction
from django.utils.translation import gettext as _

from library.errors import Conflict, NotEnough, Refused
from library.stock.models import Lot, Movement, Packet
from library.stock.services.checks import day_here, fits, kept_here, said, whole

Kind, State = Movement.Kind, Packet.State


def record(
    *, lot, kind, on, by, loose=0, packed=0, packet=None, reason="", mends=None
) -> Movement:
    """Write one line of the ledger together with the balance it changes, or refuse.

    Not a service: the services of this package call it inside their own transaction, and
    nothing else changes a balance.
    """
    if not Lot.objects.add_seed(lot.pk, loose=loose, packed=packed):
        raise NotEnough(_not_enough(lot, loose, packed))
    return Movement.objects.create(
        lot=lot,
        packet=packet,
        kind=kind,
        loose_change=loose,
        packed_change=packed,
        on=on,
        reason=reason,
        mends=mends,
        recorded_by=by,
    )


def _not_enough(lot: Lot, loose: int, packed: int) -> str:
    """Why a balance could not change: what is there, and what was wanted."""
    now = Lot.objects.values("loose", "packed").get(pk=lot.pk)
    there = {"lot": lot.number, "loose": now["loose"], "packed": now["packed"]}
    if loose < 0 or packed < 0:
        wanted = -min(loose, 0) - min(packed, 0)
        return _(
            "Lot %(lot)s has %(loose)s in the jar and %(packed)s in packets on the shelf; "
            "%(wanted)s could not be taken."
        ) % (there | {"wanted": wanted})
    return _("Lot %(lot)s would hold more than can be counted.") % there


def shift_packet(packet: Packet, *, to: str, from_state: str = State.ON_SHELF) -> None:
    """Change where a packet is, if it is still where we think; the UPDATE decides."""
    if not Packet.objects.move(packet.pk, from_state=from_state, to_state=to):
        packet.refresh_from_db(fields=["state"])
        raise Conflict(
            _("Packet %(code)s is not %(wanted)s: it is %(state)s.")
            % {
                "code": packet.code,
                "wanted": State(from_state).label,
                "state": packet.get_state_display(),
            },
            field="packet",
        )
    packet.state = to


@transaction.atomic
def take_packet_off_shelf(*, packet: Packet, on: dt.date, by, reason: str = "") -> None:
    """A packet leaves with a borrower. Of any number who reach for it, one gets it."""
    reason = fits(reason, field="reason")
    day_here(packet.lot, on)
    shift_packet(packet, to=State.LENT)
    record(
        lot=packet.lot,
        kind=Kind.LENT,
        on=on,
        by=by,
        packed=-packet.seeds,
        packet=packet,
        reason=reason,
    )


@transaction.atomic
def put_packet_back(*, packet: Packet, on: dt.date, by, reason: str = "") -> None:
    """A lent packet comes back unopened."""
    reason = fits(reason, field="reason")
    day_here(packet.lot, on)
    shift_packet(packet, to=State.ON_SHELF, from_state=State.LENT)
    record(
        lot=packet.lot,
        kind=Kind.TAKEN_BACK,
        on=on,
        by=by,
        packed=packet.seeds,
        packet=packet,
        reason=reason,
    )


def empty_into_jar(packet: Packet, *, on: dt.date, by, reason: str = "") -> None:
    """Open a packet on the shelf and pour it into the jar. Not a service."""
    shift_packet(packet, to=State.EMPTIED)
    record(
        lot=packet.lot,
        kind=Kind.UNPACKED,
        on=on,
        by=by,
        loose=packet.seeds,
        packed=-packet.seeds,
        packet=packet,
        reason=reason,
    )


@transaction.atomic
def draw_for_test(
    *, lot: Lot, seeds: int, on: dt.date, by, packet: Packet | None = None
) -> Movement:
    """Take seed for a test: from the jar, and where that is too little from opened packets."""
    whole(seeds, field="seeds")
    day_here(lot, on)
    if packet is not None:
        _check_is_of(packet, lot)
        empty_into_jar(packet, on=on, by=by, reason=_("opened for a test"))
    else:
        # Asked and taken in one UPDATE: looking first would refuse whoever was overtaken
        # between the look and the taking, though packets could still be opened. An UPDATE
        # that waited and then found too little keeps the lot's row locked; the savepoint lets
        # go of it, for the packets are locked before the lot everywhere.
        with suppress(NotEnough), transaction.atomic():
            return _draw(lot, seeds, on=on, by=by)
        _open_packets_for(lot, seeds, on=on, by=by)
    return _draw(lot, seeds, on=on, by=by)


def _draw(lot: Lot, seeds: int, *, on: dt.date, by) -> Movement:
    return record(lot=lot, kind=Kind.DRAWN_FOR_TEST, on=on, by=by, loose=-seeds)


def _open_packets_for(lot: Lot, seeds: int, *, on: dt.date, by) -> None:
    """Open as few packets as fill the jar to ``seeds``; none when all are too little."""
    packets = list(lot.packets.on_shelf().select_for_update().order_by("pk"))
    short = seeds - Lot.objects.select_for_update(no_key=True).get(pk=lot.pk).loose
    if short > sum(packet.seeds for packet in packets):
        raise NotEnough(_not_enough(lot, -seeds, 0), field="seeds")
    for packet in packets:
        if short <= 0:
            break
        empty_into_jar(packet, on=on, by=by, reason=_("opened for a test"))
        short -= packet.seeds


@transaction.atomic
def discard(
    *,
    lot: Lot,
    on: dt.date,
    by,
    reason: str,
    seeds: int | None = None,
    packet: Packet | None = None,
) -> Movement:
    """Throw seed of the jar away, or a packet on the shelf."""
    return _remove(Kind.DISCARDED, State.DISCARDED, lot, seeds, packet, on, by, reason)


@transaction.atomic
def give_away(
    *,
    lot: Lot,
    on: dt.date,
    by,
    reason: str,
    seeds: int | None = None,
    packet: Packet | None = None,
) -> Movement:
    """Give seed away for good, from the jar or as a packet: no loan, nothing due."""
    return _remove(Kind.GIVEN_AWAY, State.GIVEN_AWAY, lot, seeds, packet, on, by, reason)


def _remove(kind, state, lot, seeds, packet, on, by, reason) -> Movement:
    if (seeds is None) == (packet is None):
        raise Refused(_("Say either how many from the jar, or which packet."), field="seeds")
    reason = said(reason)
    day_here(lot, on)
    if packet is None:
        whole(seeds, field="seeds")
        return record(lot=lot, kind=kind, on=on, by=by, loose=-seeds, reason=reason)
    _check_is_of(packet, lot)
    shift_packet(packet, to=state)
    packed = -packet.seeds
    return record(lot=lot, kind=kind, on=on, by=by, packed=packed, packet=packet, reason=reason)


@transaction.atomic
def discard_rest(*, lot: Lot, on: dt.date, by, reason: str) -> list[Movement]:
    """Throw away all that is left of a lot: the jar and every packet on the shelf."""
    kept_here(lot)
    packets = list(lot.packets.on_shelf().select_for_update().order_by("pk"))
    loose = Lot.objects.select_for_update(no_key=True).get(pk=lot.pk).loose
    if not packets and not loose:
        raise NotEnough(_("Nothing of lot %(lot)s is left.") % {"lot": lot.number})
    same = {"lot": lot, "on": on, "by": by, "reason": reason}
    gone = [discard(packet=packet, **same) for packet in packets]
    return [*gone, discard(seeds=loose, **same)] if loose else gone


@transaction.atomic
def correct_count(*, lot: Lot, loose: int, on: dt.date, by, reason: str) -> Movement:
    """Say what is really in the jar; the difference is written as a miscount."""
    whole(loose, field="loose", least=0)
    reason = said(reason)
    day_here(lot, on)
    before = Lot.objects.select_for_update(no_key=True).get(pk=lot.pk).loose
    if loose == before:
        raise Refused(_("The ledger says %(loose)s already.") % {"loose": loose}, field="loose")
    change = loose - before
    return record(lot=lot, kind=Kind.MISCOUNTED, on=on, by=by, loose=change, reason=reason)


def _check_is_of(packet: Packet, lot: Lot) -> None:
    if packet.lot_id != lot.pk:
        raise Refused(
            _("Packet %(code)s is not of lot %(lot)s.")
            % {"code": packet.code, "lot": lot.number},
            field="packet",
        )


# What a packet became by each kind of movement that can be mended, and is no longer after.
_PACKET_LEFT_AS = {
    Kind.UNPACKED: State.EMPTIED,
    Kind.DISCARDED: State.DISCARDED,
    Kind.GIVEN_AWAY: State.GIVEN_AWAY,
    Kind.FOUND_DIFFERENT: State.MISSING,
}


@transaction.atomic
def mend_movement(*, movement: Movement, on: dt.date, by, reason: str) -> Movement:
    """Write the contrary of a movement that was a mistake, once, with the reason."""
    reason = said(reason)
    day_here(movement.lot, on)
    _check_can_be_mended(movement)
    if movement.packet is not None:
        shift_packet(
            movement.packet,
            to=State.ON_SHELF,
            from_state=_PACKET_LEFT_AS[Kind(movement.kind)],
        )
    mending = record(
        lot=movement.lot,
        kind=movement.kind,
        on=on,
        by=by,
        loose=-movement.loose_change,
        packed=-movement.packed_change,
        packet=movement.packet,
        reason=reason,
        mends=movement,
    )
    return mending


def _check_can_be_mended(movement: Movement) -> None:
    if movement.packet_id is not None:
        list(Packet.objects.select_for_update().filter(pk=movement.packet_id))
    # The lot's row orders two menders; the one-to-one field stands behind this.
    Lot.objects.select_for_update(no_key=True).get(pk=movement.lot_id)
    if Movement.objects.filter(mends=movement).exists():
        raise Conflict(_("This movement was mended already."))
    if movement.mends_id is not None:
        raise Refused(_("This line is itself a mending; record what really happened anew."))
    instead = {
        Kind.PACKED: _("Empty the packets into the jar instead, one by one."),
        Kind.LENT: _("Take the packet back unopened instead."),
        Kind.TAKEN_BACK: _("Lend the packet again instead."),
        Kind.BULKED_IN: _("A bulk is not taken apart; discard it, or correct the counts."),
        Kind.BULKED_OUT: _("A bulk is not taken apart; discard it, or correct the counts."),
    }.get(Kind(movement.kind))
    if instead:
        raise Refused(instead)
    if movement.packet_id and movement.packed_change > 0:
        raise Refused(_("Count the packet as missing in a stock-taking instead."))
