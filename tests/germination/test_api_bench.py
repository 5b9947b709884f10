"""What is due over the API, what it costs, who counts on a lot, and what is decided of it."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from library.germination import services
from library.germination.costs import cost_of_next_test
from library.germination.models import BenchRules, PlannedSowing, ShelfDecision, TestDate
from library.science.sequential import operating_point, plan_for
from library.stock import services as stock

BENCH, SOWINGS, DECISIONS = "/api/bench/", "/api/planned-sowings/", "/api/shelf-decisions/"

pytestmark = pytest.mark.usefixtures("today")


@pytest.fixture
def at_bench(api, coordinator):
    """The API as a coordinator sees it."""
    api.force_authenticate(coordinator)
    return api


@pytest.fixture
def expected(bean_lot):
    """The beans wait for their first test, by 30 December 2025."""
    services.expect_first_test(lot=bean_lot, on=bean_lot.received_on)
    return bean_lot


@pytest.fixture
def make_poor(make_lot, make_variety, desk):
    """``make_poor()``: a lot of which a quarter germinated, to be regrown."""

    def make(variety=None):
        lot = make_lot(variety or make_variety(crop="drying bean"), seeds=1000)
        services.record_test(
            lot=lot,
            replicates=[{"seeds": 50, "normal": 12}, {"seeds": 50, "normal": 14}],
            started_on=dt.date(2025, 11, 1),
            closed_on=dt.date(2025, 11, 9),
            by=desk,
        )
        return lot

    return make


def rows_of(answer) -> list[dict]:
    assert answer.status_code == 200
    return answer.json()["results"]


def test_a_row_says_when_why_and_what_it_costs(at_bench, expected):
    date = TestDate.objects.get()

    (row,) = rows_of(at_bench.get(BENCH))

    expected_seeds = row["cost"]["few_seeds"].pop("expected_seeds")
    assert row == {
        "lot": expected.number,
        "variety": expected.variety_id,
        "variety_name": "Tarn Kettle",
        "kind": "first",
        "due_on": "2025-12-30",
        "overdue": False,
        "rule": "first_test",
        "why": date.why,
        "inputs": date.inputs,
        "source": date.source,
        "seeds_needed": 200,
        "cost": {
            "seeds_left": 2000,
            "seeds": 200,
            "percent": 10.0,
            "few_seeds": {"group_seeds": 10, "most_seeds": 200},
        },
        "estimate": None,
        "planned_test": None,
    }
    # Of a lot of which nothing is known, the library's standard is expected: 70 %.
    plan = plan_for(standard=0.7, available=2000)
    assert expected_seeds == round(operating_point(plan, germination=0.7).expected_seeds, 1)


def test_a_lot_too_small_for_few_seeds_says_so(at_bench, make_lot):
    lot = make_lot(seeds=60)
    services.expect_first_test(lot=lot, on=lot.received_on)

    (row,) = rows_of(at_bench.get(BENCH))

    assert row["cost"] == {"seeds_left": 60, "seeds": 10, "percent": 16.7, "few_seeds": None}


def test_what_is_known_of_a_lot_makes_its_test_cheaper(bean_lot, desk):
    rules = BenchRules.current()
    unknown = cost_of_next_test(bean_lot, rules).few_seeds
    services.record_test(
        lot=bean_lot,
        replicates=[{"seeds": 50, "normal": 49}, {"seeds": 50, "normal": 49}],
        started_on=dt.date(2025, 11, 1),
        closed_on=dt.date(2025, 11, 9),
        by=desk,
    )
    bean_lot.refresh_from_db()

    known = cost_of_next_test(bean_lot, rules).few_seeds

    assert known.expected_seeds < unknown.expected_seeds


def test_a_tested_lot_shows_its_estimate(at_bench, make_poor):
    lot = make_poor()
    kept = lot.estimate

    (row,) = rows_of(at_bench.get(BENCH))

    assert row["estimate"] == {
        "on": "2025-12-01",
        "low_percent": round(100 * kept.low, 2),
        "median_percent": round(100 * kept.median, 2),
        "high_percent": round(100 * kept.high, 2),
        "chance_percent": round(100 * kept.chance, 2),
        "standard_percent": 70,
        "regrow_rule": "regrow_below_standard",
        "why_regrow": kept.why_regrow,
        "decided": "",
    }


def test_a_test_that_is_planned_is_named(at_bench, expected, desk):
    test = services.plan_test(lot=expected, on=dt.date(2025, 12, 5), by=desk)

    (row,) = rows_of(at_bench.get(BENCH))

    assert row["planned_test"] == test.pk


def test_a_lot_under_test_or_with_nothing_left_is_not_due(
    at_bench, expected, make_lot, running, desk
):
    empty = make_lot(seeds=100)
    services.expect_first_test(lot=empty, on=empty.received_on)
    stock.discard(lot=empty, seeds=100, reason="weevils", on=empty.received_on, by=desk)

    assert rows_of(at_bench.get(BENCH)) == []


def test_what_is_due_is_filtered(at_bench, expected, make_poor, make_lot):
    poor = make_poor()
    late = make_lot(on=dt.date(2025, 8, 1))
    services.expect_first_test(lot=late, on=late.received_on)

    def lots(**asked):
        return [row["lot"] for row in rows_of(at_bench.get(BENCH, asked))]

    assert lots() == [late.number, expected.number, poor.number]
    assert lots(overdue="true") == [late.number]
    assert lots(overdue="false") == [expected.number, poor.number]
    assert lots(until="2025-12-29") == [late.number]
    assert lots(until="2025-12-30") == [late.number, expected.number]
    assert lots(kind="retest") == [poor.number]
    assert lots(to_regrow="true") == [poor.number]
    assert lots(to_regrow="false") == [late.number, expected.number]
    assert lots(variety=expected.variety_id) == [expected.number]
    assert lots(lot=late.number) == [late.number]


def test_a_lot_that_goes_on_being_lent_is_not_to_be_regrown(at_bench, make_poor, coordinator):
    lot = make_poor()
    services.decide_shelf(lot=lot, decision="keep", reason="all there is", by=coordinator)

    assert rows_of(at_bench.get(BENCH, {"to_regrow": "true"})) == []


@pytest.mark.parametrize(
    "asked",
    [
        {"overdue": "perhaps"},
        {"to_regrow": "x"},
        {"until": "2025-02-30"},
        {"kind": "second"},
        {"variety": str(10**30)},
        {"variety": "\x00"},
        {"page": "0"},
        {"page": "x"},
    ],
)
def test_a_filter_that_cannot_be_is_refused(at_bench, asked):
    answer = at_bench.get(BENCH, asked)

    assert answer.status_code == (404 if "page" in asked else 400)
    assert answer.json()["detail"]


def test_what_is_due_comes_in_pages(at_bench, make_lot, variety):
    for _ in range(3):
        services.expect_first_test(lot=make_lot(variety), on=dt.date(2025, 10, 1))

    first = at_bench.get(BENCH, {"page_size": 2}).json()
    second = at_bench.get(first["next"]).json()

    assert (first["count"], len(first["results"]), len(second["results"])) == (3, 2, 1)
    assert second["next"] is None
    assert len({row["lot"] for row in first["results"] + second["results"]}) == 3


def test_a_sowing_is_planned_and_the_lot_is_tested_in_time(at_desk, bean_lot):
    sent = {"lot": bean_lot.number, "on": "2026-05-01", "what_for": "the school garden"}

    answer = at_desk.post(SOWINGS, sent)

    assert answer.status_code == 201
    assert answer.json() == {
        "id": PlannedSowing.objects.get().pk,
        "lot": bean_lot.number,
        "variety": bean_lot.variety_id,
        "variety_name": "Tarn Kettle",
        "on": "2026-05-01",
        "what_for": "the school garden",
        "added_by": "heron",
    }
    assert TestDate.objects.get(lot=bean_lot).due_on < dt.date(2026, 5, 1)


def test_the_same_sowing_is_planned_once(at_desk, bean_lot):
    sent = {"lot": bean_lot.number, "on": "2026-05-01", "what_for": "the school garden"}

    first, again = at_desk.post(SOWINGS, sent), at_desk.post(SOWINGS, sent)

    assert first.json() == again.json()
    assert PlannedSowing.objects.count() == 1


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"on": "2025-11-30"}, "on"),
        ({"on": "2045-01-01"}, "on"),
        ({"on": "spring"}, "on"),
        ({"what_for": " "}, "what_for"),
        ({"what_for": "x" * 121}, "what_for"),
        ({"what_for": None}, "what_for"),
        ({"lot": "L999999-9"}, "lot"),
        ({"lot": "\x00"}, "lot"),
        ({"lot": None}, "lot"),
    ],
)
def test_a_sowing_that_cannot_be_is_refused_at_its_field(at_desk, bean_lot, sent, field):
    whole = {"lot": bean_lot.number, "on": "2026-05-01", "what_for": "the school garden"}

    answer = at_desk.post(SOWINGS, whole | sent)

    assert (answer.status_code, answer.json()["field"]) == (400, field)
    assert PlannedSowing.objects.count() == 0


def test_a_lot_with_nothing_left_cannot_be_counted_on(at_desk, make_lot, desk):
    empty = make_lot(seeds=100)
    stock.discard(lot=empty, seeds=100, reason="weevils", on=empty.received_on, by=desk)

    answer = at_desk.post(SOWINGS, {"lot": empty.number, "on": "2026-05-01", "what_for": "x"})

    assert (answer.status_code, answer.json()["code"]) == (409, "not_enough")
    assert PlannedSowing.objects.count() == 0


def test_a_sowing_is_dropped_once(at_desk, bean_lot, desk):
    sowing = services.expect_sowing(
        lot=bean_lot, on=dt.date(2026, 5, 1), what_for="the school garden", by=desk
    )

    first, second = (at_desk.delete(f"{SOWINGS}{sowing.pk}/").status_code for _ in range(2))

    assert (first, second) == (204, 404)
    assert PlannedSowing.objects.count() == 0


def test_sowings_are_filtered_soonest_first(at_desk, bean_lot, make_lot, desk):
    other = make_lot()
    for lot, month in ((bean_lot, 5), (other, 4), (bean_lot, 6)):
        services.expect_sowing(lot=lot, on=dt.date(2026, month, 1), what_for="x", by=desk)

    def days(**asked):
        return [row["on"] for row in rows_of(at_desk.get(SOWINGS, asked))]

    assert days() == ["2026-04-01", "2026-05-01", "2026-06-01"]
    assert days(lot=bean_lot.number) == ["2026-05-01", "2026-06-01"]
    assert days(since="2026-05-02") == ["2026-06-01"]
    assert days(until="2026-04-30") == ["2026-04-01"]


def test_a_coordinator_decides_of_a_poor_lot(at_bench, make_poor):
    lot = make_poor()
    sent = {"lot": lot.number, "decision": "withhold", "reason": "too little of it lives"}

    answer = at_bench.post(DECISIONS, sent)

    body = answer.json()
    assert (answer.status_code, body["decided_by"], body["decision"]) == (
        201,
        "owl",
        "withhold",
    )
    assert body["median_percent"] == round(100 * lot.estimate.median, 2)
    lot.refresh_from_db()
    assert lot.withheld_reason == "too little of it lives"
    assert rows_of(at_bench.get(DECISIONS, {"lot": lot.number})) == [body]
    assert b"@" not in answer.content


def test_a_decision_sent_twice_is_made_once(at_bench, make_poor):
    sent = {"lot": make_poor().number, "decision": "keep", "reason": "all there is"}

    first, again = (
        at_bench.post(DECISIONS, sent, headers={"Idempotency-Key": "one"}) for _ in range(2)
    )

    assert first.json() == again.json()
    assert ShelfDecision.objects.count() == 1


def test_a_lot_that_need_not_be_regrown_is_not_decided_of(at_bench, bean_lot):
    sent = {"lot": bean_lot.number, "decision": "withhold", "reason": "x"}

    answer = at_bench.post(DECISIONS, sent)

    assert (answer.status_code, answer.json()["code"]) == (409, "conflict")
    assert ShelfDecision.objects.count() == 0
    bean_lot.refresh_from_db()
    assert bean_lot.withheld_reason == ""


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"decision": "burn"}, "decision"),
        ({"decision": None}, "decision"),
        ({"reason": ""}, "reason"),
        ({"reason": "x" * 251}, "reason"),
        ({"lot": "nonsense"}, "lot"),
    ],
)
def test_a_decision_that_cannot_be_is_refused_at_its_field(at_bench, make_poor, sent, field):
    whole = {"lot": make_poor().number, "decision": "withhold", "reason": "too little"}

    answer = at_bench.post(DECISIONS, whole | sent)

    assert (answer.status_code, answer.json()["field"]) == (400, field)
    assert ShelfDecision.objects.count() == 0


def test_the_desk_does_not_decide(at_desk, make_poor):
    sent = {"lot": make_poor().number, "decision": "withhold", "reason": "too little"}

    assert at_desk.post(DECISIONS, sent).status_code == 404
    assert ShelfDecision.objects.count() == 0


@pytest.mark.parametrize("place", [BENCH, SOWINGS, DECISIONS])
def test_a_list_costs_the_same_with_one_row_and_with_six(
    at_bench, make_poor, make_variety, coordinator, desk, place
):
    def add():
        lot = make_poor()
        day = dt.date(2026, 5, 1)
        services.expect_sowing(lot=lot, on=day, what_for="the school garden", by=desk)
        services.plan_test(lot=lot, on=dt.date(2025, 12, 5), by=desk)
        services.decide_shelf(lot=lot, decision="withhold", reason="poor", by=coordinator)

    def count() -> tuple[int, int]:
        at_bench.get(place)
        with CaptureQueriesContext(connection) as queries:
            found = len(rows_of(at_bench.get(place)))
        return found, len(queries)

    add()
    one = count()
    for _ in range(5):
        add()
    six = count()

    assert (one[0], six[0]) == (1, 6)
    assert one[1] == six[1]
