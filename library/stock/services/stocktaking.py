"""Counting what is there, and writing down how it differs from the ledger."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from library.errors import Conflict, NotEnough, Refused
from library.stock.models import Lot, Movement, Packet, StockTake, StockTakeLine, StoragePlace
from library.stock.services.checks import fits, kept_here, whole
from library.stock.services.ledger import record, shift_packet

State = Packet.State


@transaction.atomic
def start_stock_take(*, storage_place: StoragePlace | None, by, note: str = "") -> StockTake:
    """Begin to count one place with all that lies in it, or everything (None)."""
    return StockTake.objects.create(
        storage_place=storage_place, started_by=by, note=fits(note, field="note", most=2000)
    )


@transaction.atomic
def count_lot(
    *,
    stock_take: StockTake,
    lot: Lot,
    loose: int,
    missing_packets: Iterable[Packet] = (),
    found_again: Iterable[Packet] = (),
    by,
) -> StockTakeLine:
    """Write down what of a lot is there; counting it again replaces the first count.

    ``missing_packets`` should be on the shelf and are not; ``found_again`` were missing before.
    """
    whole(loose, field="loose", least=0)
    kept_here(lot)
    _check_open(stock_take)
    missing, found = list(missing_packets), list(found_again)
    _check_packets(lot, missing, State.ON_SHELF)
    _check_packets(lot, found, State.MISSING)
    row = Lot.objects.select_for_update(no_key=True).get(pk=lot.pk)
    expected = row.packets.on_shelf().count()
    line, _new = StockTakeLine.objects.update_or_create(
        stock_take=stock_take,
        lot=lot,
        defaults={
            "expected_loose": row.loose,
            "counted_loose": loose,
            "expected_packets": expected,
            "found_packets": expected - len(missing) + len(found),
            "counted_by": by,
            "counted_at": timezone.now(),
        },
    )
    line.missing.set(missing)
    line.found_again.set(found)
    return line


def _check_open(stock_take: StockTake) -> None:
    """Hold the stock-taking's row, so that nobody closes it meanwhile."""
    if StockTake.objects.select_for_update().get(pk=stock_take.pk).closed_at is not None:
        raise Conflict(_("This stock-taking is closed; start another."))


def _check_packets(lot: Lot, packets: list[Packet], state: str) -> None:
    known = set(
        lot.packets.filter(state=state, pk__in=[p.pk for p in packets]).values_list(
            "pk", flat=True
        )
    )
    for packet in packets:
        if packet.pk not in known:
            raise Refused(
                _("Packet %(code)s of lot %(lot)s is not recorded as %(state)s.")
                % {"code": packet.code, "lot": lot.number, "state": State(state).label},
                field="packets",
            )


@transaction.atomic
def close_stock_take(*, stock_take: StockTake, by, on: dt.date | None = None) -> list[Movement]:
    """Write every difference found as a movement; lots that nobody counted stay as they are.

    A packet that was lent or opened since it was called missing is left as it is: somebody had
    it in hand.
    """
    _check_open(stock_take)
    day = on or timezone.localdate()
    lines = list(
        stock_take.lines.select_related("lot")
        .prefetch_related("missing", "found_again")
        .order_by("lot_id")
    )
    _hold(lines)
    reason = _("stock-taking %(number)s") % {"number": stock_take.pk}
    written = [m for line in lines for m in _write_packets(line, day, by, reason)]
    written += [m for line in lines for m in _write_jar(line, day, by, reason)]
    StockTake.objects.filter(pk=stock_take.pk).update(closed_at=timezone.now())
    stock_take.refresh_from_db(fields=["closed_at"])
    return written


def _hold(lines: list[StockTakeLine]) -> None:
    """Lock the packets, then the lots, in the order that everybody keeps."""
    packets = {p.pk for line in lines for p in [*line.missing.all(), *line.found_again.all()]}
    list(Packet.objects.select_for_update().filter(pk__in=packets).order_by("pk"))
    lots = [line.lot_id for line in lines]
    list(Lot.objects.select_for_update(no_key=True).filter(pk__in=lots).order_by("pk"))


def _write_packets(line: StockTakeLine, day, by, reason: str) -> list[Movement]:
    same = {"lot": line.lot, "kind": Movement.Kind.FOUND_DIFFERENT, "on": day, "by": by}
    turns = [(p, State.ON_SHELF, State.MISSING, -p.seeds) for p in line.missing.all()]
    turns += [(p, State.MISSING, State.ON_SHELF, p.seeds) for p in line.found_again.all()]
    written = []
    for packet, before, after, seeds in turns:
        if Packet.objects.filter(pk=packet.pk, state=before).exists():
            shift_packet(packet, to=after, from_state=before)
            written.append(record(packed=seeds, packet=packet, reason=reason, **same))
    return written


def _write_jar(line: StockTakeLine, day, by, reason: str) -> list[Movement]:
    """The difference found when it was counted; what moved since then stays moved."""
    change = line.counted_loose - line.expected_loose
    if not change:
        return []
    try:
        return [
            record(
                lot=line.lot,
                kind=Movement.Kind.FOUND_DIFFERENT,
                on=day,
                by=by,
                loose=change,
                reason=reason,
            )
        ]
    except NotEnough:
        raise NotEnough(
            _("Seed of lot %(lot)s was taken since it was counted; count its jar again.")
            % {"lot": line.lot.number},
            field="loose",
        ) from None
