"""Tests over the API: recorded, read, filtered and set aside."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from library.germination import services
from library.germination.models import GerminationTest

TESTS = "/api/germination-tests/"
DISHES = [{"seeds": 50, "normal": 46}, {"seeds": 50, "normal": 44}]


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


def test_tests_are_filtered_by_what_they_are(at_desk, today, bean_lot, running, few, desk):
    planned = services.plan_test(lot=bean_lot, on=dt.date(2025, 12, 5), by=desk)
    over = services.record_test(
        lot=bean_lot,
        replicates=DISHES,
        started_on=dt.date(2025, 11, 1),
        closed_on=dt.date(2025, 11, 9),
        by=desk,
    )

    def found(**asked):
        return {row["id"] for row in at_desk.get(TESTS, asked).json()["results"]}

    assert found() == {planned.pk, over.pk, running.pk, few.pk}
    assert found(state="planned") == {planned.pk}
    assert found(kind="sequential") == {few.pk}
    assert found(variety=bean_lot.variety_id, kind="fixed") == {planned.pk, over.pk, running.pk}
    assert found(started_from="2025-12-01") == {planned.pk}
    assert found(started_until="2025-11-23") == {over.pk}
    assert found(closed_from="2025-11-09") == {over.pk}
    assert found(closed_until="2025-11-08") == set()
    assert found(verdict="above") == set()


def test_a_test_is_due_to_be_counted_from_its_published_day_on(at_desk, today, running, few):
    # Of beans nothing is published before the final count, after 8 days: 2 December 2025.
    def due(on):
        rows = at_desk.get(TESTS, {"counts_due": on}).json()["results"]
        return {row["id"] for row in rows}

    assert due("2025-12-01") == set()
    assert due("2025-12-02") == {running.pk, few.pk}


def test_the_first_count_is_due_until_it_is_made(at_desk, today, running, make_lot, desk):
    # 7 CFR 201.58 Table 2, "Tomato": first count after 5 days, final after 14.
    lot = make_lot()
    test = services.start_test(lot=lot, on=dt.date(2025, 11, 24), by=desk)

    def due(on):
        return at_desk.get(TESTS, {"counts_due": on, "lot": lot.number}).json()["count"]

    before = [due("2025-11-28"), due("2025-11-29")]
    services.count_dish(
        dish=test.replicates.first(), on=dt.date(2025, 11, 29), normal=3, by=desk
    )
    after = [due("2025-11-29"), due("2025-12-07"), due("2025-12-08")]

    assert (before, after) == ([0, 1], [0, 0, 1])


def test_a_group_sown_later_is_counted_later(at_desk, today, few, desk):
    services.count_dish(dish=few.replicates.get(), on=dt.date(2025, 11, 30), normal=7, by=desk)
    services.finish_group(test=few, on=dt.date(2025, 11, 30), by=desk)
    services.sow_more(test=few, on=dt.date(2025, 12, 1), by=desk)

    def due(on):
        return at_desk.get(TESTS, {"counts_due": on}).json()["count"]

    assert (due("2025-12-08"), due("2025-12-09")) == (0, 1)


@pytest.mark.parametrize(
    "asked",
    [
        {"state": "eaten"},
        {"kind": "long"},
        {"verdict": "perhaps"},
        {"counts_due": "soon"},
        {"counts_due": "2025-02-30"},
        {"started_from": "x"},
        {"variety": str(10**30)},
        {"variety": "\x00"},
    ],
)
def test_a_filter_that_cannot_be_is_refused(at_desk, db, asked):
    assert at_desk.get(TESTS, asked).status_code == 400


def test_tests_come_in_pages(at_desk, make_lot, desk):
    for _ in range(3):
        lot = make_lot()
        services.start_test(lot=lot, replicates=1, seeds_each=5, on=lot.received_on, by=desk)

    first = at_desk.get(TESTS, {"page_size": 2}).json()
    second = at_desk.get(first["next"]).json()

    assert (first["count"], len(first["results"]), len(second["results"])) == (3, 2, 1)
    assert at_desk.get(TESTS, {"page": 3, "page_size": 2}).status_code == 404


def test_the_list_costs_the_same_with_one_test_and_with_six(
    api, coordinator, desk, make_lot, make_variety
):
    def add():
        lot = make_lot(make_variety())
        day = {"on": lot.received_on, "by": desk}
        test = services.start_test(lot=lot, replicates=2, seeds_each=5, **day)
        for dish in test.replicates.all():
            services.count_dish(dish=dish, normal=3, **day)
        services.close_test(test=test, replicates=[{}, {}], **day)
        counts = {1: {"normal": 2}, 2: {"normal": 2}}
        services.amend_test(test=test, reason="miscounted", dishes=counts, by=desk)
        services.start_test(lot=lot, kind="sequential", **day)

    def count() -> int:
        api.get(TESTS)
        with CaptureQueriesContext(connection) as queries:
            assert api.get(TESTS).status_code == 200
        return len(queries)

    api.force_authenticate(coordinator)
    add()
    one = count()
    for _ in range(5):
        add()

    assert count() == one
