"""The stock over the API: what a script sees, and what it may do at the desk."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from library.stock import services
from library.stock.models import Packet

PACK = {"packets": 2, "seeds_each": 20, "on": "2025-11-01"}


@pytest.fixture
def at_desk(api, desk):
    api.force_authenticate(desk)
    return api


def lot_url(lot, verb=""):
    name = f"api-lot-{verb}" if verb else "api-lot-detail"
    return reverse(name, args=[lot.number])


def test_lots_are_listed_for_everyone_without_the_librarys_own_affairs(
    api, make_lot, desk, member
):
    place = services.add_storage_place(name="Hidden", kind="box", by=desk)
    lot = make_lot(storage_place=place, reason="secret", grower=member)

    row = api.get(reverse("api-lot-list")).json()["results"][0]
    whole = api.get(lot_url(lot)).json()

    assert (row["number"], row["in_jar"], row["grown_by"]) == (lot.number, 500, "wren")
    assert whole["storage_place"] is None
    assert whole["movements"] is None
    assert member.email not in str(whole)


def test_the_desk_sees_where_a_lot_lies_and_its_ledger(at_desk, make_lot, desk):
    place = services.add_storage_place(name="Larder", kind="room", by=desk)
    lot = make_lot(storage_place=place)

    whole = at_desk.get(lot_url(lot)).json()

    assert whole["storage_place"] == place.pk
    assert [(m["kind"], m["loose_change"], m["recorded_by"]) for m in whole["movements"]] == [
        ("received", 500, "heron")
    ]


def test_a_lot_names_its_parents_and_children_and_how_it_grew(api, make_lot, variety, member):
    garden = member.gardens.create(name="Mill", latitude=54, longitude=-2)
    parent = make_lot(variety)
    child = make_lot(
        variety,
        origin="return",
        parents=[(parent, 1)],
        growing={"garden": garden, "plants_stood": 9},
    )

    whole = api.get(lot_url(child)).json()

    assert whole["parents"] == [{"lot": parent.number, "share": "1.000000"}]
    assert whole["growing"]["plants_stood"] == 9
    assert "garden" not in whole["growing"]
    assert api.get(lot_url(parent)).json()["children"] == [child.number]


def test_lots_are_filtered(api, make_lot, make_variety):
    bean = make_variety(crop="drying bean")
    wanted = make_lot(bean, packets=1, harvest_year=2024, awaits_first_test=True)
    make_lot()

    for asked in (
        {"variety": bean.pk},
        {"crop": bean.crop.slug},
        {"harvest_year": 2024},
        {"on_shelf": "true"},
        {"awaiting_test": "true"},
    ):
        found = api.get(reverse("api-lot-list"), asked).json()["results"]
        assert [row["number"] for row in found] == [wanted.number]


def test_a_filter_that_cannot_be_is_refused(api, db):
    answer = api.get(reverse("api-lot-list"), {"harvest_year": "soon"})

    assert answer.status_code == 400


def test_packets_are_looked_up_by_code_and_filtered(api, make_lot, make_packet, desk):
    packet = make_packet()
    lent = make_packet()
    services.take_packet_off_shelf(packet=lent, on=lent.sealed_on, by=desk)

    one = api.get(reverse("api-packet-detail", args=[packet.code])).json()
    on_shelf = api.get(reverse("api-packet-list"), {"state": "on_shelf"}).json()["results"]
    of_lot = api.get(reverse("api-packet-list"), {"lot": lent.lot.number}).json()["results"]

    assert (one["lot"], one["seeds"], one["storage_place"]) == (packet.lot.number, 20, None)
    assert [row["code"] for row in on_shelf] == [packet.code]
    assert [row["code"] for row in of_lot] == [lent.code]


def test_the_desk_packs_and_gets_the_codes(at_desk, make_lot):
    lot = make_lot()

    answer = at_desk.post(lot_url(lot, "pack"), PACK)

    assert answer.status_code == 201
    assert {row["code"] for row in answer.json()} == set(
        lot.packets.values_list("code", flat=True)
    )


def test_packing_again_with_the_same_key_packs_once(at_desk, make_lot):
    lot = make_lot()

    first = at_desk.post(lot_url(lot, "pack"), PACK, headers={"Idempotency-Key": "a"})
    again = at_desk.post(lot_url(lot, "pack"), PACK, headers={"Idempotency-Key": "a"})

    assert again.json() == first.json()
    assert lot.packets.count() == 2


def test_a_refusal_says_code_sentence_and_field(at_desk, make_lot):
    lot = make_lot(seeds=30)

    empty = at_desk.post(lot_url(lot, "pack"), PACK)
    wrong = at_desk.post(
        lot_url(lot, "discard"), {"seeds": 1, "on": "2999-01-01", "reason": "wet"}
    )

    assert (empty.status_code, empty.json()) == (
        409,
        {
            "code": "not_enough",
            "detail": f"Lot {lot.number} has 30 in the jar and 0 in packets on the shelf; "
            "40 could not be taken.",
            "field": None,
        },
    )
    assert (wrong.status_code, wrong.json()["field"]) == (400, "on")


@pytest.mark.parametrize(
    "data",
    [
        {"packets": 0},
        {"packets": -1},
        {"packets": 2.5},
        {"packets": "many"},
        {"packets": 2**63},
        {"on": "2025-02-30"},
        {"storage_place": 999},
    ],
)
def test_input_of_the_wrong_shape_is_refused(at_desk, make_lot, data):
    lot = make_lot()

    assert at_desk.post(lot_url(lot, "pack"), PACK | data).status_code == 400
    assert Packet.objects.count() == 0


def test_the_desk_discards_moves_and_amends(at_desk, make_lot, desk):
    lot = make_lot(packets=1, harvest_year=2024)
    place = services.add_storage_place(name="Larder", kind="room", by=desk)
    packet = lot.packets.get()

    gone = at_desk.post(lot_url(lot, "discard"), {"packet": packet.code, "reason": "wet"})
    moved = at_desk.post(lot_url(lot, "move"), {"storage_place": place.pk})
    amended = at_desk.post(
        lot_url(lot, "amend"), {"field": "harvest_year", "value": "2023", "reason": "misread"}
    )

    assert gone.json()["in_packets"] == 0
    assert moved.json()["storage_place"] == place.pk
    assert amended.json()["harvest_year"] == 2023
    assert amended.json()["amendments"][0]["old_value"] == "2024"


@pytest.mark.parametrize("verb", ["pack", "discard", "move", "amend"])
def test_the_desks_verbs_are_hidden_from_members(api, make_lot, member, verb):
    address = lot_url(make_lot(), verb)

    assert api.post(address, {}).status_code == 401
    api.force_authenticate(member)
    assert api.post(address, {}).status_code == 404


def test_storage_places_are_for_the_desk_and_carry_their_climate(api, desk, member):
    room = services.add_storage_place(name="Cellar", kind="room", temperature_c=9, by=desk)
    services.add_storage_place(name="Tin", kind="box", inside=room, by=desk)
    address = reverse("api-storage-place-list")

    api.force_authenticate(member)
    assert api.get(address).status_code == 404
    api.force_authenticate(desk)
    rows = api.get(address).json()["results"]

    assert [(row["path"], row["climate_temperature_c"]) for row in rows] == [
        ("Cellar", 9.0),
        ("Cellar › Tin", 9.0),
    ]


@pytest.mark.parametrize("name", ["api-lot-list", "api-packet-list", "api-storage-place-list"])
def test_lists_cost_the_same_with_one_row_and_with_six(
    at_desk, make_lot, make_variety, desk, member, name
):
    def count():
        at_desk.get(reverse(name))
        with CaptureQueriesContext(connection) as queries:
            assert at_desk.get(reverse(name)).status_code == 200
        return len(queries)

    def add(n):
        place = services.add_storage_place(name=f"Place {n}", kind="box", by=desk)
        make_lot(make_variety(), packets=1, grower=member, storage_place=place)

    add(0)
    one = count()
    for n in range(1, 6):
        add(n)

    assert count() == one
