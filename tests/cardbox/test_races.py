"""Several people at one file of the card box, on PostgreSQL with real threads, beside controls
without the guard, which must fail."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connections
from django.utils import timezone

from library.cardbox import running, services, writing
from library.cardbox.kinds import kind_for
from library.cardbox.kinds.lots import Lots
from library.cardbox.models import CardImport, CardRow
from library.errors import Refused
from library.germination.services import save_bench_rules
from library.lending.models import Loan
from library.lending.services import lend_packet
from library.stock.checks import problems
from library.stock.models import Lot, Packet
from tests.cardbox.conftest import fates, work

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif("connections['default'].vendor != 'postgresql'", reason="needs it"),
]
LOTS = [["Number", "Variety", "Seeds", "Year", "Packets", "Seeds in a packet"]] + [
    [f"K{n}", "Tarn Kettle", "900", "2024", "2", "20"] for n in range(8)
]


def all_at_once(*jobs):
    """Run every job in its own thread, starting together; which were not refused."""
    gate = threading.Barrier(len(jobs))

    def run(job):
        try:
            gate.wait()
            job()
            return True
        except Refused:
            return False
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(jobs)) as pool:
        return list(pool.map(run, jobs))


@pytest.fixture(autouse=True)
def one_batch(monkeypatch):
    """All eight rows are one batch, however slow the machine is."""
    monkeypatch.setattr(writing, "LONGEST_S", 60)


@pytest.fixture
def ready(variety, bring, coordinator):
    """Eight lots to be written, which may be lent before their first test."""
    save_bench_rules(by=coordinator, hold_until_tested=False)
    return bring("lots", LOTS)


@pytest.fixture
def written(ready, write):
    return write(ready)


def confirm(card, by):
    services.confirm(card_import=card, by=by, on=timezone.localdate())


def test_an_import_confirmed_by_many_at_once_is_written_once(ready, administrator, coordinator):
    def confirm_and_write(by):
        try:
            confirm(ready, by)
        finally:
            if claimed := running.claim(ready.pk, worker=f"w-{threading.get_ident()}"):
                running.work_on(claimed)

    people = [administrator, coordinator] * 3
    got = all_at_once(*[lambda by=by: confirm_and_write(by) for by in people])

    ready.refresh_from_db()
    if ready.is_at_work:  # whoever confirmed was too early to claim what another held
        work(ready)
    assert sum(got) == 1
    assert set(fates(ready)) == {"written"}
    assert Lot.objects.count() == 8
    assert list(problems()) == []


def test_control_two_workers_who_do_not_hold_the_rows_write_them_twice(
    ready, administrator, monkeypatch
):
    confirm(ready, administrator)
    everybody_has_looked = threading.Barrier(2, timeout=20)

    def not_held(card_import, fate, order):
        rows = list(card_import.rows.filter(fate=fate).order_by(order))
        everybody_has_looked.wait()
        return rows

    monkeypatch.setattr(writing, "_held", not_held)

    def write():
        kind = kind_for(ready, on=timezone.localdate())
        writing.write_batch(ready, kind, by=administrator)

    all_at_once(write, write)

    assert Lot.objects.count() == 16


def test_two_workers_on_one_import_write_each_row_once(ready, administrator):
    confirm(ready, administrator)

    def write():
        kind = kind_for(ready, on=timezone.localdate())
        while writing.write_batch(ready, kind, by=administrator):
            pass

    assert all_at_once(*[write] * 4) == [True] * 4
    assert Lot.objects.count() == 8
    assert set(fates(ready)) == {"written"}


def test_confirmed_and_left_at_once_one_of_them_holds(ready, administrator, coordinator):
    confirmed, left = all_at_once(
        lambda: confirm(ready, administrator),
        lambda: services.stop(card_import=ready, by=coordinator),
    )

    # Confirmed first and then stopped, nothing being written yet, is both: stopped, all rows
    # still there and none written. Left first, the confirmation is refused.
    ready.refresh_from_db()
    assert left
    assert ready.state == ("stopped" if confirmed else "left")
    assert ready.rows.count() == (8 if confirmed else 0)
    assert not Lot.objects.exists()


def test_control_who_looks_before_confirming_confirms_what_was_left(ready, administrator):
    everybody_has_looked = threading.Barrier(2, timeout=20)
    left = threading.Event()

    def looked_at() -> CardImport:
        card = CardImport.objects.get(pk=ready.pk)
        everybody_has_looked.wait()
        if card.state != "ready":
            raise Refused("not now")
        return card

    def leave():
        services._leave(looked_at())
        left.set()

    def confirm_late():
        card = looked_at()
        left.wait(20)
        card.state, card.confirmed_at = "writing", timezone.now()
        card.save(update_fields=["state", "confirmed_at"])

    assert all_at_once(leave, confirm_late) == [True, True]
    ready.refresh_from_db()
    assert (ready.state, ready.rows.count()) == ("writing", 0)


def undo_batch(card, by):
    kind = kind_for(card, on=timezone.localdate())
    writing.undo_batch(card, kind, by=by, on=timezone.localdate())


def lend(packet, member, by):
    lend_packet(packet=packet, borrower=member, on=timezone.localdate(), by=by)


@pytest.mark.parametrize("turn", range(4))
def test_undone_while_it_is_lent_a_lot_is_gone_or_lent_and_never_both(
    written, member, administrator, coordinator, turn
):
    lots = list(Lot.objects.order_by("pk"))
    packets = [lot.packets.order_by("code")[0] for lot in lots[: 2 * (turn % 2) + 1]]
    CardImport.objects.filter(pk=written.pk).update(state="undoing", undone_by=administrator)

    got = all_at_once(
        lambda: undo_batch(written, administrator),
        *[lambda p=p: lend(p, member, coordinator) for p in packets],
    )

    lent = set(Loan.objects.values_list("packet__lot", flat=True))
    kept = {row.made["lot"] for row in written.rows.filter(fate=CardRow.Fate.KEPT)}
    undone = {row.made["lot"] for row in written.rows.filter(fate=CardRow.Fate.UNDONE)}
    assert got[0]
    assert sum(got[1:]) == len(lent)
    assert lent == kept
    assert {lot.pk for lot in lots} == kept | undone
    assert {lot.loose + lot.packed for lot in Lot.objects.filter(pk__in=undone)} <= {0}
    assert list(problems()) == []


def undo_while_it_is_lent(written, by, member, monkeypatch, undo):
    """Lend the first packet right after undoing has looked whether anything was built on it."""
    packet = Packet.objects.order_by("pk")[0]
    looked, lent = threading.Event(), threading.Event()
    really = Lots.rests_on

    def rests_on(kind, row):
        found = really(kind, row)
        if row.made["lot"] == packet.lot_id and threading.current_thread().name == "undoing":
            looked.set()
            lent.wait(20)
        return found

    def take_back():
        threading.current_thread().name = "undoing"
        undo_batch(written, by)

    def borrow():
        looked.wait(20)
        try:
            lend(packet, member, by)
        finally:
            lent.set()

    monkeypatch.setattr(Lots, "rests_on", rests_on)
    monkeypatch.setattr(Lots, "undo", undo)
    CardImport.objects.filter(pk=written.pk).update(state="undoing", undone_by=by)
    assert all_at_once(take_back, borrow) == [True, True]
    return written.rows.get(made__lot=packet.lot_id)


def test_what_is_lent_after_the_look_is_kept(written, member, administrator, monkeypatch):
    row = undo_while_it_is_lent(written, administrator, member, monkeypatch, Lots.undo)

    assert row.fate == CardRow.Fate.KEPT
    assert fates(written).count("undone") == 7
    assert list(problems()) == []


def test_control_undoing_by_the_look_alone_undoes_what_is_lent(
    written, member, administrator, monkeypatch
):
    def undo(kind, row, *, by, on):
        if built := kind.rests_on(row):
            raise Refused(built)
        Lot.objects.filter(pk=row.made["lot"]).update(withheld_reason="undone")

    row = undo_while_it_is_lent(written, administrator, member, monkeypatch, undo)

    assert row.fate == CardRow.Fate.UNDONE
    assert Loan.objects.filter(packet__lot=row.made["lot"]).exists()
