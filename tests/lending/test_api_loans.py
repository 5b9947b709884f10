"""Loans over the API: who sees them, what is done to them, and guidance to grow them."""

from __future__ import annotations

import pytest

from accounts.models import Garden

pytestmark = pytest.mark.django_db


def test_a_garden_is_shown_to_its_member_and_to_coordinators_only(
    as_, garden, loan, member, desk, coordinator
):
    shown = [
        as_(who).get(f"/api/loans/{loan.pk}/").json()["garden"]
        for who in (member, desk, coordinator)
    ]

    assert shown == [garden.pk, None, garden.pk]


def test_members_see_their_own_loans_and_the_desk_everybodys(
    as_, loan, member, other_member, desk
):
    seen = [as_(who).get("/api/loans/").json()["count"] for who in (member, other_member, desk)]
    mine = as_(desk).get("/api/loans/", {"mine": "true"}).json()["count"]

    assert (seen, mine) == ([1, 0, 1], 0)


ACTIONS = [
    ("close", {"outcome": "nothing_to_return"}),
    ("hand-over", {}),
    ("take-back", {}),
    ("cancel", {}),
    ("extend", {"due_on": "2027-01-01", "reason": "x"}),
    ("garden", {"garden": 1}),
]


@pytest.mark.parametrize(("action", "sent"), ACTIONS)
def test_another_members_loan_is_not_found(as_, loan, other_member, counts, action, sent):
    before = counts()

    response = as_(other_member).post(f"/api/loans/{loan.pk}/{action}/", sent)

    assert response.status_code == 404
    assert counts() == before


@pytest.mark.parametrize(("action", "sent"), [ACTIONS[1], ACTIONS[2], ACTIONS[4]])
def test_a_member_does_not_do_the_desks_work_on_their_own_loan(
    as_, loan, member, counts, action, sent
):
    before = counts()

    response = as_(member).post(f"/api/loans/{loan.pk}/{action}/", sent)

    assert (response.status_code, response.json()["code"]) == (403, "not_allowed")
    assert counts() == before


def test_a_loan_is_closed_once(as_, loan, member, counts):
    client, place = as_(member), f"/api/loans/{loan.pk}/close/"

    first = client.post(place, {"outcome": "crop_failed", "note": "hail"})
    before = counts()
    second = client.post(place, {"outcome": "crop_failed", "note": "hail"})

    assert (first.status_code, first.json()["outcome"]) == (200, "crop_failed")
    assert (second.status_code, second.json()["code"]) == (409, "conflict")
    assert counts() == before


def test_the_desk_hands_over_takes_back_and_extends(as_, packet, member, desk, lend):
    loan = lend(packet, by=member)
    client = as_(desk)

    handed = client.post(f"/api/loans/{loan.pk}/hand-over/")
    longer = client.post(
        f"/api/loans/{loan.pk}/extend/", {"due_on": "2027-09-01", "reason": "sown late"}
    )
    back = client.post(f"/api/loans/{loan.pk}/take-back/", {"note": "no room"})

    assert handed.json()["state"] == "out"
    assert longer.json()["due_on"] == "2027-09-01"
    assert (back.json()["outcome"], back.json()["outcome_note"]) == ("taken_back", "no room")


@pytest.mark.parametrize("day", ["2027-02-30", "soon", 20270101, "2026-04-01", "9999-12-31"])
def test_a_due_date_that_cannot_be_is_refused(as_, loan, desk, day, counts):
    before = counts()

    response = as_(desk).post(f"/api/loans/{loan.pk}/extend/", {"due_on": day, "reason": "x"})

    assert response.status_code == 400
    assert counts() == before


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"state": "out"}, 1),
        ({"state": "open"}, 1),
        ({"state": "to_collect"}, 0),
        ({"state": "closed"}, 0),
        ({"state": "overdue"}, 0),
        ({"due_until": "2027-06-13"}, 0),
        ({"due_until": "2027-06-14"}, 1),
        ({"due_from": "2027-06-15"}, 0),
        ({"outcome": "crop_failed"}, 0),
    ],
)
def test_loans_are_filtered(as_, loan, member, asked, found):
    assert as_(member).get("/api/loans/", asked).json()["count"] == found


def test_loans_are_filtered_by_variety(as_, loan, member, make_variety):
    other = make_variety()
    client = as_(member)

    counts = [
        client.get("/api/loans/", {"variety": pk}).json()["count"]
        for pk in (loan.packet.lot.variety_id, other.pk)
    ]

    assert counts == [1, 0]


@pytest.mark.parametrize(
    "asked",
    [
        {"state": "eaten"},
        {"due_until": "2026-13-01"},
        {"variety": str(10**30)},
        {"variety": "x"},
        {"variety": "\x00"},
        {"outcome": "x"},
    ],
)
@pytest.mark.parametrize("resource", ["loans"])
def test_a_filter_that_cannot_be_is_refused(as_, member, resource, asked):
    assert as_(member).get(f"/api/{resource}/", asked).status_code == 400


def test_guidance_is_what_the_page_shows(as_, member, packet, garden):
    cold = Garden.objects.create(
        member=member, name="Cold", last_spring_frost="06-10", first_autumn_frost="10-01"
    )

    told = (
        as_(member)
        .get("/api/loans/guidance/", {"packet": packet.code, "garden": cold.pk})
        .json()
    )

    assert (told["plants"], told["isolation_at_least_m"]) == (10, 6)
    assert told["due"]["day"] == "2026-11-30"
    assert told["sow_from"] == "2026-06-10"
    assert told["why_not"] == ""


@pytest.mark.parametrize("garden", ["x", "0", str(10**30), "-1"])
def test_guidance_for_a_garden_that_is_not_mine_is_refused(as_, member, packet, garden):
    response = as_(member).get(
        "/api/loans/guidance/", {"packet": packet.code, "garden": garden}
    )

    assert response.status_code == 400
    assert response.json()["field"] == "garden"


def test_guidance_needs_a_packet(as_, member):
    assert as_(member).get("/api/loans/guidance/").status_code == 400
