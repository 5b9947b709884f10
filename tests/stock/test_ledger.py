"""Seed does not appear from nowhere, and a packet is in one place."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import F, Sum

from library.errors import Conflict, NotEnough, Refused
from library.stock import services
from library.stock.models import Lot, Movement, Packet

ON = dt.date(2025, 11, 1)
HUGE = 2**31


def sums(lot):
    return lot.movements.aggregate(loose=Sum("loose_change"), packed=Sum("packed_change"))


def balance(lot):
    lot.refresh_from_db()
    return {"loose": lot.loose, "packed": lot.packed}


def lines(lot):
    return list(lot.movements.values_list("kind", "loose_change", "packed_change"))


def test_receiving_writes_the_first_movement(make_lot):
    lot = make_lot(seeds=500)

    assert balance(lot) == {"loose": 500, "packed": 0}
    assert lines(lot) == [("received", 500, 0)]


def test_packing_moves_seed_from_the_jar_into_packets(make_lot, desk):
    lot = make_lot(seeds=500)

    packets = services.pack(lot=lot, packets=3, seeds_each=20, on=ON, by=desk)

    assert balance(lot) == {"loose": 440, "packed": 60}
    assert lines(lot) == [("received", 500, 0), ("packed", -60, 60)]
    assert [(p.seeds, p.state, p.lot_id) for p in packets] == [(20, "on_shelf", lot.pk)] * 3
    assert len({p.code for p in packets}) == 3


def test_packing_more_than_the_jar_holds_changes_nothing(make_lot, desk):
    lot = make_lot(seeds=50)

    with pytest.raises(NotEnough) as refusal:
        services.pack(lot=lot, packets=3, seeds_each=20, on=ON, by=desk)

    assert str(refusal.value) == (
        f"Lot {lot.number} has 50 in the jar and 0 in packets on the shelf; "
        "60 could not be taken."
    )
    assert balance(lot) == {"loose": 50, "packed": 0}
    assert lot.packets.count() == 0


@pytest.mark.parametrize("count", [0, -1, HUGE, 2.5, "3", True, None])
@pytest.mark.parametrize("field", ["packets", "seeds_each"])
def test_packing_refuses_a_count_that_is_none(make_lot, desk, field, count):
    lot = make_lot(seeds=500)
    counts = {"packets": 2, "seeds_each": 20} | {field: count}

    with pytest.raises(Refused) as refusal:
        services.pack(lot=lot, on=ON, by=desk, **counts)

    assert refusal.value.field == field
    assert lines(lot) == [("received", 500, 0)]


@pytest.mark.parametrize("seeds", [0, -5, HUGE, 0.5, "9"])
def test_receiving_refuses_a_count_that_is_none(make_lot, seeds):
    with pytest.raises(Refused) as refusal:
        make_lot(seeds=seeds)

    assert refusal.value.field == "seeds"
    assert Lot.objects.count() == 0


def test_a_lent_packet_leaves_the_shelf_and_the_ledger_says_so(make_packet, desk):
    packet = make_packet(seeds_each=20)

    services.take_packet_off_shelf(packet=packet, on=ON, by=desk)

    packet.refresh_from_db()
    assert packet.state == "lent"
    assert balance(packet.lot) == {"loose": 480, "packed": 0}
    assert lines(packet.lot)[-1] == ("lent", 0, -20)


def test_a_packet_already_out_is_a_conflict(make_packet, desk):
    packet = make_packet()
    services.take_packet_off_shelf(packet=packet, on=ON, by=desk)
    again = Packet.objects.get(pk=packet.pk)

    with pytest.raises(Conflict) as refusal:
        services.take_packet_off_shelf(packet=again, on=ON, by=desk)

    assert str(refusal.value) == f"Packet {packet.code} is not on the shelf: it is lent."
    assert balance(packet.lot) == {"loose": 480, "packed": 0}


def test_a_packet_comes_back_unopened_once(make_packet, desk):
    packet = make_packet()
    services.take_packet_off_shelf(packet=packet, on=ON, by=desk)

    services.put_packet_back(packet=packet, on=ON, by=desk)

    assert balance(packet.lot) == {"loose": 480, "packed": 20}
    with pytest.raises(Conflict):
        services.put_packet_back(packet=packet, on=ON, by=desk)


def test_unpacking_pours_the_packet_into_the_jar(make_packet, desk):
    packet = make_packet()

    services.unpack(packet=packet, on=ON, by=desk)

    packet.refresh_from_db()
    assert packet.state == "emptied"
    assert balance(packet.lot) == {"loose": 500, "packed": 0}


def test_a_test_draws_from_the_jar_first(make_lot, desk):
    lot = make_lot(seeds=200, packets=5, seeds_each=20)

    movement = services.draw_for_test(lot=lot, seeds=80, on=ON, by=desk)

    assert (movement.kind, movement.loose_change) == ("drawn_for_test", -80)
    assert balance(lot) == {"loose": 20, "packed": 100}


def test_a_test_opens_as_few_packets_as_it_needs(make_lot, desk):
    lot = make_lot(seeds=110, packets=5, seeds_each=20)

    services.draw_for_test(lot=lot, seeds=40, on=ON, by=desk)

    assert balance(lot) == {"loose": 10, "packed": 60}
    assert lot.packets.on_shelf().count() == 3
    assert lot.packets.filter(state="emptied").count() == 2


def test_a_test_of_more_than_there_is_opens_no_packet(make_lot, desk):
    lot = make_lot(seeds=110, packets=5, seeds_each=20)

    with pytest.raises(NotEnough):
        services.draw_for_test(lot=lot, seeds=111, on=ON, by=desk)

    assert balance(lot) == {"loose": 10, "packed": 100}
    assert lot.packets.on_shelf().count() == 5


def test_discarding_needs_a_reason_and_one_of_jar_or_packet(make_lot, desk):
    lot = make_lot(seeds=100, packets=1, seeds_each=20)
    packet = lot.packets.get()
    same = {"lot": lot, "on": ON, "by": desk}

    for wrong in (
        {"seeds": 10, "reason": "  "},
        {"reason": "mould"},
        {"seeds": 10, "packet": packet, "reason": "mould"},
        {"seeds": -1, "reason": "mould"},
    ):
        with pytest.raises(Refused):
            services.discard(**same, **wrong)

    assert balance(lot) == {"loose": 80, "packed": 20}


def test_what_is_left_of_a_lot_can_be_discarded_at_once(make_lot, desk):
    lot = make_lot(seeds=100, packets=2, seeds_each=20)

    services.discard_rest(lot=lot, on=ON, by=desk, reason="crossed with a gourd")

    assert balance(lot) == {"loose": 0, "packed": 0}
    assert set(lot.packets.values_list("state", flat=True)) == {"discarded"}


def test_seed_given_away_is_gone(make_lot, desk):
    lot = make_lot(seeds=100, packets=2, seeds_each=20)
    packet = lot.packets.first()

    services.give_away(lot=lot, packet=packet, on=ON, by=desk, reason="school garden")
    services.give_away(lot=lot, seeds=10, on=ON, by=desk, reason="school garden")

    assert balance(lot) == {"loose": 50, "packed": 20}
    packet.refresh_from_db()
    assert packet.state == "given_away"


def test_a_packet_of_another_lot_is_refused(make_lot, make_packet, desk):
    lot, stranger = make_lot(), make_packet()

    with pytest.raises(Refused):
        services.discard(lot=lot, packet=stranger, on=ON, by=desk, reason="mould")

    stranger.refresh_from_db()
    assert stranger.state == "on_shelf"


@pytest.mark.parametrize(
    ("on", "sentence"),
    [
        (
            dt.date(2025, 9, 30),
            "30 September 2025 is too early: the day the lot was received was 1 October 2025.",
        ),
        (dt.date(2999, 1, 1), "1 January 2999 is still to come; give a day up to today."),
        ("yesterday", "“yesterday” is not a day."),
    ],
)
def test_an_impossible_day_is_refused(make_lot, desk, on, sentence):
    lot = make_lot()

    with pytest.raises(Refused) as refusal:
        services.discard(lot=lot, seeds=1, on=on, by=desk, reason="mould")

    assert str(refusal.value) == sentence


def test_a_miscount_is_written_as_the_difference(make_lot, desk):
    lot = make_lot(seeds=100)

    services.correct_count(lot=lot, loose=93, on=ON, by=desk, reason="counted twice")

    assert lines(lot)[-1] == ("miscounted", -7, 0)
    assert balance(lot) == {"loose": 93, "packed": 0}


def test_a_mistake_is_mended_by_a_contrary_movement_once(make_lot, desk):
    lot = make_lot(seeds=100, packets=1, seeds_each=20)
    packet = lot.packets.get()
    mistake = services.discard(lot=lot, packet=packet, on=ON, by=desk, reason="wrong box")

    mending = services.mend_movement(movement=mistake, on=ON, by=desk, reason="right box")

    assert (mending.kind, mending.packed_change) == ("discarded", 20)
    assert mending.mends == mistake
    packet.refresh_from_db()
    assert packet.state == "on_shelf"
    assert balance(lot) == {"loose": 80, "packed": 20}
    with pytest.raises(Conflict):
        services.mend_movement(movement=mistake, on=ON, by=desk, reason="again")
    with pytest.raises(Refused):
        services.mend_movement(movement=mending, on=ON, by=desk, reason="undo the undoing")


def test_a_receipt_is_not_mended_below_what_was_packed(make_lot, desk):
    lot = make_lot(seeds=100, packets=1, seeds_each=20)

    with pytest.raises(NotEnough):
        services.mend_movement(
            movement=lot.movements.first(), on=ON, by=desk, reason="never came"
        )

    assert balance(lot) == {"loose": 80, "packed": 20}


def test_packing_and_lending_are_undone_by_their_own_verbs(make_packet, desk):
    packet = make_packet()
    services.take_packet_off_shelf(packet=packet, on=ON, by=desk)

    for movement in packet.lot.movements.filter(kind__in=["packed", "lent"]):
        with pytest.raises(Refused):
            services.mend_movement(movement=movement, on=ON, by=desk, reason="mistake")


def test_a_balance_cannot_be_written_below_zero(make_lot):
    lot = make_lot(seeds=10)

    for column in ("loose", "packed"):
        with pytest.raises(IntegrityError), transaction.atomic():
            Lot.objects.filter(pk=lot.pk).update(**{column: F(column) - 11})


def test_a_movement_is_never_changed_through_the_orm(make_lot):
    movement = make_lot().movements.get()
    movement.loose_change = 9999

    with pytest.raises(IntegrityError), transaction.atomic():
        movement.save()
    with pytest.raises(IntegrityError), transaction.atomic():
        Movement._base_manager.filter(pk=movement.pk).update(reason="no")
    with pytest.raises(TypeError):
        Movement.objects.all().update(reason="no")
    with pytest.raises(TypeError):
        Movement.objects.all().delete()
    with pytest.raises(IntegrityError), transaction.atomic():
        movement.delete()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE stock_movement SET loose_change = 9999",
        "UPDATE stock_movement SET \"on\" = '2020-01-01'",
        "DELETE FROM stock_movement",
        "UPDATE stock_lot SET number = 'L99999-9'",
        "UPDATE stock_lot SET received_on = '2020-01-01'",
        "UPDATE stock_packet SET seeds = 9999",
    ],
)
def test_the_database_itself_refuses_to_rewrite_the_record(make_lot, statement):
    lot = make_lot(packets=1)

    with (
        pytest.raises(IntegrityError),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement)

    assert balance(lot) == {"loose": 480, "packed": 20}


def test_who_recorded_a_movement_may_leave(make_lot, make_member):
    leaver = make_member("swift", role="desk")
    lot = make_lot(by=leaver)

    leaver.delete()

    assert lot.movements.get().recorded_by is None


@pytest.mark.parametrize(
    "row",
    [
        {"kind": "lent", "packed_change": 20},
        {"kind": "received", "loose_change": -5},
        {"kind": "discarded", "loose_change": 5},
        {"kind": "drawn_for_test", "packed_change": -5},
        {"kind": "packed", "loose_change": -5, "packed_change": 6},
        {"kind": "miscounted"},
    ],
)
def test_a_movement_goes_the_way_of_its_kind(make_packet, row):
    packet = make_packet()

    with pytest.raises(IntegrityError), transaction.atomic():
        Movement.objects.create(lot=packet.lot, packet=packet, on=ON, **row)


def test_a_lot_never_grows_past_what_can_be_counted(make_lot):
    lot = make_lot(seeds=100_000_000)
    Lot.objects.filter(pk=lot.pk).update(loose=2_000_000_000)

    assert Lot.objects.add_seed(lot.pk, loose=1) is False


def test_the_sums_of_the_ledger_are_the_balance_after_a_busy_day(make_lot, desk):
    lot = make_lot(seeds=1000, packets=10, seeds_each=30)
    first, second, third, fourth = lot.packets.all()[:4]

    services.take_packet_off_shelf(packet=first, on=ON, by=desk)
    services.take_packet_off_shelf(packet=second, on=ON, by=desk)
    services.put_packet_back(packet=second, on=ON, by=desk)
    services.unpack(packet=third, on=ON, by=desk)
    services.give_away(lot=lot, packet=fourth, on=ON, by=desk, reason="fair")
    services.draw_for_test(lot=lot, seeds=100, on=ON, by=desk)

    assert balance(lot) == {"loose": 630, "packed": 210}
    assert sums(lot) == {"loose": 630, "packed": 210}
    assert sum(lot.packets.on_shelf().values_list("seeds", flat=True)) == 210
