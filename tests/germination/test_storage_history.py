"""A lot's way through its storage, checked by hand, and what had to be assumed of it."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from library.germination.estimates import model_of
from library.germination.storage import began, history_of
from library.stock import services as stock
from library.stock.models import Lot

RECEIVED = dt.date(2025, 10, 1)
TODAY = dt.date(2026, 11, 1)


@pytest.fixture
def room(desk):
    """Measured: 18 °C and 45 % humidity."""
    return stock.add_storage_place(
        name="Room", kind="room", temperature_c=18, humidity_percent=45, by=desk
    )


@pytest.fixture
def freezer(room, desk):
    """In that room; how cold it is was measured, how damp was not."""
    return stock.add_storage_place(
        name="Freezer", kind="freezer", inside=room, temperature_c=-18, by=desk
    )


@pytest.fixture
def lot(make_lot, variety, room):
    """A drying bean of 2023, received on 1 October 2025 into the room."""
    return make_lot(variety, harvest_year=2023, storage_place=room)


def stretches(lot, until=TODAY):
    history = history_of(Lot.objects.get(pk=lot.pk), until=until)
    return [
        (one.days, one.temperature_c, round(one.moisture_percent, 1))
        for one in history.stretches
    ]


def keys(lot, until=TODAY):
    return [note.key for note in history_of(Lot.objects.get(pk=lot.pk), until=until).notes]


def bean_moisture(humidity: float, temperature: float) -> float:
    """Cromarty, Ellis & Roberts 1982, for a seed of 2 % oil; percent of fresh weight."""
    dry = math.sqrt(-440 * math.log(1 - humidity / 100)) * 0.98 / (1.1 + temperature / 90)
    return 100 * dry / (100 + dry)


def test_the_whole_way_adds_up_to_what_a_hand_computes(lot, freezer, desk):
    stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=dt.date(2026, 1, 1))

    history = history_of(lot, until=TODAY)
    loss = model_of(lot.variety.crop.species).expected_loss(history.stretches).at(1127)

    # Ellis & Roberts 1980 with the constants of Phaseolus vulgaris as the table has them; each
    # degree below 20 °C loses 3.3 % faster than the equation says (fitted, see longevity).
    ke, cw, ch, cq = 9.09, 4.761, 0.0329, 0.000478
    expected = 0.0
    for days, warmth, moisture in [
        (731, 20.0, bean_moisture(50, 20)),  # 1 October 2023 to receipt: an ordinary room
        (92, 18.0, bean_moisture(45, 18)),  # to New Year's Day
        (304, -18.0, bean_moisture(45, 18)),  # since then, sealed up as it was
    ]:
        sigma = 10 ** (ke - cw * math.log10(moisture) - ch * warmth - cq * warmth**2)
        expected += days / sigma * math.exp(0.033 * (20 - warmth))
    assert history.stored_on == dt.date(2023, 10, 1)
    assert loss == pytest.approx(expected, rel=1e-9)


def test_every_assumption_is_noted_once(lot, freezer, desk):
    stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=dt.date(2026, 1, 1))

    assert keys(lot) == [
        "age_from_harvest",
        "storage_before_receipt",
        "moisture_assumed",
        "moisture_from_humidity",
        "moisture_sealed_in",
    ]


def test_seed_in_the_freezer_keeps_the_moisture_of_where_it_lay_before(lot, freezer, desk):
    stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=dt.date(2026, 1, 1))

    moistures = [moisture for _days, _warmth, moisture in stretches(lot)]

    damp, dry = round(bean_moisture(50, 20), 1), round(bean_moisture(45, 18), 1)
    assert moistures == [damp, dry, dry]


def test_seed_brought_straight_into_the_freezer_was_closed_up_in_a_room(
    make_lot, variety, freezer
):
    lot = make_lot(variety, harvest_year=2025, storage_place=freezer)

    assert stretches(lot) == [(396, -18.0, round(bean_moisture(50, 20), 1))]
    assert keys(lot) == ["age_from_harvest", "moisture_assumed"]


def test_measured_moisture_holds_wherever_it_lies(make_lot, variety, freezer):
    lot = make_lot(variety, harvest_year=2024, storage_place=freezer, moisture_percent=7.5)

    assert [moisture for _days, _warmth, moisture in stretches(lot)] == [7.5, 7.5]
    assert "moisture_measured" in keys(lot)


@pytest.mark.parametrize("percent", [0, 100])
def test_a_moisture_that_no_seed_has_counts_as_none(make_lot, variety, room, percent):
    lot = make_lot(variety, storage_place=room, moisture_percent=percent)

    assert stretches(lot)[0][2] == round(bean_moisture(45, 18), 1)


def test_a_place_that_nobody_measured_has_the_air_of_its_kind(make_lot, variety, desk):
    fridge = stock.add_storage_place(name="Fridge", kind="refrigerator", by=desk)
    box = stock.add_storage_place(name="Tin", kind="box", inside=fridge, by=desk)
    lot = make_lot(variety, harvest_year=2025, storage_place=box)

    assert stretches(lot) == [(396, 5.0, round(bean_moisture(50, 20), 1))]
    assert keys(lot) == ["age_from_harvest", "temperature_assumed", "moisture_assumed"]


def test_a_freezer_that_nobody_measured_is_not_as_warm_as_the_room_around_it(
    make_lot, variety, room, desk
):
    freezer = stock.add_storage_place(name="Chest", kind="freezer", inside=room, by=desk)
    lot = make_lot(variety, storage_place=freezer)

    assert stretches(lot)[0][1] == -18.0


def test_a_lot_in_no_place_lies_in_an_ordinary_room(make_lot, variety):
    lot = make_lot(variety, harvest_year=2025)

    assert stretches(lot) == [(396, 20.0, round(bean_moisture(50, 20), 1))]
    assert keys(lot) == ["age_from_harvest", "storage_place_unknown", "moisture_assumed"]


def test_a_lot_at_a_members_home_lies_in_the_librarys_freezer_no_longer(
    make_lot, variety, freezer, member, desk
):
    lot = make_lot(variety, harvest_year=2025, storage_place=freezer)
    stock.hand_to_custodian(lot=lot, custodian=member, by=desk, on=dt.date(2026, 1, 1))
    home = stretches(lot)
    stock.hand_to_custodian(lot=lot, custodian=None, by=desk, on=dt.date(2026, 4, 1))
    back = stretches(lot)

    warmths = [warmth for _days, warmth, _moisture in home]
    assert warmths == [-18.0, 20.0]
    assert [days for days, _warmth, _moisture in back] == [92, 90, 214]
    assert [warmth for _days, warmth, _moisture in back] == [-18.0, 20.0, -18.0]
    assert "storage_at_home" in keys(lot)


def test_a_place_named_at_a_members_home_counts(make_lot, variety, room, freezer, member, desk):
    lot = make_lot(variety, storage_place=room)
    stock.hand_to_custodian(lot=lot, custodian=member, by=desk, on=dt.date(2026, 1, 1))
    stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=dt.date(2026, 2, 1))

    assert [warmth for _days, warmth, _moisture in stretches(lot)] == [18.0, 20.0, -18.0]


def test_a_move_written_down_late_is_right_from_its_own_day(lot, freezer, room, desk):
    stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=dt.date(2026, 6, 1))
    stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=dt.date(2026, 1, 1))

    assert [days for days, _warmth, _moisture in stretches(lot)] == [731, 92, 304]


def test_what_came_later_does_not_count_for_an_earlier_day(lot, freezer, desk):
    stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=dt.date(2026, 6, 1))

    earlier = stretches(lot, until=dt.date(2025, 12, 1))

    assert [(days, warmth) for days, warmth, _moisture in earlier] == [(731, 20.0), (61, 18.0)]


def test_seed_of_no_known_year_is_as_old_as_its_receipt_and_that_is_said(make_lot, variety):
    lot = make_lot(variety)

    stored_on, why = began(lot)

    assert (stored_on, why.key) == (RECEIVED, "age_from_receipt")


def test_seed_received_before_october_of_its_year_is_not_older_than_that(make_lot, variety):
    lot = make_lot(variety, harvest_year=2025, on=dt.date(2025, 8, 20))

    stored_on, why = began(lot)

    assert (stored_on, why.key) == (dt.date(2025, 8, 20), "age_from_harvest")


def test_a_place_that_was_taken_down_is_not_known_any_more(lot, freezer, room, desk):
    stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=dt.date(2026, 1, 1))
    freezer.inside = None
    freezer.save(update_fields=["inside"])

    stock.remove_storage_place(place=room, by=desk)

    assert [warmth for _days, warmth, _moisture in stretches(lot)] == [20.0, 20.0, -18.0]


def test_a_bulked_lot_lay_where_the_largest_of_its_parts_lay(
    make_lot, variety, room, freezer, desk
):
    frozen = make_lot(variety, harvest_year=2023, storage_place=room)
    stock.move_lot(lot=frozen, storage_place=freezer, by=desk, on=dt.date(2025, 12, 1))
    warm = make_lot(variety, harvest_year=2022, storage_place=room)

    bulk = stock.bulk_lots(
        lots=[(warm, 100), (frozen, 300)],
        on=dt.date(2026, 2, 1),
        by=desk,
        storage_place=room,
    )

    way = [(days, warmth) for days, warmth, _moisture in stretches(bulk)]
    assert way == [(731, 20.0), (61, 18.0), (62, -18.0), (273, 18.0)]
    assert "storage_of_bulk" in keys(bulk)


def test_a_bulked_lot_is_not_older_than_its_youngest_part(make_lot, variety, room, desk):
    old = make_lot(variety, harvest_year=2020, storage_place=room, on=dt.date(2021, 1, 5))
    young = make_lot(variety, harvest_year=2025, storage_place=room)

    bulk = stock.bulk_lots(
        lots=[(old, 300), (young, 100)],
        on=dt.date(2026, 2, 1),
        by=desk,
        storage_place=room,
    )

    way = [(days, warmth) for days, warmth, _moisture in stretches(bulk)]
    assert (bulk.harvest_year, way) == (2025, [(123, 18.0), (273, 18.0)])


def test_a_history_costs_the_same_questions_however_often_a_lot_was_moved(
    lot, freezer, room, desk, django_assert_num_queries
):
    for month in range(1, 7):
        place = freezer if month % 2 else room
        stock.move_lot(lot=lot, storage_place=place, by=desk, on=dt.date(2026, month, 1))
    fresh = Lot.objects.with_variety().get(pk=lot.pk)

    with django_assert_num_queries(2):  # the keepings, the places
        history = history_of(fresh, until=TODAY)

    assert len(history.stretches) == 8
