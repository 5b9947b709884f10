"""What stands over winter is promised, told, drawn and reminded of from the autumn before."""

from __future__ import annotations

import datetime as dt

import pytest

from library.growouts.commitments.replacing import candidates_for
from library.growouts.due import due_items
from library.growouts.models import Season
from library.growouts.pictures.calendar import calendar_of
from library.growouts.services import commitments as services
from library.growouts.services.milestones import report_milestone
from library.household.services import saving
from library.lending.models import Loan
from tests.growouts.conftest import TODAY

pytestmark = pytest.mark.django_db

PLANTED = dt.date(2026, 10, 19)  # 5 October and two weeks
LIFTED = dt.date(2027, 7, 16)  # 270 days on


@pytest.fixture
def garlic(make_variety, make_lot):
    variety = make_variety("Priory Wall", crop="garlic", days_to_maturity=270)
    make_lot(variety, seeds=400, packets=4, seeds_each=20, harvest_year=2025)
    return variety


@pytest.fixture
def next_season(valley, coordinator) -> Season:
    return Season.objects.create(year=2027, opened_by=coordinator)


@pytest.fixture
def promised_garlic(offer, garlic, next_season, member):
    offered = offer(garlic, season=next_season)
    return services.accept(commitment=offered, on=TODAY, by=member)


def days_of(commitment) -> dict[str, dt.date]:
    return dict(commitment.milestones.values_list("kind", "due_on"))


def test_garlic_of_next_season_is_planted_this_autumn(promised_garlic):
    steps = days_of(promised_garlic)

    assert (steps["sown"], steps["harvested"]) == (PLANTED, LIFTED)
    assert steps["stand"] == dt.date(2027, 5, 10)
    assert "isolated" not in steps
    back = {
        loan.due_on for loan in Loan.objects.filter(commitment_link__commitment=promised_garlic)
    }
    assert back == {steps["returned"]}


def test_its_page_says_why_it_begins_in_the_year_before(client, member, promised_garlic):
    client.force_login(member)
    page = client.get(promised_garlic.get_absolute_url()).content.decode()

    assert "It stands over winter: planted about two weeks after the first frost" in page
    assert "Oct. 19, 2026" in page or "19 October 2026" in page


def test_promised_in_february_of_its_own_year_it_waits_for_spring(offer, garlic, member):
    promised = services.accept(commitment=offer(garlic), on=TODAY, by=member)

    sown = promised.milestones.get(kind="sown")
    assert (sown.due_on, sown.rule) == (dt.date(2026, 5, 10), "milestone_sown_spring")


def test_its_grower_is_reminded_and_reports_in_the_autumn_before(promised_garlic, member):
    told = [
        item
        for item in due_items(until=dt.date(2027, 12, 31))
        if item.due_on == PLANTED and item.recipient_id == member.pk
    ]
    planting = promised_garlic.milestones.get(kind="sown")
    report_milestone(milestone=planting, on=PLANTED, today=PLANTED, by=member)

    planting.refresh_from_db()
    assert [item.title for item in told] == ["Sow Priory Wall"]
    assert planting.done_on == PLANTED


def test_the_picture_of_its_season_begins_in_the_autumn_before(
    promised_garlic, next_season, member
):
    drawn = calendar_of(next_season, viewer=member, on=TODAY)

    for shape in drawn.shapes:
        assert min(month.x for month in shape.months) >= shape.left
        (strip,) = shape.groups[0].strips
        xs = {mark.step.kind: mark.x for mark in strip.marks}
        january = [m.x for m in shape.months if m.year and m.year.text == "2027"]
        assert xs["sown"] < january[0] < xs["stand"]


def test_ones_own_calendar_begins_in_the_autumn_before(client, member, garden, garlic):
    plan = saving.make_plan(garden=garden, year=2027, by=member, room_m2=40)
    saving.add_varieties(plan=plan, varieties=[garlic], by=member)
    client.force_login(member)

    body = client.get(f"/api/saving-plans/{plan.pk}/calendar/").json()

    days = {day["step"]: day["on"] for day in body["days"]}
    assert (days["sown"], days["harvested"]) == (PLANTED.isoformat(), LIFTED.isoformat())


@pytest.mark.parametrize(
    ("on", "there"),
    [(dt.date(2026, 4, 26), True), (dt.date(2026, 4, 27), False), (dt.date(2026, 6, 1), False)],
)
def test_after_the_last_frost_nobody_is_asked_to_plant_it(
    season, garlic, garden, make_offer, member, on, there
):
    # Even on 1 June 112 days are left to the autumn frost: too few nights of cold, though.
    make_offer(member, garden=garden, room_m2=60)

    found = candidates_for(season=season, variety=garlic, plants=20, on=on)

    assert [one.garden for one in found] == ([garden] if there else [])


def test_before_borrowing_cloves_one_reads_when_to_plant(client, member, garden, garlic):
    garden.is_default = True
    garden.save()
    packet = garlic.lots.get().packets.first()
    client.force_login(member)

    page = client.get("/loans/new/", {"packet": packet.code}).content.decode()

    assert "<dt>Plant</dt>" in page
    assert "as soon as the ground can be worked" in page  # it is February
