"""A lot knows its parents, and time runs one way."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction

from library.errors import Conflict, NotEnough, Refused
from library.stock import services
from library.stock.models import Growing, Lot, LotParent

ON = dt.date(2025, 11, 1)


@pytest.fixture
def give_back(desk):
    """``give_back([(lot, share)], harvest_year=2025)``: a return of 300 seeds."""

    def do(parents, **facts):
        facts = {"variety": parents[0][0].variety, "seeds": 300, "on": ON} | facts
        return services.receive_lot(origin="return", parents=parents, by=desk, **facts)

    return do


def shares_of(lot):
    return [(link.parent_id, link.share) for link in lot.parent_links.order_by("parent_id")]


def test_lots_are_numbered_one_after_the_other_with_a_check_character(make_lot):
    numbers = [make_lot().number for _ in range(3)]

    # Check characters by ISO 7064 MOD 11-2, see tests/standards.
    assert [number[:6] for number in numbers] == ["L00001", "L00002", "L00003"]


def test_a_return_carries_its_parent(make_lot, give_back):
    parent = make_lot(harvest_year=2024)

    child = give_back([(parent, 1)], harvest_year=2025)

    assert shares_of(child) == [(parent.pk, Decimal(1))]
    assert child.movements.get().kind == "returned"


def test_three_equal_parents_share_exactly_one(make_lot, give_back, variety):
    parents = [make_lot(variety) for _ in range(3)]

    child = give_back([(lot, Decimal("0.333333")) for lot in parents])

    assert sum(share for _pk, share in shares_of(child)) == 1


@pytest.mark.parametrize(
    "shares", [(0.5, 0.4), (1, 1), (0, 1), (-1, 2), ("half", "half"), ("NaN", 1)]
)
def test_shares_that_do_not_sum_to_one_are_refused(make_lot, give_back, variety, shares):
    parents = [make_lot(variety), make_lot(variety)]

    with pytest.raises(Refused) as refusal:
        give_back(list(zip(parents, shares, strict=True)))

    assert refusal.value.field == "parents"
    assert LotParent.objects.count() == 0


def test_the_same_parent_twice_is_refused(make_lot, give_back):
    parent = make_lot()

    with pytest.raises(Refused):
        give_back([(parent, 0.5), (parent, 0.5)])


def test_a_deposit_has_no_parents_and_a_return_has_some(make_lot, variety, desk):
    parent = make_lot(variety)

    with pytest.raises(Refused):
        make_lot(variety, parents=[(parent, 1)])
    with pytest.raises(Refused):
        make_lot(variety, origin="return")


def test_a_parent_of_another_variety_is_refused(make_lot, give_back, make_variety):
    tomato, pea = make_lot(make_variety()), make_variety(crop="garden pea")

    with pytest.raises(Refused) as refusal:
        give_back([(tomato, 1)], variety=pea)

    assert refusal.value.field == "parents"


def test_a_line_selected_from_a_cross_may_come_of_another_card(
    make_lot, give_back, make_variety
):
    hybrid = make_lot(make_variety("Fell Cross", breeding_status="f1"))
    line = make_variety("Fell Line", breeding_status="segregating", generation=2)

    child = give_back([(hybrid, 1)], variety=line)

    assert shares_of(child) == [(hybrid.pk, Decimal(1))]


def test_a_harvest_before_its_parents_is_refused(make_lot, give_back):
    parent = make_lot(harvest_year=2024)

    with pytest.raises(Refused) as refusal:
        give_back([(parent, 1)], harvest_year=2023)

    assert str(refusal.value) == ("Harvested in 2023, before its parent lot's harvest of 2024.")
    assert Lot.objects.count() == 1


def test_time_is_followed_through_a_parent_of_unknown_year(make_lot, give_back):
    grandparent = make_lot(harvest_year=2024)
    parent = give_back([(grandparent, 1)])

    with pytest.raises(Refused):
        give_back([(parent, 1)], harvest_year=2023)


def test_a_harvest_after_its_receipt_is_refused(make_lot):
    with pytest.raises(Refused) as refusal:
        make_lot(harvest_year=2026)

    assert str(refusal.value) == (
        "A harvest of 2026 cannot have been received on 1 October 2025."
    )


@pytest.mark.parametrize("year", [1066, 99999, 2**31])
def test_a_harvest_year_out_of_all_reason_is_refused(make_lot, year):
    with pytest.raises(Refused) as refusal:
        make_lot(harvest_year=year)

    assert refusal.value.field == "harvest_year"


def test_how_it_grew_is_kept(make_lot):
    lot = make_lot(growing={"plants_stood": 30, "plants_gave_seed": 24, "isolation": "cage"})

    assert (lot.growing.plants_gave_seed, lot.growing.isolation) == (24, "cage")


@pytest.mark.parametrize(
    ("growing", "field"),
    [
        ({"plants_stood": 3, "plants_gave_seed": 4}, "growing.plants_gave_seed"),
        ({"plants_sown": -1}, "growing.plants_sown"),
        ({"plants_sown": 2**40}, "growing.plants_sown"),
        ({"isolation": "prayer"}, "growing.isolation"),
    ],
)
def test_growing_facts_that_cannot_be_are_refused(make_lot, growing, field):
    with pytest.raises(Refused) as refusal:
        make_lot(growing=growing)

    assert refusal.value.field == field
    assert Growing.objects.count() == 0


@pytest.mark.parametrize("weight", [0, -1])
def test_a_thousand_seeds_weigh_something(make_lot, weight):
    with pytest.raises(Refused) as refusal:
        make_lot(thousand_seed_weight_g=Decimal(weight))

    assert refusal.value.field == "thousand_seed_weight_g"


def test_a_parent_is_always_an_older_row(make_lot, variety):
    older, newer = make_lot(variety), make_lot(variety)

    with pytest.raises(IntegrityError), transaction.atomic():
        LotParent.objects.create(child=older, parent=newer, share=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        LotParent.objects.create(child=older, parent=older, share=1)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE stock_lotparent SET share = 0.5",
        "UPDATE stock_lotparent SET parent_id = parent_id - 1",
        "DELETE FROM stock_lotparent",
    ],
)
def test_a_link_of_the_chain_is_kept_as_written(make_lot, give_back, statement):
    give_back([(make_lot(), 1)])

    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)


def test_bulking_takes_from_each_jar_and_remembers_the_shares(make_lot, variety, desk):
    first = make_lot(variety, seeds=300, harvest_year=2023)
    second = make_lot(variety, seeds=100, harvest_year=2024)

    bulk = services.bulk_lots(lots=[(second, 100), (first, 300)], on=ON, by=desk)

    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.loose, second.loose, bulk.loose) == (0, 0, 400)
    assert shares_of(bulk) == [(first.pk, Decimal("0.75")), (second.pk, Decimal("0.25"))]
    assert (bulk.harvest_year, bulk.origin) == (2024, "bulk")


def test_a_bulk_that_one_jar_cannot_fill_changes_nothing(make_lot, variety, desk):
    first, second = make_lot(variety, seeds=300), make_lot(variety, seeds=100)

    with pytest.raises(NotEnough):
        services.bulk_lots(lots=[(first, 300), (second, 101)], on=ON, by=desk)

    first.refresh_from_db()
    assert first.loose == 300
    assert Lot.objects.count() == 2


def test_bulking_refuses_what_does_not_belong_together(make_lot, variety, desk):
    first, stranger = make_lot(variety), make_lot()
    withheld = make_lot(variety)
    services.withhold(lot=withheld, reason="may have crossed", by=desk)

    for lots in (
        [(first, 10)],
        [(first, 10), (first, 10)],
        [(first, 10), (stranger, 10)],
        [(first, 10), (withheld, 10)],
        [],
    ):
        with pytest.raises(Refused):
            services.bulk_lots(lots=lots, on=ON, by=desk)


def test_a_bulk_waits_for_its_test_when_a_parent_does(make_lot, variety, desk):
    tested = make_lot(variety)
    waiting = make_lot(variety, awaits_first_test=True)

    bulk = services.bulk_lots(lots=[(tested, 10), (waiting, 10)], on=ON, by=desk)

    assert bulk.awaits_first_test is True
    assert bulk.harvest_year is None


def test_an_amendment_keeps_the_old_value_and_the_reason(make_lot, desk):
    lot = make_lot(harvest_year=2024)

    services.amend_lot(
        lot=lot, field="harvest_year", value="2023", reason="read the jar again", by=desk
    )

    lot.refresh_from_db()
    amendment = lot.amendments.get()
    assert lot.harvest_year == 2023
    assert (amendment.old_value, amendment.new_value) == ("2024", "2023")
    assert (amendment.reason, amendment.amended_by) == ("read the jar again", desk)


def test_growing_facts_are_amended_where_none_were_told(make_lot, desk):
    lot = make_lot()

    services.amend_lot(
        lot=lot, field="growing.plants_gave_seed", value=12, reason="asked again", by=desk
    )

    assert Lot.objects.get(pk=lot.pk).growing.plants_gave_seed == 12


def test_an_amended_year_must_fit_parents_and_children(make_lot, give_back, desk):
    parent = make_lot(harvest_year=2023)
    child = give_back([(parent, 1)], harvest_year=2024)
    same = {"field": "harvest_year", "reason": "misread", "by": desk}

    with pytest.raises(Refused):
        services.amend_lot(lot=parent, value=2025, **same)
    with pytest.raises(Refused):
        services.amend_lot(lot=child, value=2022, **same)

    assert list(Lot.objects.order_by("pk").values_list("harvest_year", flat=True)) == [
        2023,
        2024,
    ]


@pytest.mark.parametrize(
    ("field", "value", "reason"),
    [
        ("number", "L1", "why not"),
        ("loose", 9999, "more please"),
        ("harvest_year", "2023", "  "),
        ("harvest_year", "soon", "misread"),
        ("harvest_year", 2023.5, "misread"),
        ("harvest_year", "2024", "nothing changes"),
        ("origin_region", "x" * 121, "long"),
        ("growing.isolation", "prayer", "misread"),
    ],
)
def test_an_amendment_that_cannot_be_is_refused(make_lot, desk, field, value, reason):
    lot = make_lot(harvest_year=2024)

    with pytest.raises(Refused):
        services.amend_lot(lot=lot, field=field, value=value, reason=reason, by=desk)

    assert lot.amendments.count() == 0


def test_a_lot_is_withheld_and_released_once_each(make_lot, desk):
    lot = make_lot()

    services.withhold(lot=lot, reason="may have crossed", by=desk)
    with pytest.raises(Conflict):
        services.withhold(lot=lot, reason="again", by=desk)
    services.release(lot=lot, by=desk)
    with pytest.raises(Conflict):
        services.release(lot=lot, by=desk)

    lot.refresh_from_db()
    assert lot.withheld_reason == ""
    assert lot.amendments.count() == 2


def test_a_weight_becomes_a_count_by_the_species_figure(make_variety):
    bean = make_variety(crop="drying bean")

    conversion = services.seeds_from_weight(grams="100", variety=bean)

    # Seed Information Database, as in the reference table: a thousand weigh 307 g.
    assert (conversion.seeds, conversion.own) == (325, False)
    assert conversion.source.startswith("Kew Seed Information Database")


def test_the_lots_own_weighing_comes_first(make_variety):
    bean = make_variety(crop="drying bean")

    conversion = services.seeds_from_weight(grams=100, variety=bean, thousand_seed_weight_g=400)

    assert (conversion.seeds, conversion.own) == (250, True)


@pytest.mark.parametrize("grams", [0, -1, "NaN", "Infinity", "a handful", 10**9, "0.001"])
def test_a_weight_that_is_none_is_refused(make_variety, grams):
    with pytest.raises(Refused) as refusal:
        services.seeds_from_weight(grams=grams, variety=make_variety(crop="drying bean"))

    assert refusal.value.field == "grams"


def test_tubers_are_counted_and_not_weighed(make_variety):
    potato = make_variety(crop="potato", breeding_status="clone")

    with pytest.raises(Refused) as refusal:
        services.seeds_from_weight(grams=500, variety=potato)

    assert str(refusal.value) == "potato is counted in tubers, not weighed."


def test_a_code_is_found_however_it_was_typed(make_packet):
    packet = make_packet()

    assert services.find_by_code(f" {packet.code.lower().replace('-', ' ')} ") == packet
    assert services.find_by_code(packet.lot.number) == packet.lot


def test_a_mistyped_code_says_so_and_an_unknown_one_is_not_found(make_packet):
    packet = make_packet()
    wrong = packet.code[:-1] + ("1" if packet.code[-1] != "1" else "2")

    with pytest.raises(Refused) as mistyped:
        services.find_by_code(wrong)
    with pytest.raises(services.UnknownCode) as unknown:
        services.find_by_code("P000412-2")

    assert (mistyped.value.status, mistyped.value.field) == (400, "code")
    assert unknown.value.status == 404
    assert str(unknown.value) == "Nothing in this library carries the code P000412-2."
