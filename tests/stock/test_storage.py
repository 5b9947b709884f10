"""Where seed lies, how warm it is there, and what a count of it finds."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from library.errors import Conflict, NotEnough, Refused
from library.stock import guards, services
from library.stock.models import Lot, Packet, StoragePlace
from library.stock.places import PlaceTree, climate_of

ON = dt.date(2025, 11, 1)


@pytest.fixture
def make_place(desk):
    def make(name, *, inside=None, kind="box", **facts):
        return services.add_storage_place(name=name, kind=kind, inside=inside, by=desk, **facts)

    return make


@pytest.fixture
def cellar(make_place):
    """Cellar (12 °C, 60 %) › Freezer (-18 °C) › Box."""
    cellar = make_place("Cellar", kind="room", temperature_c=12, humidity_percent=60)
    freezer = make_place("Freezer", kind="freezer", inside=cellar, temperature_c=-18)
    box = make_place("Box", inside=freezer)
    return cellar, freezer, box


def test_a_place_is_shown_by_its_path(cellar):
    assert PlaceTree().path(cellar[2].pk) == "Cellar › Freezer › Box"


def test_each_figure_of_the_climate_is_the_nearest_that_is_known(cellar, make_lot):
    lot = make_lot(storage_place=cellar[2])

    climate = climate_of(lot)

    assert (climate.temperature_c, climate.temperature_from) == (Decimal(-18), cellar[1])
    assert climate.is_frozen is True


def test_the_rooms_humidity_says_nothing_about_the_air_in_its_freezer(cellar, make_lot):
    climate = climate_of(make_lot(storage_place=cellar[2]))

    assert (climate.humidity_percent, climate.humidity_from) == (None, None)


def test_a_box_has_the_humidity_of_its_room_where_nothing_cools_it(
    cellar, make_place, make_lot
):
    lot = make_lot(storage_place=make_place("Tin", inside=cellar[0]))

    climate = climate_of(lot)

    assert (climate.humidity_percent, climate.humidity_from) == (Decimal(60), cellar[0])


def test_an_unknown_climate_is_not_guessed(make_place, make_lot):
    lot = make_lot(storage_place=make_place("Shed", kind="room"))

    assert climate_of(lot).temperature_c is None
    assert climate_of(make_lot()).temperature_c is None


def test_a_place_never_lies_inside_itself(cellar, desk):
    room, freezer, box = cellar

    for place, inside in ((room, box), (room, room), (freezer, box)):
        with pytest.raises(Refused) as refusal:
            services.edit_storage_place(place=place, inside=inside, by=desk)
        assert refusal.value.field == "inside"
    room.refresh_from_db()
    assert room.inside is None


def test_two_places_of_one_name_side_by_side_are_refused(cellar, make_place):
    with pytest.raises(Conflict):
        make_place("Box", inside=cellar[1])
    with pytest.raises(Conflict):
        make_place("Cellar", kind="room")


@pytest.mark.parametrize(
    "facts",
    [{"temperature_c": 400}, {"humidity_percent": 101}, {"kind": "moon"}, {"name": ""}],
)
def test_a_place_that_cannot_be_is_refused(make_place, facts):
    with pytest.raises(Refused) as refusal:
        make_place(**({"name": "Odd"} | facts))

    assert refusal.value.field == next(iter(facts))
    assert StoragePlace.objects.count() == 0


def test_a_place_that_holds_something_is_not_removed(cellar, make_lot, desk):
    make_lot(storage_place=cellar[2])

    for place in cellar:
        with pytest.raises(Conflict):
            services.remove_storage_place(place=place, by=desk)

    assert StoragePlace.objects.count() == 3


def test_an_empty_place_is_removed_also_after_it_held_lots(cellar, make_lot, desk):
    lot = make_lot(storage_place=cellar[2])
    services.move_lot(lot=lot, storage_place=cellar[0], by=desk, on=ON)

    services.remove_storage_place(place=cellar[2], by=desk)

    assert StoragePlace.objects.count() == 2
    assert lot.keepings.count() == 2


def test_moving_a_lot_takes_its_packets_on_the_shelf_along(cellar, make_lot, desk):
    lot = make_lot(packets=2)
    lent = lot.packets.first()
    services.take_packet_off_shelf(packet=lent, on=ON, by=desk)

    services.move_lot(lot=lot, storage_place=cellar[2], by=desk, on=ON)

    places = dict(lot.packets.values_list("state", "storage_place"))
    assert places == {"on_shelf": cellar[2].pk, "lent": None}
    assert list(Lot.objects.lying_in(PlaceTree().within(cellar[0].pk))) == [lot]


def test_a_lot_is_handed_to_an_approved_member_and_back(make_lot, member, applicant, desk):
    lot = make_lot()

    with pytest.raises(Refused):
        services.hand_to_custodian(lot=lot, custodian=applicant, by=desk, on=ON)
    services.hand_to_custodian(lot=lot, custodian=member, by=desk, on=ON)
    with pytest.raises(Refused):
        services.hand_to_custodian(lot=lot, custodian=member, by=desk, on=ON)
    services.hand_to_custodian(lot=lot, custodian=None, by=desk, on=ON)

    assert [k.custodian for k in lot.keepings.all()] == [None, member, None]


def test_closing_a_stock_taking_writes_the_differences(make_lot, desk):
    lot = make_lot(seeds=500, packets=3, seeds_each=20)
    take = services.start_stock_take(storage_place=None, by=desk)
    gone = lot.packets.first()

    services.count_lot(stock_take=take, lot=lot, loose=430, missing_packets=[gone], by=desk)
    written = services.close_stock_take(stock_take=take, by=desk)

    lot.refresh_from_db()
    gone.refresh_from_db()
    assert [(m.kind, m.loose_change, m.packed_change) for m in written] == [
        ("found_different", 0, -20),
        ("found_different", -10, 0),
    ]
    assert (lot.loose, lot.packed, gone.state) == (430, 40, "missing")


def test_a_packet_found_again_comes_back_to_the_shelf(make_packet, desk):
    packet = make_packet()
    first = services.start_stock_take(storage_place=None, by=desk)
    services.count_lot(
        stock_take=first, lot=packet.lot, loose=480, missing_packets=[packet], by=desk
    )
    services.close_stock_take(stock_take=first, by=desk)

    second = services.start_stock_take(storage_place=None, by=desk)
    services.count_lot(
        stock_take=second, lot=packet.lot, loose=480, found_again=[packet], by=desk
    )
    services.close_stock_take(stock_take=second, by=desk)

    packet.refresh_from_db()
    packet.lot.refresh_from_db()
    assert (packet.state, packet.lot.packed) == ("on_shelf", 20)


def test_seed_that_moved_between_count_and_close_stays_moved(make_lot, desk):
    lot = make_lot(seeds=500, packets=2, seeds_each=20)
    one, _other = lot.packets.all()
    take = services.start_stock_take(storage_place=None, by=desk)
    services.count_lot(stock_take=take, lot=lot, loose=455, missing_packets=[one], by=desk)

    services.take_packet_off_shelf(packet=one, on=ON, by=desk)
    services.draw_for_test(lot=lot, seeds=100, on=ON, by=desk)
    services.close_stock_take(stock_take=take, by=desk)

    lot.refresh_from_db()
    one.refresh_from_db()
    assert (lot.loose, lot.packed, one.state) == (355, 20, "lent")


def test_a_count_that_no_longer_fits_is_asked_for_again(make_lot, desk):
    lot = make_lot(seeds=100)
    take = services.start_stock_take(storage_place=None, by=desk)
    services.count_lot(stock_take=take, lot=lot, loose=10, by=desk)
    services.draw_for_test(lot=lot, seeds=50, on=ON, by=desk)

    with pytest.raises(NotEnough) as refusal:
        services.close_stock_take(stock_take=take, by=desk)

    take.refresh_from_db()
    assert str(refusal.value) == (
        f"Seed of lot {lot.number} was taken since it was counted; count its jar again."
    )
    assert take.closed_at is None


def test_a_closed_stock_taking_takes_no_more(make_lot, desk):
    lot = make_lot()
    take = services.start_stock_take(storage_place=None, by=desk)
    services.close_stock_take(stock_take=take, by=desk)

    with pytest.raises(Conflict):
        services.count_lot(stock_take=take, lot=lot, loose=1, by=desk)
    with pytest.raises(Conflict):
        services.close_stock_take(stock_take=take, by=desk)


def test_a_packet_of_another_lot_is_not_counted_as_missing(make_lot, make_packet, desk):
    take = services.start_stock_take(storage_place=None, by=desk)

    with pytest.raises(Refused):
        services.count_lot(
            stock_take=take,
            lot=make_lot(),
            loose=1,
            missing_packets=[make_packet()],
            by=desk,
        )


@pytest.mark.parametrize("loose", [-1, 1.5, "3", 2**31])
def test_a_jar_holds_a_whole_number(make_lot, desk, loose):
    take = services.start_stock_take(storage_place=None, by=desk)

    with pytest.raises(Refused) as refusal:
        services.count_lot(stock_take=take, lot=make_lot(), loose=loose, by=desk)

    assert refusal.value.field == "loose"


def test_verifying_says_that_all_adds_up(make_lot, capsys):
    make_lot(packets=2)

    call_command("verify_stock")

    assert capsys.readouterr().out == "1 lots add up.\n"


def test_verifying_names_the_lot_that_does_not_add_up(make_lot, capsys):
    lot, shelf = make_lot(), make_lot(packets=1)
    Lot.objects.filter(pk=lot.pk).update(loose=501)
    Packet.objects.filter(lot=shelf).update(state="lent")

    with pytest.raises(CommandError):
        call_command("verify_stock")

    assert capsys.readouterr().err.splitlines() == [
        f"Lot {lot.number} says 501 in the jar and 0 in packets; its movements sum to 500 "
        "and 0.",
        f"Lot {shelf.number} says 20 in packets; its packets on the shelf hold 0.",
    ]


def test_verifying_notices_a_guard_that_is_down(db, capsys):
    guards.lift(connection, guards.GUARDS[:1])

    with pytest.raises(CommandError):
        call_command("verify_stock")

    assert capsys.readouterr().err == (
        "The database's guard movement_never_changes is not up.\n"
    )


@pytest.mark.django_db(transaction=True)
def test_the_guards_stand_again_after_the_database_was_emptied(make_lot):
    make_lot()

    call_command("flush", interactive=False, verbosity=0)

    assert Lot.objects.count() == 0
    assert guards.missing(connection) == []
