"""Bringing seed back, over the pages."""

from __future__ import annotations

import datetime as dt

import pytest

from library.catalogue.models import Species
from library.lending.models import Return
from library.stock.models import Lot
from tests.pages import text_of

pytestmark = pytest.mark.django_db


def test_a_member_announces_seed(loan, autumn, as_member):
    page = as_member.get(f"/returns/new/?loan={loan.pk}")
    as_member.post(
        f"/returns/new/?loan={loan.pk}",
        {
            "loans": [loan.pk],
            "harvest_year": "2026",
            "plants_gave_seed": "14",
            "isolation": "distance",
            "isolation_distance_m": "40",
            "seeds": "400",
        },
    )

    announced = Return.objects.get()
    assert "checked" in text_of(page)
    assert (announced.plants_gave_seed, announced.isolation_distance_m) == (14, 40)
    assert announced.loan_links.get().loan == loan


def test_plants_that_shed_pollen_are_asked_for_where_the_sexes_are_apart(
    loan, autumn, as_member, variety
):
    of_seed = as_member.get(f"/returns/new/?loan={loan.pk}")
    Species.objects.filter(crops=variety.crop).update(dioecious=True)
    of_both = as_member.get(f"/returns/new/?loan={loan.pk}")
    as_member.post(
        f"/returns/new/?loan={loan.pk}",
        {"loans": [loan.pk], "harvest_year": "2026", "pollen_plants": "3", "seeds": "40"},
    )

    assert "pollen_plants" not in of_seed.context["form"].fields
    assert "pollen_plants" in of_both.context["form"].fields
    assert Return.objects.get().pollen_plants == 3


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("harvest_year", "2025"),
        ("harvest_year", "2027"),
        ("harvest_year", ""),
        ("harvest_year", "2026.5"),
        ("seeds", "-1"),
        ("seeds", str(10**30)),
        ("plants_gave_seed", "2.5"),
        ("loans", "99999"),
        ("loans", ""),
        ("garden", "99999"),
    ],
)
def test_a_return_that_cannot_be_is_refused_at_its_field(
    loan, autumn, as_member, counts, field, value
):
    typed = {"loans": [loan.pk], "harvest_year": "2026"}
    before = counts()

    response = as_member.post(f"/returns/new/?loan={loan.pk}", typed | {field: value})

    assert response.status_code == 400
    assert list(response.context["form"].errors) == [field]
    assert counts() == before


def test_nobody_announces_seed_of_another_members_loan(client, loan, other_member):
    client.force_login(other_member)

    assert client.get(f"/returns/new/?loan={loan.pk}").status_code == 404


@pytest.mark.parametrize("loan_asked", ["", "x", "²", "1e3", str(10**30)])
def test_a_return_for_no_loan_is_not_found(as_member, loan_asked):
    assert as_member.get("/returns/new/", {"loan": loan_asked}).status_code == 404


def test_the_desk_receives_what_was_announced(announced, as_desk):
    as_desk.get(f"/returns/{announced.pk}/receive/")
    response = as_desk.post(f"/returns/{announced.pk}/receive/", {"seeds": "380"})

    lot = Lot.objects.get(origin="return")
    assert response.url == lot.get_absolute_url()
    assert lot.balance == 380


def test_announced_seed_is_received_as_announced_also_from_its_loan(announced, loan, as_desk):
    response = as_desk.get(f"/desk/return/?loan={loan.pk}")

    assert response.url == f"/returns/{announced.pk}/receive/"


def test_a_guess_does_not_silently_outdo_the_weight(announced, as_desk, counts):
    before = counts()

    response = as_desk.post(
        f"/returns/{announced.pk}/receive/", {"seeds": "400", "grams": "100"}
    )

    assert response.context["form"].errors == {
        "grams": ["Keep the count or the weight, whichever you took; empty the other."]
    }
    assert counts() == before


def test_the_desk_is_told_how_a_weight_was_read(announced, as_desk):
    response = as_desk.post(f"/returns/{announced.pk}/receive/", {"grams": "60"}, follow=True)

    # 307 g for a thousand common beans: Kew Seed Information Database.
    assert "Received 60 g at 307 g for a thousand: 195 seeds." in text_of(response)


def test_the_desk_finds_who_is_here_by_a_part_of_the_name(as_desk, member):
    page = as_desk.get("/desk/", {"who": "WRE"})

    assert f'href="/desk/?member={member.pk}"' in text_of(page)


def test_the_desk_receives_seed_that_nobody_announced(loan, autumn, as_desk):
    as_desk.get(f"/desk/return/?loan={loan.pk}")
    as_desk.post(
        f"/desk/return/?loan={loan.pk}",
        {"loans": [loan.pk], "harvest_year": "2026", "seeds": "200", "more_to_come": "on"},
    )

    loan.refresh_from_db()
    assert Lot.objects.get(origin="return").balance == 200
    assert loan.is_open


def test_seed_of_a_hybrid_is_asked_for_its_line(
    make_variety, make_packet, lend, april, client, desk
):
    hybrid = make_variety("Fell Star", breeding_status="f1")
    loan = lend(make_packet(hybrid))
    april.move_to(dt.datetime(2026, 10, 10, 9, tzinfo=dt.UTC))
    client.force_login(desk)
    typed = {"loans": [loan.pk], "harvest_year": "2026", "seeds": "200"}

    refused = client.post(f"/desk/return/?loan={loan.pk}", typed)
    client.post(
        f"/desk/return/?loan={loan.pk}",
        typed | {"new_line": "Fell Star offspring", "new_generation": "2"},
    )

    line = Lot.objects.get(origin="return").variety
    assert list(refused.context["form"].errors) == ["variety"]
    assert (line.name, line.breeding_status, line.generation) == (
        "Fell Star offspring",
        "segregating",
        2,
    )


def test_a_member_withdraws_an_announcement(announced, as_member):
    as_member.post(f"/returns/{announced.pk}/withdraw/")

    announced.refresh_from_db()
    assert announced.state == "withdrawn"
