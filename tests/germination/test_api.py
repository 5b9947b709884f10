"""The bench over the API."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from library.germination import services
from library.germination.models import GerminationTest

TESTS = "/api/germination-tests/"
DISHES = [{"seeds": 50, "normal": 46}, {"seeds": 50, "normal": 44}]


@pytest.fixture
def at_desk(api, desk):
    api.force_authenticate(desk)
    return api


@pytest.fixture
def whole(make_lot, variety):
    lot = make_lot(variety, seeds=2000)
    return {
        "lot": lot.number,
        "started_on": "2025-11-01",
        "closed_on": "2025-11-09",
        "replicates": DISHES,
    }


def test_a_whole_test_is_recorded_with_its_result(at_desk, whole):
    answer = at_desk.post(TESTS, whole)

    body = answer.json()
    assert (answer.status_code, body["state"]) == (201, "closed")
    assert (body["result"]["percent"], body["result"]["federal_min"]) == (90, 70)
    assert body["result"]["low"] == pytest.approx(82.38, abs=0.01)
    assert body["result"]["minimum_source"].startswith("7 CFR 201.31")


def test_a_test_is_started_and_closed(at_desk, whole):
    sown = [{"seeds": 50}, {"seeds": 50}]
    del whole["closed_on"]

    started = at_desk.post(TESTS, whole | {"replicates": sown}).json()
    closed = at_desk.post(
        f"{TESTS}{started['id']}/close/",
        {"on": "2025-11-09", "replicates": [{"normal": 46}, {"normal": 44, "dead": 6}]},
    )

    assert (started["state"], started["result"]) == ("running", None)
    assert closed.json()["result"]["percent"] == 90


def test_a_started_test_has_no_counts_yet(at_desk, whole):
    del whole["closed_on"]

    answer = at_desk.post(TESTS, whole)

    assert (answer.status_code, answer.json()["field"]) == (400, "replicates")
    assert GerminationTest.objects.count() == 0


def test_a_test_is_set_aside(at_desk, whole):
    test = at_desk.post(TESTS, whole).json()

    answer = at_desk.post(f"{TESTS}{test['id']}/void/", {"reason": "mixed up"})
    again = at_desk.post(f"{TESTS}{test['id']}/void/", {"reason": "mixed up"})

    assert answer.json()["state"] == "void"
    assert again.status_code == 409


def test_recording_again_with_the_same_key_draws_seed_once(at_desk, whole):
    for _ in range(2):
        at_desk.post(TESTS, whole, headers={"Idempotency-Key": "one"})

    assert GerminationTest.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"lot": "L99999-9"}, 400),
        ({"closed_on": "2025-10-31"}, 400),
        ({"started_on": "2025-02-30"}, 400),
        ({"started_on": "2024-01-01"}, 400),
        ({"replicates": []}, 400),
        ({"replicates": [{"seeds": 50, "normal": 51}]}, 400),
        ({"replicates": [{"seeds": 50, "normal": -1}]}, 400),
        ({"replicates": [{"seeds": 2**40, "normal": 1}]}, 400),
        ({"replicates": [{"seeds": 10, "normal": 1}] * 9}, 400),
        ({"replicates": [{"seeds": 1000, "normal": 1}] * 3}, 409),
    ],
)
def test_a_test_that_cannot_be_is_refused(at_desk, whole, change, status):
    assert at_desk.post(TESTS, whole | change).status_code == status
    assert GerminationTest.objects.count() == 0


def test_tests_are_read_by_all_and_written_by_the_desk(api, member, whole):
    assert api.get(TESTS).status_code == 200
    assert api.post(TESTS, whole).status_code == 401
    api.force_authenticate(member)
    assert api.post(TESTS, whole).status_code == 404


def test_tests_are_filtered_by_lot_and_state(at_desk, whole, make_lot, desk):
    at_desk.post(TESTS, whole)
    other = make_lot()
    services.start_test(lot=other, replicates=1, seeds_each=5, on=other.received_on, by=desk)

    of_lot = at_desk.get(TESTS, {"lot": whole["lot"]}).json()["results"]
    running = at_desk.get(TESTS, {"state": "running"}).json()["results"]

    assert [row["lot"] for row in of_lot] == [whole["lot"]]
    assert [row["lot"] for row in running] == [other.number]


def test_the_bench_tells_coordinators_what_is_due_and_why(api, coordinator, desk, make_lot):
    soon, later = make_lot(), make_lot()
    services.expect_first_test(lot=later, on=soon.received_on.replace(month=11))
    services.expect_first_test(lot=soon, on=soon.received_on)

    api.force_authenticate(desk)
    assert api.get(reverse("api-bench-list")).status_code == 404
    api.force_authenticate(coordinator)
    rows = api.get(reverse("api-bench-list")).json()["results"]
    until = api.get(reverse("api-bench-list"), {"until": "2025-12-31"}).json()["results"]

    assert [(row["lot"], row["seeds_needed"]) for row in rows] == [
        (soon.number, 50),
        (later.number, 50),
    ]
    assert [row["lot"] for row in until] == [soon.number]
    assert rows[0]["why"] == "Received on 1 October 2025; a new lot is tested within 90 days."


@pytest.mark.parametrize("name", ["api-germination-test-list", "api-bench-list"])
def test_lists_cost_the_same_with_one_row_and_with_six(
    api, coordinator, desk, make_lot, make_variety, name
):
    def add():
        lot = make_lot(make_variety())
        services.record_test(
            lot=lot,
            replicates=DISHES,
            started_on=lot.received_on,
            closed_on=lot.received_on,
            by=desk,
        )

    def count():
        api.get(reverse(name))
        with CaptureQueriesContext(connection) as queries:
            assert api.get(reverse(name)).status_code == 200
        return len(queries)

    api.force_authenticate(coordinator)
    add()
    one = count()
    for _ in range(5):
        add()

    assert count() == one
