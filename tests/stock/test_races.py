"""Many hands at one shelf. On PostgreSQL with real threads; each race beside a control without
the guard, which must go wrong, or the race would prove nothing.
"""

from __future__ import annotations

import datetime as dt
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection, connections, transaction
from django.db.models import Sum

from library.errors import Refused
from library.stock import services
from library.stock.checks import problems
from library.stock.models import Lot, Movement, Packet, StoragePlace

ON = dt.date(2025, 11, 1)
THREADS = 16

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif("connection.vendor != 'postgresql'", reason="needs PostgreSQL"),
]


def all_at_once(*jobs):
    """Run every job in its own thread, starting together; how many were not refused."""
    gate = threading.Barrier(len(jobs))

    def run(job):
        try:
            gate.wait()
            job()
            return 1
        except Refused:
            return 0
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(jobs)) as pool:
        return sum(pool.map(run, jobs))


def wait_for_all():
    """A step inside a job that nobody passes before everybody reached it."""
    return threading.Barrier(THREADS, timeout=20).wait


def test_of_sixteen_who_reach_for_the_last_packet_one_gets_it(make_packet, desk):
    packet = make_packet()

    def take():
        mine = Packet.objects.select_related("lot").get(pk=packet.pk)
        services.take_packet_off_shelf(packet=mine, on=ON, by=desk)

    got = all_at_once(*[take] * THREADS)

    assert got == 1
    assert Movement.objects.filter(kind="lent").count() == 1
    assert list(problems()) == []


def test_control_reading_first_and_saving_later_lends_the_packet_many_times(make_packet, desk):
    packet = make_packet()
    everybody_has_looked = wait_for_all()

    def take():
        with transaction.atomic():
            mine = Packet.objects.select_related("lot").get(pk=packet.pk)
            everybody_has_looked()
            if mine.state != "on_shelf":
                raise Refused("gone")
            mine.state = "lent"
            mine.save(update_fields=["state"])

    assert all_at_once(*[take] * THREADS) > 1


def test_two_packers_at_one_jar_never_pack_more_than_it_held(make_lot, desk):
    lot = make_lot(seeds=500)

    def pack():
        services.pack(lot=lot, packets=10, seeds_each=30, on=ON, by=desk)

    got = all_at_once(*[pack] * 2)

    lot.refresh_from_db()
    assert (got, lot.loose, lot.packed) == (1, 200, 300)
    assert list(problems()) == []


def test_control_a_balance_read_and_written_back_loses_seed(make_lot):
    lot = make_lot(seeds=500)
    everybody_has_looked = wait_for_all()

    def take_ten():
        mine = Lot.objects.get(pk=lot.pk)
        everybody_has_looked()
        Lot.objects.filter(pk=lot.pk).update(loose=mine.loose - 10)

    all_at_once(*[take_ten] * THREADS)

    lot.refresh_from_db()
    assert lot.loose > 500 - 10 * THREADS


def test_packets_filled_at_once_have_codes_of_their_own(make_lot, desk):
    lots = [make_lot(seeds=500) for _ in range(8)]
    jobs = [
        lambda lot=lot: services.pack(lot=lot, packets=5, seeds_each=10, on=ON, by=desk)
        for lot in lots
    ]

    assert all_at_once(*jobs) == 8
    assert Packet.objects.values("code").distinct().count() == 40


def test_the_first_lots_of_all_may_be_received_at_once(make_variety, desk):
    variety = make_variety()

    def receive():
        services.receive_lot(variety=variety, origin="deposit", on=ON, by=desk, seeds=10)

    assert all_at_once(*[receive] * 8) == 8
    assert sorted(Lot.objects.values_list("number", flat=True))[-1][:6] == "L00008"


def test_lending_testing_packing_and_discarding_together_never_wait_for_each_other(
    make_lot, desk
):
    lot = make_lot(seeds=400, packets=10, seeds_each=20)
    packets = list(lot.packets.all())
    jobs = [
        *[
            lambda p=p: services.take_packet_off_shelf(packet=p, on=ON, by=desk)
            for p in packets
        ],
        lambda: services.draw_for_test(lot=lot, seeds=250, on=ON, by=desk),
        lambda: services.draw_for_test(lot=lot, seeds=100, on=ON, by=desk),
        lambda: services.pack(lot=lot, packets=2, seeds_each=20, on=ON, by=desk),
        lambda: services.discard_rest(lot=lot, on=ON, by=desk, reason="wet"),
        lambda: services.unpack(packet=packets[0], on=ON, by=desk),
        lambda: services.correct_count(lot=lot, loose=150, on=ON, by=desk, reason="again"),
    ]

    all_at_once(*jobs)

    sums = lot.movements.aggregate(loose=Sum("loose_change"), packed=Sum("packed_change"))
    lot.refresh_from_db()
    assert sums == {"loose": lot.loose, "packed": lot.packed}
    assert list(problems()) == []


def test_a_movement_is_mended_once_by_whoever_comes_first(make_lot, desk):
    lot = make_lot(seeds=500)
    mistake = services.discard(lot=lot, seeds=10, on=ON, by=desk, reason="wrong jar")

    def mend():
        line = Movement.objects.select_related("lot", "packet").get(pk=mistake.pk)
        services.mend_movement(movement=line, on=ON, by=desk, reason="right jar")

    got = all_at_once(*[mend] * 8)

    lot.refresh_from_db()
    assert (got, lot.loose) == (1, 500)


def test_a_stock_taking_is_closed_once(make_lot, desk):
    lot = make_lot(seeds=500)
    take = services.start_stock_take(storage_place=None, by=desk)
    services.count_lot(stock_take=take, lot=lot, loose=490, by=desk)

    got = all_at_once(
        *[lambda: services.close_stock_take(stock_take=take, by=desk)] * 4,
    )

    lot.refresh_from_db()
    assert (got, lot.loose) == (1, 490)


def test_two_moves_never_close_a_ring_of_places(desk):
    room, other = (
        services.add_storage_place(name=name, kind="room", by=desk) for name in ("A", "B")
    )

    def put(place, inside):
        place = StoragePlace.objects.get(pk=place.pk)
        services.edit_storage_place(place=place, inside=inside, by=desk)

    got = all_at_once(lambda: put(room, other), lambda: put(other, room))

    assert got == 1


def test_two_amendments_never_turn_time_round_together(make_lot, variety, desk):
    parent = make_lot(variety, harvest_year=2020)
    child = make_lot(variety, origin="return", parents=[(parent, 1)], harvest_year=2024, on=ON)

    def amend(lot, year):
        services.amend_lot(lot=lot, field="harvest_year", value=year, reason="x", by=desk)

    got = all_at_once(lambda: amend(parent, 2023), lambda: amend(child, 2021))

    assert got == 1
    assert list(problems()) == []


def test_a_packet_is_not_both_lent_and_counted_as_missing(make_packet, desk):
    packet = make_packet()
    take = services.start_stock_take(storage_place=None, by=desk)
    services.count_lot(
        stock_take=take, lot=packet.lot, loose=480, missing_packets=[packet], by=desk
    )

    all_at_once(
        lambda: services.take_packet_off_shelf(packet=packet, on=ON, by=desk),
        lambda: services.close_stock_take(stock_take=take, by=desk),
    )

    assert Movement.objects.filter(packet=packet).count() == 1
    assert connection.vendor == "postgresql"
    assert list(problems()) == []
