"""The bench: what is due, counting on a phone, and a result that says how sure it is."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.formats import date_format

from library.germination import services
from library.germination.due import due_items
from library.germination.method import suggested_size
from library.germination.models import BenchRules, GerminationTest, TestDate
from library.stock import services as stock

RECEIVED = dt.date(2025, 10, 1)
START = dt.date(2025, 11, 1)
END = dt.date(2025, 11, 9)


@pytest.fixture
def today():
    with time_machine.travel(dt.datetime(2025, 12, 1, 12, tzinfo=dt.UTC), tick=False):
        yield dt.date(2025, 12, 1)


@pytest.fixture
def bean_lot(make_lot, variety):
    return make_lot(variety, seeds=2000)


@pytest.fixture
def at_desk(client, desk):
    client.force_login(desk)
    return client


def text_of(response):
    return " ".join(response.content.decode().split())


def dishes(*rows, total=None):
    """Posted formset data: each row the counts of one dish."""
    data = {"dish-TOTAL_FORMS": total or len(rows), "dish-INITIAL_FORMS": 0}
    for number, row in enumerate(rows):
        data |= {f"dish-{number}-{name}": value for name, value in row.items()}
    return data


def record(lot, desk, normal=45, seeds=50, closed_on=END):
    return services.record_test(
        lot=lot,
        replicates=[{"seeds": seeds, "normal": normal}] * 2,
        started_on=START,
        closed_on=closed_on,
        by=desk,
    )


def test_the_bench_is_the_coordinators(client, coordinator, desk, member):
    answers = []
    for person in (member, desk, coordinator):
        client.force_login(person)
        answers.append(client.get(reverse("bench")).status_code)

    assert answers == [404, 404, 200]


def test_the_bench_lists_what_is_due_soonest_first_with_what_it_costs(
    client, coordinator, make_lot, today
):
    later, sooner = make_lot(seeds=2000), make_lot(seeds=600)
    services.expect_first_test(lot=later, on=dt.date(2025, 10, 20))
    services.expect_first_test(lot=sooner, on=RECEIVED)
    far = make_lot()
    TestDate.objects.create(
        lot=far, kind="first", due_on=dt.date(2026, 9, 1), rule="first_test"
    )
    client.force_login(coordinator)

    page = client.get(reverse("bench"))

    assert [(row["lot"], row["size"].seeds) for row in page.context["due"]] == [
        (sooner, 50),
        (later, 200),
    ]


def test_a_lot_under_test_or_empty_is_not_due(client, coordinator, make_lot, desk, today):
    running, empty = make_lot(seeds=600), make_lot(seeds=600)
    for lot in (running, empty):
        services.expect_first_test(lot=lot, on=RECEIVED)
    test = services.start_test(lot=running, replicates=2, seeds_each=25, on=START, by=desk)
    stock.discard_rest(lot=empty, on=START, by=desk, reason="mould")
    client.force_login(coordinator)

    page = client.get(reverse("bench"))

    assert page.context["due"] == []
    assert list(page.context["running"]) == [test]
    assert list(due_items(until=dt.date(2030, 1, 1))) == []


def test_lots_whose_dishes_disagreed_stand_apart(client, coordinator, bean_lot, desk):
    services.record_test(
        lot=bean_lot,
        replicates=[{"seeds": 50, "normal": 48}, {"seeds": 50, "normal": 20}],
        started_on=START,
        closed_on=END,
        by=desk,
    )
    client.force_login(coordinator)

    page = client.get(reverse("bench"))

    assert [row["lot"] for row in page.context["again"]] == [bean_lot]
    assert page.context["due"] == []


def test_the_coordinator_is_reminded_two_weeks_before(bean_lot):
    services.expect_first_test(lot=bean_lot, on=RECEIVED)

    early = list(due_items(until=dt.date(2025, 12, 15)))
    (item,) = due_items(until=dt.date(2025, 12, 16))

    assert early == []
    assert (item.kind, item.subject, item.role) == (
        "first_test",
        f"stock.Lot:{bean_lot.pk}",
        "coordinator",
    )
    assert (item.due_on, item.remind_on) == (dt.date(2025, 12, 30), dt.date(2025, 12, 16))
    assert item.title == f"First test of {bean_lot.number}, Tarn Kettle"


@pytest.mark.parametrize(
    ("seeds", "size"),
    [
        (5000, (4, 50)),
        (1999, (4, 25)),
        (999, (2, 25)),
        (499, (2, 10)),
        (150, (1, 10)),
        (4, (1, 4)),
    ],
)
def test_a_test_spends_at_most_a_tenth_of_what_is_left(make_lot, seeds, size):
    suggestion = suggested_size(make_lot(seeds=seeds))

    assert (suggestion.replicates, suggestion.seeds_each) == size


def test_a_test_is_started_counted_and_closed_by_the_desk(at_desk, bean_lot):
    page = at_desk.get(reverse("test-start", args=[bean_lot.number]))
    asked = {"replicates": "2", "seeds_each": "50", "on": "2025-11-01"}
    started = at_desk.post(reverse("test-start", args=[bean_lot.number]), asked)
    test = GerminationTest.objects.get()
    counting = at_desk.get(reverse("test-count", args=[test.pk]))
    closed = at_desk.post(
        reverse("test-count", args=[test.pk]),
        dishes({"normal": "46", "dead": "4"}, {"normal": "44"}) | {"on": "2025-11-09"},
    )

    test.refresh_from_db()
    assert page.context["form"].initial["temperature_c"] == "20-30 alternating; 25"
    assert started.url == closed.url == reverse("test", args=[test.pk])
    assert len(counting.context["dishes"].forms) == 2
    assert test.state == "closed"
    assert "90 % germinated" in text_of(at_desk.get(closed.url))


def test_a_whole_test_is_recorded_at_once(at_desk, bean_lot):
    address = reverse("test-record", args=[bean_lot.number])
    days = {"started_on": "2025-11-01", "closed_on": "2025-11-09"}
    four = at_desk.get(address, {"dishes": "4"})

    answer = at_desk.post(
        address, dishes({"seeds": "25", "normal": "20"}, {"seeds": "25", "normal": "22"}) | days
    )

    test = GerminationTest.objects.get()
    bean_lot.refresh_from_db()
    assert len(four.context["dishes"].forms) == 4
    assert answer.url == reverse("test", args=[test.pk])
    assert (test.replicates.count(), bean_lot.loose) == (2, 1950)


@pytest.mark.parametrize(
    ("rows", "status", "sentence"),
    [
        (
            [{"seeds": "25", "normal": "26"}],
            400,
            "Dish 1 was sown with 25, but 26 were counted.",
        ),
        ([{"seeds": "25", "normal": "-1"}], 400, "-1 is out of range"),
        ([{"seeds": "25", "normal": "2.5"}], 400, "Enter a whole number."),
        ([{"seeds": "25", "normal": ""}], 400, "This field is required."),
        ([{"seeds": "0", "normal": "0"}], 400, "0 is out of range"),
        ([{"seeds": "1000", "normal": "9"}] * 3, 409, "3000 could not be taken."),
    ],
)
def test_counts_that_cannot_be_are_said_and_not_written(
    at_desk, bean_lot, rows, status, sentence
):
    days = {"started_on": "2025-11-01", "closed_on": "2025-11-09"}

    answer = at_desk.post(reverse("test-record", args=[bean_lot.number]), dishes(*rows) | days)

    assert answer.status_code == status
    assert sentence in text_of(answer)
    assert GerminationTest.objects.count() == 0


def test_more_than_eight_dishes_are_refused(at_desk, bean_lot):
    days = {"started_on": "2025-11-01", "closed_on": "2025-11-09"}
    rows = [{"seeds": "10", "normal": "9"}] * 9

    answer = at_desk.post(reverse("test-record", args=[bean_lot.number]), dishes(*rows) | days)

    assert answer.status_code == 400
    assert GerminationTest.objects.count() == 0


def test_counting_a_closed_test_is_a_conflict(at_desk, bean_lot, desk):
    test = record(bean_lot, desk)

    answer = at_desk.post(
        reverse("test-count", args=[test.pk]),
        dishes({"normal": "1"}, {"normal": "1"}) | {"on": "2025-11-09"},
    )

    assert answer.status_code == 409
    assert answer.context["form"].non_field_errors() == [
        f"Test {test.pk} is closed, not running."
    ]


def test_a_test_is_set_aside_with_a_reason(at_desk, bean_lot, desk):
    test = record(bean_lot, desk)

    at_desk.post(reverse("test-void", args=[test.pk]), {"reason": "mixed up"})

    test.refresh_from_db()
    assert (test.state, test.void_reason) == ("void", "mixed up")
    assert "mixed up" in text_of(at_desk.get(reverse("test", args=[test.pk])))


def test_everyone_reads_a_result_and_only_the_desk_who_recorded_it(client, bean_lot, desk):
    test = services.record_test(
        lot=bean_lot,
        replicates=[{"seeds": 50, "normal": 45}],
        started_on=START,
        closed_on=END,
        note="by the window",
        by=desk,
    )
    address = reverse("test", args=[test.pk])

    seen = text_of(client.get(address))
    client.force_login(desk)
    full = text_of(client.get(address))

    assert "90 % germinated" in seen
    assert ("heron" in seen, "by the window" in seen) == (False, False)
    assert "by the window" in full


def test_the_lot_page_says_when_it_is_tested_again_and_why(client, bean_lot, desk):
    record(bean_lot, desk)

    page = text_of(client.get(bean_lot.get_absolute_url()))

    day = date_format(TestDate.objects.get(lot=bean_lot).due_on)
    assert f"To be tested again by {day}." in page
    assert "it is tested again after a third of that." in page
    assert "FAO Genebank Standards 2014, 4.3.3" in page


def test_the_page_of_a_method_says_where_it_is_from_and_that_test_seed_is_not_food(
    at_desk, bean_lot
):
    page = text_of(at_desk.get(reverse("test-start", args=[bean_lot.number])))

    assert "7 CFR 201.58" in page
    assert "Test seed is not food" in page


def test_only_a_coordinator_changes_the_rules(client, coordinator, desk):
    rules = {"standard_percent": "80", "first_test_within_days": "60"}
    client.force_login(desk)
    assert client.post(reverse("bench-rules"), rules).status_code == 404
    client.force_login(coordinator)

    wrong = client.post(reverse("bench-rules"), rules | {"standard_percent": "101"})
    client.post(reverse("bench-rules"), rules)

    kept = BenchRules.current()
    assert wrong.context["form"].errors == {
        "standard_percent": ["101 is out of range: give a whole number from 1 to 99."]
    }
    assert (kept.standard_percent, kept.hold_until_tested) == (80, False)


@pytest.mark.parametrize("name", ["test-start", "test-record"])
def test_a_member_records_no_test(client, member, bean_lot, name):
    client.force_login(member)

    assert client.get(reverse(name, args=[bean_lot.number])).status_code == 404


def queries_for(client, address):
    client.get(address)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def test_the_bench_costs_the_same_with_one_row_of_each_kind_and_with_six(
    client, coordinator, make_lot, variety, desk
):
    def fill():
        services.expect_first_test(lot=make_lot(variety), on=RECEIVED)
        services.start_test(
            lot=make_lot(variety), replicates=2, seeds_each=10, on=START, by=desk
        )
        services.record_test(
            lot=make_lot(variety),
            replicates=[{"seeds": 50, "normal": 48}, {"seeds": 50, "normal": 20}],
            started_on=START,
            closed_on=END,
            by=desk,
        )

    client.force_login(coordinator)
    fill()
    one = queries_for(client, reverse("bench"))
    for _ in range(5):
        fill()

    assert queries_for(client, reverse("bench")) == one


def test_a_lot_page_costs_the_same_with_one_test_and_with_six(client, bean_lot, desk):
    record(bean_lot, desk)
    one = queries_for(client, bean_lot.get_absolute_url())
    for _ in range(5):
        record(bean_lot, desk)

    assert queries_for(client, bean_lot.get_absolute_url()) == one


def test_the_form_that_starts_a_test_posts(client, make_lot, desk):
    client.force_login(desk)

    page = client.get(reverse("test-start", args=[make_lot().number])).content.decode()

    assert '<form method="post" novalidate>' in page
    assert 'method="[' not in page
