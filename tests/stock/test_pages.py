"""The desk's pages call the services and say what went wrong where it was typed."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Community
from library.stock import services
from library.stock.models import Lot, Packet, StockTake, StoragePlace
from tests.pages import text_of

ON = dt.date(2025, 11, 1)
DAY = {"on": "2025-11-01"}


@pytest.fixture
def at_desk(client, desk):
    client.force_login(desk)
    return client


@pytest.fixture
def post(at_desk):
    """``post("lot-pack", lot.number, packets=3)``: what came back, and its errors."""

    def do(name, /, *args, **data):
        return at_desk.post(reverse(name, args=args), data)

    return do


def test_a_lot_page_shows_where_it_came_from_to_everyone(client, make_lot, variety):
    parent = make_lot(variety, harvest_year=2023)
    lot = make_lot(
        variety,
        origin="return",
        parents=[(parent, 1)],
        harvest_year=2024,
        growing={"plants_gave_seed": 41, "isolation": "distance"},
    )

    page = text_of(client.get(lot.get_absolute_url()))

    assert parent.number in page
    assert "41" in page
    assert "grown and returned" in page


def test_who_may_not_browse_sees_no_lot(client, make_lot, member, applicant):
    lot = make_lot()
    Community.objects.update_or_create(pk=1, defaults={"catalogue_is_public": False})

    assert client.get(lot.get_absolute_url()).status_code == 302
    client.force_login(applicant)
    assert client.get(lot.get_absolute_url()).status_code == 404
    client.force_login(member)
    assert client.get(lot.get_absolute_url()).status_code == 200


def test_only_the_desk_sees_where_a_lot_lies_and_who_wrote_what(client, make_lot, member, desk):
    cupboard = services.add_storage_place(name="Hidden cupboard", kind="cupboard", by=desk)
    lot = make_lot(packets=1, storage_place=cupboard, reason="from the attic")
    services.withhold(lot=lot, reason="smells of gourd", by=desk)
    secrets = ["Hidden cupboard", "from the attic", "smells of gourd", "heron"]

    client.force_login(member)
    seen = text_of(client.get(lot.get_absolute_url()))
    seen += text_of(client.get(lot.packets.get().get_absolute_url()))
    client.force_login(desk)
    full = text_of(client.get(lot.get_absolute_url()))

    assert [secret for secret in secrets if secret in seen] == []
    assert [secret for secret in secrets if secret in full] == secrets


def test_a_garden_is_not_shown_even_to_the_desk(at_desk, make_lot, member):
    garden = member.gardens.create(name="Behind the mill", latitude=54, longitude=-2)
    lot = make_lot(growing={"garden": garden, "plants_stood": 5})

    page = text_of(at_desk.get(lot.get_absolute_url()))

    assert "Behind the mill" not in page


def test_packing_leads_to_the_labels_of_the_new_packets(post, at_desk, make_lot):
    lot = make_lot(packets=1)

    response = post("lot-pack", lot.number, packets="3", seeds_each="20", **DAY)

    labels = at_desk.get(response.url)
    assert lot.packets.count() == 4
    assert len(labels.context["packets"]) == 3


@pytest.mark.parametrize(
    ("data", "status", "field", "sentence"),
    [
        ({"packets": "2.5"}, 400, "packets", "Enter a whole number."),
        (
            {"packets": "-1"},
            400,
            "packets",
            "-1 is out of range: give a whole number from 1 to 1000.",
        ),
        (
            {"seeds_each": "99999999999"},
            400,
            "seeds_each",
            "99999999999 is out of range: give a whole number from 1 to 100000.",
        ),
        ({"on": "2025-02-30"}, 400, "on", "Enter a valid date."),
        (
            {"on": "2999-01-01"},
            400,
            "on",
            "1 January 2999 is still to come; give a day up to today.",
        ),
    ],
)
def test_bad_input_is_said_at_its_field(post, make_lot, data, status, field, sentence):
    lot = make_lot()
    asked = {"packets": "3", "seeds_each": "20", **DAY} | data

    response = post("lot-pack", lot.number, **asked)

    assert response.status_code == status
    assert response.context["form"].errors == {field: [sentence]}
    assert lot.packets.count() == 0


def test_packing_more_than_there_is_answers_409_with_the_numbers(post, make_lot):
    lot = make_lot(seeds=50)

    response = post("lot-pack", lot.number, packets="3", seeds_each="20", **DAY)

    assert response.status_code == 409
    assert response.context["form"].non_field_errors() == [
        f"Lot {lot.number} has 50 in the jar and 0 in packets on the shelf; "
        "60 could not be taken."
    ]


def test_seed_is_discarded_by_weight_too(post, make_lot, variety):
    lot = make_lot(variety, seeds=1000, thousand_seed_weight_g=400)

    post("lot-discard", lot.number, grams="40", reason="weevils", **DAY)

    lot.refresh_from_db()
    assert lot.loose == 900


def test_either_the_count_or_the_weight_is_given(post, make_lot):
    lot = make_lot()

    neither = post("lot-discard", lot.number, reason="weevils", **DAY)
    both = post("lot-discard", lot.number, seeds="1", grams="1", reason="weevils", **DAY)

    sentence = {"seeds": ["Give either the count or the weight."]}
    assert neither.context["form"].errors == sentence
    assert both.context["form"].errors == sentence


@pytest.mark.parametrize(
    ("name", "data", "left"),
    [
        ("lot-give", {"seeds": "100", "reason": "fair"}, (380, 20)),
        ("lot-discard-rest", {"reason": "crossed"}, (0, 0)),
        ("lot-correct", {"loose": "470", "reason": "counted"}, (470, 20)),
    ],
)
def test_each_verb_of_the_desk_has_a_page(post, at_desk, make_lot, name, data, left):
    lot = make_lot(packets=1)

    assert at_desk.get(reverse(name, args=[lot.number])).status_code == 200
    response = post(name, lot.number, **data, **DAY)

    lot.refresh_from_db()
    assert response.url == lot.get_absolute_url()
    assert (lot.loose, lot.packed) == left


def test_a_lot_is_moved_handed_over_withheld_and_released(post, make_lot, member, desk):
    lot = make_lot()
    place = services.add_storage_place(name="Larder", kind="room", by=desk)

    post("lot-move", lot.number, storage_place=place.pk, with_packets="on", **DAY)
    post("lot-custodian", lot.number, custodian=member.pk, **DAY)
    post("lot-withhold", lot.number, reason="may have crossed")

    lot.refresh_from_db()
    assert (lot.storage_place, lot.custodian) == (place, member)
    assert lot.withheld_reason == "may have crossed"
    post("lot-release", lot.number, reason="grown out, true")
    lot.refresh_from_db()
    assert lot.withheld_reason == ""


def test_amending_shows_the_old_value_first(post, at_desk, make_lot):
    lot = make_lot(harvest_year=2024)
    address = reverse("lot-amend", args=[lot.number])

    choose = at_desk.get(address)
    form = at_desk.get(address, {"field": "harvest_year"})
    response = at_desk.post(
        f"{address}?field=harvest_year", {"value": "2023", "reason": "misread"}
    )

    lot.refresh_from_db()
    assert choose.context["facts"][0] == ("harvest_year", "harvest year", 2024)
    assert "<q>2024</q>" in text_of(form)
    assert response.url == lot.get_absolute_url()
    assert lot.harvest_year == 2023


def test_lots_are_bulked_on_a_page(post, make_lot, variety):
    first, second = make_lot(variety), make_lot(variety)

    response = post(
        "lot-bulk",
        variety.pk,
        **{f"from_{first.pk}": "100", f"from_{second.pk}": "300"},
        **DAY,
    )

    bulk = Lot.objects.get(origin="bulk")
    assert response.url == bulk.get_absolute_url()
    assert bulk.loose == 400


def test_a_line_of_the_ledger_is_mended_on_a_page(post, at_desk, make_lot, desk):
    lot = make_lot()
    line = services.discard(lot=lot, seeds=5, on=ON, by=desk, reason="wrong jar")
    address = reverse("movement-mend", args=[line.pk])

    page = at_desk.get(address)
    response = post("movement-mend", line.pk, reason="right jar", **DAY)
    again = post("movement-mend", line.pk, reason="right jar", **DAY)

    lot.refresh_from_db()
    assert page.context["movement"] == line
    assert response.url == lot.get_absolute_url()
    assert (lot.loose, again.status_code) == (500, 409)


@pytest.mark.parametrize(
    ("name", "data", "state"),
    [
        ("packet-unpack", {"reason": "stale"}, "emptied"),
        ("packet-discard", {"reason": "wet"}, "discarded"),
        ("packet-give", {"reason": "fair"}, "given_away"),
    ],
)
def test_each_verb_on_a_packet_has_a_page(post, at_desk, make_packet, name, data, state):
    packet = make_packet()

    assert at_desk.get(reverse(name, args=[packet.code])).status_code == 200
    post(name, packet.code, **data, **DAY)
    again = post(name, packet.code, **data, **DAY)

    packet.refresh_from_db()
    assert (packet.state, again.status_code) == (state, 409)


def test_scanning_leads_to_what_the_code_is_on(client, make_packet):
    packet = make_packet()

    to_packet = client.get(reverse("scan"), {"code": packet.code.lower().replace("-", "")})
    to_lot = client.get(reverse("scan"), {"code": packet.lot.number})

    assert to_packet.url == packet.get_absolute_url()
    assert to_lot.url == packet.lot.get_absolute_url()


def test_scanning_nonsense_says_what_a_code_looks_like(client, db):
    wrong = client.get(reverse("scan"), {"code": "Q12"})
    unknown = client.get(reverse("scan"), {"code": "P000412-2"})

    assert wrong.status_code == 400
    assert wrong.context["form"].errors == {
        "code": [
            "“Q12” does not begin with L (a lot) or P (a packet). "
            "A code looks like L00137-2 or P000412-2."
        ]
    }
    assert unknown.status_code == 404
    assert unknown.context["form"].errors == {
        "code": ["Nothing in this library carries the code P000412-2."]
    }


def test_the_square_code_of_a_packet_is_a_picture(client, make_packet):
    response = client.get(reverse("packet-qr", args=[make_packet().code]))

    assert response["Content-Type"] == "image/svg+xml"
    assert response.content.startswith(b"<svg")
    assert b"style=" not in response.content
    # Dark on light whatever the page's theme, or scanners cannot read it.
    assert b'fill="#fff"' in response.content


def test_storage_places_are_added_edited_and_removed(post, at_desk):
    post("storage-add", name="Larder", kind="room", temperature_c="14")
    larder = StoragePlace.objects.get()
    post("storage-add", name="Tin", kind="box", inside=larder.pk)
    tin = StoragePlace.objects.get(name="Tin")

    ring = post("storage-edit", larder.pk, name="Larder", kind="room", inside=tin.pk)
    full = post("storage-remove", larder.pk)
    post("storage-edit", tin.pk, name="Red tin", kind="box", inside=larder.pk)
    page = text_of(at_desk.get(reverse("storage")))

    assert ring.context["form"].errors == {
        "inside": ["Larder cannot lie inside itself, nor in what lies in it."]
    }
    assert full.status_code == 409
    assert "Larder › Red tin" in page
    assert post("storage-remove", tin.pk).url == reverse("storage")


def test_a_weight_is_shown_as_a_count_with_its_source(at_desk, variety):
    page = at_desk.get(reverse("weighing"), {"variety": variety.pk, "grams": "100"})
    wrong = at_desk.get(reverse("weighing"), {"variety": variety.pk, "grams": "much"})

    assert "100 g at 307 g for a thousand: 325 seeds." in text_of(page)
    assert "Kew Seed Information Database" in text_of(page)
    assert str(wrong.context["refusal"]) == "“much” is not a weight in grams."


def test_seed_without_a_card_is_weighed_by_its_crop(at_desk, variety):
    page = at_desk.get(reverse("weighing"), {"crop": variety.crop_id, "grams": "100"})

    assert "100 g at 307 g for a thousand: 325 seeds." in text_of(page)


def test_a_stock_taking_goes_from_shelf_to_ledger(post, at_desk, make_lot):
    lot = make_lot(seeds=500, packets=3, seeds_each=20)
    here, scanned, gone = lot.packets.all()
    take = StockTake.objects.get(pk=post("stock-takes").url.strip("/").split("/")[-1])
    count = ("stock-count", take.pk, lot.number)

    opened = at_desk.get(reverse("stock-take", args=[take.pk]), {"code": scanned.code})
    ticked = post(*count, here=[here.code], tick="1", code=scanned.code, loose="430")
    done = post(*count, here=[here.code, scanned.code], loose="430", count="1")
    post("stock-take-close", take.pk)

    lot.refresh_from_db()
    gone.refresh_from_db()
    assert opened.url == reverse(count[0], args=count[1:]) + f"?tick={scanned.code}"
    assert ticked.context["ticked"] == {here.code, scanned.code}
    assert ticked.context["form"]["loose"].value() == "430"
    assert done.url == reverse("stock-take", args=[take.pk])
    assert (lot.loose, lot.packed, gone.state) == (430, 40, "missing")


def test_counting_refuses_a_packet_of_another_lot(post, make_lot, make_packet):
    lot, stranger = make_lot(), make_packet()
    post("stock-takes")

    page = post(
        "stock-count", StockTake.objects.get().pk, lot.number, tick="1", code=stranger.code
    )

    assert page.status_code == 400
    assert page.context["said"] == (
        f"{stranger.code} is not a packet of this lot that should be here."
    )


def test_a_variety_page_shows_its_lots_on_the_shelf_and_off_it(client, make_lot, variety):
    shelf, jar = make_lot(variety, packets=1), make_lot(variety)

    page = text_of(client.get(variety.get_absolute_url()))

    assert shelf.number in page
    assert jar.number in page


def test_the_desk_page_leads_to_storage_and_stock_taking(at_desk):
    page = text_of(at_desk.get(reverse("desk")))

    assert f'href="{reverse("storage")}"' in page
    assert f'href="{reverse("stock-takes")}"' in page


def test_new_packets_lie_where_the_jar_lies_unless_told(make_lot, desk):
    larder, tin = (
        services.add_storage_place(name=name, kind="box", by=desk) for name in ("A", "B")
    )
    lot = make_lot(storage_place=larder)
    same = {"lot": lot, "packets": 1, "seeds_each": 5, "on": ON, "by": desk}

    (beside,) = services.pack(**same)
    (elsewhere,) = services.pack(storage_place=tin, **same)

    assert (beside.storage_place, elsewhere.storage_place) == (larder, tin)


DESK_PAGES = [
    "lot-pack",
    "lot-discard",
    "lot-discard-rest",
    "lot-give",
    "lot-correct",
    "lot-move",
    "lot-custodian",
    "lot-amend",
    "lot-withhold",
    "lot-release",
    "lot-labels",
]


@pytest.mark.parametrize("name", DESK_PAGES)
def test_a_member_finds_no_desk_page(client, make_lot, member, name):
    address = reverse(name, args=[make_lot().number])
    client.force_login(member)

    assert client.get(address).status_code == 404
    assert client.post(address, {}).status_code == 404


@pytest.mark.parametrize("name", ["storage", "storage-add", "stock-takes", "weighing"])
def test_storage_is_the_desks_business(client, member, name):
    client.force_login(member)

    assert client.get(reverse(name)).status_code == 404


@pytest.fixture
def busy_lot(make_lot, variety, desk):
    """``busy_lot(6)``: six parents, children, packets that went out and back, amendments."""

    def make(size):
        parents = [(make_lot(variety), 1 / size) for _ in range(size)]
        lot = make_lot(variety, origin="return", parents=parents, packets=size)
        for packet in lot.packets.all():
            services.take_packet_off_shelf(packet=packet, on=ON, by=desk)
            services.put_packet_back(packet=packet, on=ON, by=desk)
        for n in range(size):
            make_lot(variety, origin="return", parents=[(lot, 1)])
            name = {"field": "source_name", "value": f"name {n}"}
            services.amend_lot(lot=lot, reason="asked again", by=desk, **name)
        return lot

    return make


def queries_for(client, address):
    client.get(address)  # what is made once (the community's row) is made now
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def test_a_lot_page_costs_the_same_with_one_row_and_with_six(at_desk, busy_lot):
    one = queries_for(at_desk, busy_lot(1).get_absolute_url())
    six = queries_for(at_desk, busy_lot(6).get_absolute_url())

    assert six == one


def test_a_variety_page_costs_the_same_with_one_lot_and_with_six(
    client, make_lot, make_variety, member
):
    few, many = make_variety(), make_variety()
    for variety, lots in ((few, 1), (many, 6)):
        for _ in range(lots):
            make_lot(variety, packets=1, grower=member, custodian=member)

    one = queries_for(client, few.get_absolute_url())
    six = queries_for(client, many.get_absolute_url())

    assert six == one


def test_storage_pages_cost_the_same_with_one_box_and_with_six(at_desk, make_lot, desk):
    def fill(room, boxes):
        room = services.add_storage_place(name=room, kind="room", by=desk)
        for n in range(boxes):
            box = services.add_storage_place(name=f"Box {n}", kind="box", inside=room, by=desk)
            make_lot(storage_place=box)
        return reverse("storage-place", args=[room.pk])

    assert queries_for(at_desk, fill("Hall", 6)) == queries_for(at_desk, fill("Attic", 1))
    overview = queries_for(at_desk, reverse("storage"))
    fill("Loft", 6)
    assert queries_for(at_desk, reverse("storage")) == overview


def test_a_stock_taking_costs_the_same_with_one_count_and_with_six(
    at_desk, make_lot, desk, variety
):
    def take(lots):
        stock_take = services.start_stock_take(storage_place=None, by=desk)
        for _ in range(lots):
            lot = make_lot(variety, packets=1)
            packets = list(lot.packets.all())
            services.count_lot(
                stock_take=stock_take, lot=lot, loose=1, missing_packets=packets, by=desk
            )
            make_lot(variety)
        return reverse("stock-take", args=[stock_take.pk])

    assert queries_for(at_desk, take(6)) == queries_for(at_desk, take(1))


def test_a_packet_page_of_a_lent_packet_offers_no_verbs(at_desk, make_packet, desk):
    packet = make_packet()
    services.take_packet_off_shelf(packet=packet, on=ON, by=desk)

    page = text_of(at_desk.get(packet.get_absolute_url()))

    assert Packet.objects.get().state == "lent"
    assert reverse("packet-discard", args=[packet.code]) not in page


@pytest.mark.parametrize("packets", [0, 2])
def test_a_withheld_lot_is_marked_wherever_it_is_listed(
    client, make_lot, variety, coordinator, packets
):
    lot = make_lot(variety, packets=packets)
    services.withhold(lot=lot, reason="may have crossed", by=coordinator)

    page = text_of(client.get(variety.get_absolute_url()))

    assert "</svg>Withheld</span>" in page
    assert "may have crossed" not in page
