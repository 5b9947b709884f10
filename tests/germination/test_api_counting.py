"""Tests over the API from plan to amendment: counted by day, group by group, sent twice."""

from __future__ import annotations

import datetime as dt

import pytest

from library.germination import services
from library.germination.models import DayCount, GerminationTest

TESTS = "/api/germination-tests/"
NOV = "2025-11-24"  # the day on which the tests of the fixtures were laid out

pytestmark = pytest.mark.usefixtures("today")


@pytest.fixture
def closed(running, desk):
    return services.close_test(
        test=running,
        replicates=[{"normal": 22}, {"normal": 20, "hard": 1}],
        on=dt.date(2025, 12, 1),
        by=desk,
    )


def test_a_planned_test_takes_its_conditions_from_the_reference(at_desk, bean_lot):
    sent = {"lot": bean_lot.number, "started_on": "2025-12-05", "planned": True}

    body = at_desk.post(TESTS, sent).json()

    # 7 CFR 201.58 Table 2, "Bean, garden": no first count, final count after 8 days.
    assert (body["state"], body["started_on"]) == ("planned", "2025-12-05")
    assert (body["first_count_on"], body["final_count_on"]) == (None, "2025-12-13")
    assert {row["quantity"] for row in body["published"]} >= {"test_temperature_c"}
    assert all(row["source"] for row in body["published"])
    bean_lot.refresh_from_db()
    assert bean_lot.balance == 2000


def test_a_planned_test_is_begun_and_draws_its_seed(do, at_desk, bean_lot):
    sent = {"lot": bean_lot.number, "started_on": "2025-12-05", "planned": True}
    planned = at_desk.post(TESTS, sent | {"replicates": [{"seeds": 25}] * 4}).json()
    test = GerminationTest.objects.get(pk=planned["id"])

    body = do(test, "begin", on="2025-11-30").json()

    assert (body["state"], body["started_on"]) == ("running", "2025-11-30")
    assert body["final_count_on"] == "2025-12-08"
    assert [dish["sown_on"] for dish in body["replicates"]] == ["2025-11-30"] * 4
    bean_lot.refresh_from_db()
    assert bean_lot.balance == 1900


def test_without_a_day_it_is_begun_today(do, bean_lot, desk):
    test = services.plan_test(lot=bean_lot, on=dt.date(2025, 11, 24), by=desk)

    assert do(test, "begin").json()["started_on"] == "2025-12-01"


def test_a_test_is_begun_once(do, bean_lot, desk):
    test = services.plan_test(lot=bean_lot, on=dt.date(2025, 11, 24), by=desk)

    first, second = do(test, "begin"), do(test, "begin")

    assert (first.status_code, second.status_code) == (200, 409)
    assert second.json()["detail"] == f"Test {test.pk} is running, not planned."


def test_a_lot_that_gave_its_seed_away_cannot_be_begun(do, make_lot, desk, rows):
    lot = make_lot(seeds=200)
    plans = [
        services.plan_test(
            lot=lot, replicates=4, seeds_each=40, on=dt.date(2025, 11, 24), by=desk
        )
        for _ in range(2)
    ]
    do(plans[0], "begin")
    before = rows()

    answer = do(plans[1], "begin")

    assert (answer.status_code, answer.json()["code"]) == (409, "not_enough")
    assert rows() == before


def test_a_dish_is_counted_day_by_day(do, running):
    do(running, "counts", dish=1, on="2025-11-28", normal=9)

    body = do(running, "counts", dish=1, on="2025-12-01", normal=12, abnormal=1, dead=1).json()

    dish = body["replicates"][0]
    assert (dish["normal"], dish["abnormal"], dish["dead"]) == (21, 1, 1)
    assert dish["day_counts"] == [
        {"on": "2025-11-28", "normal": 9, "abnormal": 0, "dead": 0},
        {"on": "2025-12-01", "normal": 12, "abnormal": 1, "dead": 1},
    ]
    assert body["replicates"][1]["day_counts"] == []


