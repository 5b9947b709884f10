"""Filling packets from the jar, and emptying them back."""

from __future__ import annotations

import datetime as dt

from django.db import transaction

from library.stock.models import Lot, Movement, Packet, StoragePlace
from library.stock.services.checks import MOST_SEEDS, day_here, fits, whole
from library.stock.services.ledger import empty_into_jar, record
from library.stock.services.numbers import next_packet_codes

MOST_PACKETS = 1000  # at once: a long evening's work


@transaction.atomic
def pack(
    *,
    lot: Lot,
    packets: int,
    seeds_each: int,
    on: dt.date,
    by,
    storage_place: StoragePlace | None = None,
) -> list[Packet]:
    """Fill packets from the jar; each gets its own code. They lie where the jar lies, unless
    another place is given.
    """
    whole(packets, field="packets", most=MOST_PACKETS)
    whole(seeds_each, field="seeds_each", most=MOST_SEEDS // MOST_PACKETS)
    day_here(lot, on)
    seeds = packets * seeds_each
    record(
        lot=lot,
        kind=Movement.Kind.PACKED,
        on=on,
        by=by,
        loose=-seeds,
        packed=seeds,
        reason=f"{packets} × {seeds_each}",
    )
    place = storage_place or lot.storage_place
    return Packet.objects.bulk_create(
        Packet(lot=lot, code=code, seeds=seeds_each, sealed_on=on, storage_place=place)
        for code in next_packet_codes(packets)
    )


@transaction.atomic
def unpack(*, packet: Packet, on: dt.date, by, reason: str = "") -> None:
    """Empty a packet on the shelf back into the jar."""
    reason = fits(reason, field="reason")
    day_here(packet.lot, on)
    empty_into_jar(packet, on=on, by=by, reason=reason)
