"""Lending over the API: the same verb, the same refusals, tried twice without harm."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Garden
from library.lending.models import Deposit, Loan

pytestmark = pytest.mark.django_db


def test_a_member_borrows_for_themselves(as_, member, packet):
    response = as_(member).post("/api/loans/", {"packet": packet.code})

    assert response.status_code == 201
    assert response.json() == {
        "id": Loan.objects.get().pk,
        "state": "to_collect",
        "packet": packet.code,
        "seeds": 20,
        "lot": packet.lot.number,
        "variety": {
            "id": packet.lot.variety_id,
            "name": "Tarn Kettle",
            "crop": "drying bean",
        },
        "borrower": "wren",
        "garden": None,
        "lent_on": "2026-04-15",
        "handed_over_on": None,
        "due_on": "2027-06-14",
        "due_reason": Loan.objects.get().due_reason,
        "due_rule": "due_annual_garden_unknown",
        "due_inputs": Loan.objects.get().due_inputs,
        "closed_on": None,
        "outcome": "",
        "outcome_note": "",
        "override_reason": "",
    }


def test_the_desk_lends_to_a_member_by_name(as_, desk, member, packet):
    response = as_(desk).post("/api/loans/", {"packet": packet.code, "borrower": "WREN"})

    assert response.json()["state"] == "out"
    assert Loan.objects.get().borrower == member


def test_a_request_sent_twice_lends_once(as_, member, packet):
    sent = {"data": {"packet": packet.code}, "headers": {"Idempotency-Key": "one"}}

    first = as_(member).post("/api/loans/", **sent)
    again = as_(member).post("/api/loans/", **sent)

    assert (first.status_code, again.status_code) == (201, 201)
    assert again.headers["Idempotent-Replay"] == "true"
    assert first.json() == again.json()
    assert Loan.objects.count() == 1


def test_a_member_cannot_borrow_for_another(as_, member, other_member, packet, counts):
    before = counts()

    response = as_(member).post("/api/loans/", {"packet": packet.code, "borrower": "rook"})

    assert response.status_code == 403
    assert counts() == before


def test_a_member_does_not_learn_who_is_a_member(as_, member, other_member, packet):
    known = as_(member).post("/api/loans/", {"packet": packet.code, "borrower": "rook"})
    unknown = as_(member).post("/api/loans/", {"packet": packet.code, "borrower": "nobody"})

    assert known.json() == unknown.json()


@pytest.mark.parametrize(
    ("sent", "status", "field"),
    [
        ({}, 400, "packet"),
        ({"packet": ""}, 400, "packet"),
        ({"packet": 7}, 400, "code"),
        ({"packet": "P000001-X"}, 400, "code"),
        ({"packet": "\u0000"}, 400, "packet"),
        ({"packet": "x" * 41}, 400, "packet"),
        ({"on": "2026-04-31"}, 400, "on"),
        ({"on": "2026-04-14"}, 403, "on"),
        ({"garden": 10**30}, 400, "garden"),
        ({"garden": -1}, 400, "garden"),
        ({"garden": "x"}, 400, "garden"),
        ({"override_reason": "please"}, 403, "override_reason"),
        ({"override_reason": "x" * 251}, 400, "override_reason"),
    ],
)
def test_what_cannot_be_lent_is_refused_at_its_field(
    as_, member, packet, counts, sent, status, field
):
    before = counts()
    whole = sent if not sent or "packet" in sent else {"packet": packet.code} | sent

    response = as_(member).post("/api/loans/", whole)

    body = response.json()
    assert response.status_code == status
    assert body["field"].partition(".")[0] == field
    assert counts() == before


def test_a_code_that_nothing_carries_is_not_found(as_, member, packet):
    from library.science.codes import packet_code

    response = as_(member).post("/api/loans/", {"packet": packet_code(999_999)})

    assert (response.status_code, response.json()["code"]) == (404, "unknown_code")


def test_a_lot_number_is_no_packet(as_, member, packet):
    response = as_(member).post("/api/loans/", {"packet": packet.lot.number})

    assert response.status_code == 400
    assert response.json()["detail"].endswith("scan the code of one of its packets.")


def test_a_packet_that_is_out_is_a_conflict(as_, loan, other_member, counts):
    before = counts()

    response = as_(other_member).post("/api/loans/", {"packet": loan.packet.code})

    assert (response.status_code, response.json()["code"]) == (409, "conflict")
    assert counts() == before


def test_the_reserve_is_not_enough(as_, member, variety, make_packet):
    response = as_(member).post("/api/loans/", {"packet": make_packet(variety, seeds=30).code})

    assert (response.status_code, response.json()["code"]) == (409, "not_enough")


def test_somebody_elses_garden_is_as_good_as_none(as_, member, other_member, packet):
    theirs = Garden.objects.create(member=other_member, name="Elsewhere")

    response = as_(member).post("/api/loans/", {"packet": packet.code, "garden": theirs.pk})

    assert response.status_code == 400
    assert response.json()["detail"].startswith("There is none with the number")


def test_what_the_desk_wrote_down_later_keeps_its_day(as_, desk, member, packet):
    response = as_(desk).post(
        "/api/loans/", {"packet": packet.code, "borrower": "wren", "on": "2026-04-10"}
    )

    assert response.json()["lent_on"] == "2026-04-10"
    assert Deposit.objects.count() == 0
    assert Loan.objects.get().handed_over_on == dt.date(2026, 4, 10)