def test_a_count_sent_again_says_the_same_again(do, running):
    first = do(running, "counts", dish=1, on="2025-12-01", normal=9)
    again = do(running, "counts", dish=1, on="2025-12-01", normal=9)

    assert first.json() == again.json()
    assert DayCount.objects.get().normal == 9


def test_a_count_of_the_same_day_replaces_the_first(do, running):
    do(running, "counts", dish=1, normal=9, dead=2)

    dish = do(running, "counts", dish=1, normal=8).json()["replicates"][0]

    assert (dish["normal"], dish["dead"]) == (8, 0)
    assert DayCount.objects.get().on == dt.date(2025, 12, 1)


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"dish": 3, "normal": 1}, "dish"),
        ({"dish": 0, "normal": 1}, "dish"),
        ({"dish": 10**30, "normal": 1}, "dish"),
        ({"normal": 1}, "dish"),
        ({"dish": 1}, "normal"),
        ({"dish": 1, "normal": -1}, "normal"),
        ({"dish": 1, "normal": 1.5}, "normal"),
        ({"dish": 1, "normal": None}, "normal"),
        ({"dish": 1, "normal": 26}, "dish"),
        ({"dish": 1, "normal": 20, "abnormal": 5, "dead": 1}, "dish"),
        ({"dish": 1, "normal": 1, "on": "2025-11-23"}, "on"),
        ({"dish": 1, "normal": 1, "on": "2025-12-03"}, "on"),
        ({"dish": 1, "normal": 1, "on": "today"}, "on"),
    ],
)
def test_a_count_that_cannot_be_is_refused_at_its_field(do, running, rows, sent, field):
    before = rows()

    answer = do(running, "counts", **sent)

    assert (answer.status_code, answer.json()["field"]) == (400, field)
    assert rows() == before


def test_a_dish_that_is_not_there_is_said_to_be_so(do, running):
    assert do(running, "counts", dish=3, normal=1).json()["detail"] == (
        f"Test {running.pk} has no dish 3; it has 2."
    )


def test_a_closed_test_is_counted_no_more(do, closed, rows):
    before = rows()

    answer = do(closed, "counts", dish=1, normal=1)

    assert (answer.status_code, answer.json()["code"]) == (409, "conflict")
    assert rows() == before


def test_what_was_counted_by_day_is_in_the_end(do, running):
    do(running, "counts", dish=1, on="2025-11-28", normal=9)

    body = do(running, "close", replicates=[{"normal": 20}, {"normal": 21}]).json()

    assert (body["state"], body["result"]["germinated"]) == ("closed", 41)
    assert [dish["dead"] for dish in body["replicates"]] == [5, 4]


def test_a_few_seeds_are_sown_by_the_rules_of_the_bench(at_desk, make_lot, variety):
    lot = make_lot(variety, seeds=500)
    sent = {"lot": lot.number, "started_on": NOV, "kind": "sequential"}

    body = at_desk.post(TESTS, sent).json()

    assert (body["kind"], body["state"], body["verdict"]) == ("sequential", "running", "")
    assert body["plan"] == {
        "good_percent": 77.5,
        "poor_percent": 62.5,
        "risk_good_percent": 10,
        "risk_poor_percent": 10,
        "group_seeds": 10,
        "most_seeds": 50,
        "source": "Wald 1945, Annals of Mathematical Statistics 16:117-186",
    }
    assert body["so_far"] == {
        "sown": 10,
        "normal": 0,
        "left": 10,
        "most": 50,
        "outcome": None,
        "sow_next": 0,
        "cut_off": False,
    }
    lot.refresh_from_db()
    assert lot.balance == 490


def test_groups_are_finished_and_sown_until_they_decide(do, few):
    do(few, "counts", dish=1, normal=7)
    undecided = do(few, "finish-group", dead=3).json()
    do(few, "sow-more")
    for dish in (2, 3):
        do(few, "counts", dish=dish, normal=10)
        decided = do(few, "finish-group").json()
        if decided["so_far"]["outcome"] == "sow_more":
            do(few, "sow-more")

    assert undecided["state"] == "running"
    assert (undecided["so_far"]["outcome"], undecided["so_far"]["sow_next"]) == ("sow_more", 10)
    assert (decided["state"], decided["verdict"]) == ("closed", "above")
    assert decided["so_far"]["outcome"] == "above"


