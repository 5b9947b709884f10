"""Amendments over the API: what a test said before, what it says now, and who may know."""

from __future__ import annotations

import datetime as dt

import pytest

from library.germination import services

TESTS = "/api/germination-tests/"

pytestmark = pytest.mark.usefixtures("today")


@pytest.fixture
def closed(running, desk):
    return services.close_test(
        test=running,
        replicates=[{"normal": 22}, {"normal": 20, "hard": 1}],
        on=dt.date(2025, 12, 1),
        by=desk,
    )


def test_a_closed_test_is_amended_and_says_what_it_said(do, closed):
    body = do(
        closed,
        "amend",
        reason="one was counted twice",
        dishes=[{"number": 1, "normal": 21}],
        closed_on="2025-11-30",
    ).json()

    assert (body["result"]["germinated"], body["closed_on"]) == (41, "2025-11-30")
    dish, day = body["amendments"]
    assert (day["field"], day["old_value"], day["new_value"]) == (
        "closed_on",
        "2025-12-01",
        "2025-11-30",
    )
    assert (dish["field"], dish["old_value"]["normal"], dish["new_value"]["normal"]) == (
        "dish 1",
        22,
        21,
    )
    assert {row["reason"] for row in body["amendments"]} == {"one was counted twice"}


def test_amending_uses_no_seed(do, closed, bean_lot):
    bean_lot.refresh_from_db()
    before = bean_lot.balance

    do(closed, "amend", reason="miscounted", dishes=[{"number": 1, "normal": 21}])

    bean_lot.refresh_from_db()
    assert bean_lot.balance == before


@pytest.mark.parametrize(
    "sent",
    [
        {},
        {"reason": "", "dishes": [{"number": 1, "normal": 1}]},
        {"reason": "x"},
        {"reason": "x", "dishes": []},
        {"reason": "x", "dishes": [{"number": 1}]},
        {"reason": "x", "dishes": [{"normal": 1}]},
        {"reason": "x", "dishes": [{"number": 9, "normal": 1}]},
        {"reason": "x", "dishes": [{"number": 1, "normal": 26}]},
        {"reason": "x", "dishes": [{"number": 1, "normal": -1}]},
        {"reason": "x", "dishes": [{"number": 1, "normal": 1}, {"number": 1, "normal": 2}]},
        {"reason": "x", "dishes": {"1": {"normal": 1}}},
        {"reason": "x", "started_on": "2025-09-30"},
        {"reason": "x", "started_on": "2025-12-02"},
        {"reason": "x", "closed_on": "2025-11-23"},
        {"reason": "x" * 251, "closed_on": "2025-11-30"},
    ],
)
def test_an_amendment_that_cannot_be_changes_nothing(do, closed, rows, sent):
    before = rows()

    answer = do(closed, "amend", **sent)

    assert answer.status_code == 400
    assert answer.json()["detail"].endswith(".")
    assert rows() == before


def test_a_running_test_is_not_amended(do, running, rows):
    before = rows()

    answer = do(running, "amend", reason="x", dishes=[{"number": 1, "normal": 1}])

    assert answer.status_code == 409
    assert rows() == before


def test_who_did_it_is_told_to_the_desk_by_display_name_only(do, api, closed, member):
    do(closed, "amend", reason="miscounted", dishes=[{"number": 1, "normal": 21}])
    shown = {}
    for who in (closed.recorded_by, member):
        api.force_authenticate(who)
        shown[who] = api.get(f"{TESTS}{closed.pk}/")

    told, kept = shown[closed.recorded_by], shown[member]
    assert told.json()["recorded_by"] == "heron"
    assert told.json()["amendments"][0]["amended_by"] == "heron"
    assert (kept.json()["recorded_by"], kept.json()["note"]) == (None, None)
    assert kept.json()["amendments"][0]["amended_by"] is None
    assert b"@" not in told.content + kept.content
