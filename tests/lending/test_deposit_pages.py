"""Offering seed and taking it in, over the pages."""

from __future__ import annotations

import pytest

from library.lending import services
from library.lending.models import Deposit
from library.stock.models import Lot
from tests.lending.conftest import TODAY
from tests.pages import text_of

pytestmark = pytest.mark.django_db


def test_a_member_offers_seed_of_a_variety_that_is_known(as_member, variety):
    as_member.post(
        "/deposits/new/",
        {
            "crop": variety.crop_id,
            "name": "tarn kettle",
            "seeds": "300",
            "notice_read": "on",
            "plants_gave_seed": "12",
        },
    )

    deposit = Deposit.objects.get()
    assert (deposit.variety, deposit.seeds) == (variety, 300)
    assert deposit.growing == {"plants_gave_seed": 12}


def test_a_member_offers_seed_that_nobody_knows_yet(as_member, variety):
    as_member.post(
        "/deposits/new/",
        {"crop": variety.crop_id, "name": "Grey Fell", "notice_read": "on"},
    )

    deposit = Deposit.objects.get()
    assert (deposit.variety, deposit.new_variety_name) == (None, "Grey Fell")


def test_the_legal_notice_must_be_read(as_member, variety, counts):
    before = counts()

    response = as_member.post(
        "/deposits/new/", {"crop": variety.crop_id, "name": "Grey Fell", "seeds": "1"}
    )

    assert list(response.context["form"].errors) == ["notice_read"]
    assert counts() == before


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("seeds", "-1"),
        ("seeds", "0"),
        ("seeds", "2.5"),
        ("seeds", str(2**31)),
        ("seeds", str(10**30)),
        ("seeds", "many"),
        ("grams", "-1"),
        ("grams", "NaN"),
        ("grams", "1e30"),
        ("harvest_year", "2027"),
        ("harvest_year", "1066"),
        ("harvest_year", str(10**30)),
        ("plants_gave_seed", "-3"),
        ("isolation", "prayer"),
        ("isolation_distance_m", str(10**9)),
        ("crop", "99999999"),
        ("name", ""),
        ("name", "x" * 121),
        ("origin_region", "x" * 121),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(as_member, variety, counts, field, value):
    typed = {"crop": variety.crop_id, "name": "Grey Fell", "notice_read": "on"}
    before = counts()

    response = as_member.post("/deposits/new/", typed | {field: value})

    assert response.status_code == 400
    assert [len(errors) for errors in response.context["form"].errors.values()] == [1]
    assert list(response.context["form"].errors) == [field]
    assert counts() == before


def test_the_desk_receives_what_was_offered(as_desk, deposit, variety):
    page = as_desk.get(f"/deposits/{deposit.pk}/receive/")
    response = as_desk.post(
        f"/deposits/{deposit.pk}/receive/",
        {
            "crop": variety.crop_id,
            "name": "Tarn Kettle",
            "seeds": "290",
            "packets": "3",
            "seeds_each": "20",
        },
    )

    lot = Lot.objects.get()
    assert 'value="300"' in text_of(page)
    assert response.url == lot.get_absolute_url()
    assert (lot.loose, lot.packed, lot.packets.count()) == (230, 60, 3)


def test_the_desk_writes_a_card_while_receiving(as_desk, member, variety):
    deposit = services.propose_deposit(
        depositor=member, on=TODAY, crop=variety.crop, new_variety_name="Grey Fell"
    )

    as_desk.post(
        f"/deposits/{deposit.pk}/receive/",
        {
            "crop": variety.crop_id,
            "name": "Grey Fell",
            "seeds": "90",
            "breeding_status": "landrace",
        },
    )

    assert Lot.objects.get().variety.name == "Grey Fell"
    assert Lot.objects.get().variety.breeding_status == "landrace"


def test_the_desk_takes_in_seed_from_somebody_who_is_no_member(as_desk, variety):
    as_desk.post(
        "/desk/deposit/",
        {
            "crop": variety.crop_id,
            "name": "Tarn Kettle",
            "grams": "100",
            "source_name": "a neighbour up the beck",
        },
    )

    lot = Lot.objects.get()
    assert lot.source_name == "a neighbour up the beck"
    assert lot.balance == 325  # 100 g at 307 g for a thousand


def test_a_depositor_with_an_unknown_name_is_refused(as_desk, variety, counts):
    before = counts()

    response = as_desk.post(
        "/desk/deposit/",
        {"crop": variety.crop_id, "name": "Tarn Kettle", "seeds": "9", "depositor": "nobody"},
    )

    assert list(response.context["form"].errors) == ["depositor"]
    assert counts() == before


def test_the_desk_declines_with_a_reason(as_desk, deposit):
    as_desk.post(f"/deposits/{deposit.pk}/decline/", {"reason": "It is treated seed."})

    deposit.refresh_from_db()
    assert (deposit.state, deposit.decision_note) == ("declined", "It is treated seed.")


def test_a_member_withdraws_an_offer(as_member, deposit):
    as_member.post(f"/deposits/{deposit.pk}/withdraw/")

    deposit.refresh_from_db()
    assert deposit.state == "withdrawn"


def test_another_members_offer_is_not_found(client, deposit, other_member):
    client.force_login(other_member)

    assert client.get(f"/deposits/{deposit.pk}/").status_code == 404
    assert client.post(f"/deposits/{deposit.pk}/withdraw/").status_code == 404