def test_a_group_that_is_open_comes_before_the_next(do, few, rows):
    before = rows()

    answer = do(few, "sow-more")

    assert (answer.status_code, answer.json()["code"]) == (409, "conflict")
    assert rows() == before


@pytest.mark.parametrize("action", ["finish-group", "sow-more"])
def test_groups_are_of_tests_with_few_seeds(do, running, rows, action):
    before = rows()

    answer = do(running, action)

    assert answer.status_code == 400
    assert answer.json()["detail"] == (
        f"Test {running.pk} was laid out all at once; count its dishes and close it."
    )
    assert rows() == before


def test_a_group_is_sown_once_for_a_request_sent_twice(do, few):
    do(few, "counts", dish=1, normal=7)
    do(few, "finish-group")

    first, again = do(few, "sow-more", key="one"), do(few, "sow-more", key="one")

    assert first.json() == again.json()
    assert again.headers["Idempotent-Replay"] == "true"
    assert few.replicates.count() == 2


def test_a_lot_too_small_for_one_group_is_refused(at_desk, make_lot, rows):
    lot = make_lot(seeds=80)
    before = rows()

    answer = at_desk.post(TESTS, {"lot": lot.number, "started_on": NOV, "kind": "sequential"})

    assert (answer.status_code, answer.json()["field"]) == (400, "kind")
    assert rows() == before


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"kind": "sequential", "closed_on": "2025-11-30"}, "kind"),
        ({"kind": "sequential", "replicates": [{"seeds": 10}]}, "replicates"),
        ({"kind": "guess"}, "kind"),
        ({"planned": True, "closed_on": "2025-11-30"}, "planned"),
        ({"planned": "perhaps"}, "planned"),
        ({"planned": True, "started_on": "2028-01-01"}, "started_on"),
        ({"planned": True, "started_on": "2025-09-30"}, "started_on"),
        ({"closed_on": "2025-11-30"}, "replicates"),
        ({"replicates": [{"seeds": 25}, {"seeds": 50}]}, "replicates"),
        ({"replicates": [{"seeds": 25, "normal": 1}]}, "replicates"),
        ({"started_on": "2025-12-03"}, "started_on"),
        ({"directions": "x" * 401}, "directions"),
        ({"directions": "\u0000"}, "directions"),
    ],
)
def test_a_test_that_cannot_begin_is_refused_at_its_field(at_desk, bean_lot, rows, sent, field):
    before = rows()

    answer = at_desk.post(TESTS, {"lot": bean_lot.number, "started_on": NOV} | sent)

    assert (answer.status_code, answer.json()["field"]) == (400, field)
    assert rows() == before


@pytest.mark.parametrize("planned", [True, False])
def test_a_test_of_more_seed_than_there_is_is_a_conflict(at_desk, make_lot, rows, planned):
    lot = make_lot(seeds=50)
    before = rows()

    answer = at_desk.post(
        TESTS,
        {
            "lot": lot.number,
            "started_on": NOV,
            "planned": planned,
            "replicates": [{"seeds": 30}] * 2,
        },
    )

    assert (answer.status_code, answer.json()["code"]) == (409, "not_enough")
    assert answer.json()["detail"].startswith(f"Lot {lot.number} has ")
    assert rows() == before


ACTIONS = ["begin", "counts", "finish-group", "sow-more", "close", "amend", "void"]


@pytest.mark.parametrize("action", ACTIONS)
def test_a_test_that_is_not_there_is_not_found(at_desk, db, action):
    assert at_desk.post(f"{TESTS}987654/{action}/", {}).status_code == 404


@pytest.mark.parametrize("action", ACTIONS)
def test_the_desks_work_is_hidden_from_members(api, member, running, action, rows):
    api.force_authenticate(member)
    before = rows()

    answer = api.post(f"{TESTS}{running.pk}/{action}/", {"dish": 1, "normal": 1, "reason": "x"})

    assert answer.status_code == 404
    assert rows() == before
