"""What a test says, how few seeds decide, and what was corrected."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from library.germination import services
from library.germination.models import TestAmendment

pytestmark = pytest.mark.usefixtures("today")

START, END = dt.date(2025, 11, 1), dt.date(2025, 11, 9)


@pytest.fixture
def record(bean_lot, desk):
    """``record(45, 44)``: a closed test of dishes of fifty beans."""

    def write(*normal, **facts):
        return services.record_test(
            lot=bean_lot,
            replicates=[{"seeds": 50, "normal": n} for n in normal],
            started_on=START,
            closed_on=END,
            by=desk,
            **facts,
        )

    return write


@pytest.fixture
def read(as_desk, text_of):
    """``read(test)``: the words of its page, as the desk sees it."""
    return lambda test: text_of(as_desk.get(reverse("test", args=[test.pk])))


def test_closing_starts_from_what_was_counted_and_the_rest_is_dead(as_desk, running, desk):
    first = running.replicates.get(number=1)
    services.count_dish(dish=first, on=dt.date(2025, 11, 28), by=desk, normal=18, abnormal=2)

    page = as_desk.get(reverse("test-close", args=[running.pk]))

    assert [form.initial for form in page.context["dishes"].forms] == [
        {"normal": 18, "abnormal": 2, "hard": 0, "fresh": 0, "dead": 5},
        {"normal": 0, "abnormal": 0, "hard": 0, "fresh": 0, "dead": 25},
    ]


def test_a_test_is_closed_with_its_last_counts(as_desk, running, dishes, read):
    rows = dishes({"normal": "23", "hard": "1"}, {"normal": "22", "dead": "3"})

    answer = as_desk.post(reverse("test-close", args=[running.pk]), rows | {"on": "2025-12-01"})

    running.refresh_from_db()
    assert answer.url == reverse("test", args=[running.pk])
    assert [dish.dead for dish in running.replicates.all()] == [1, 3]
    assert "90 % germinated" in read(running)


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        (
            [{"normal": "23", "dead": "4"}, {"normal": "1"}],
            "Dish 1 was sown with 25, but 27 were counted.",
        ),
        ([{"normal": "20", "dead": "4"}, {"normal": "1"}], "its counts add up to 24"),
        ([{"normal": ""}, {"normal": "1"}], "This field is required."),
        ([{"normal": "2"}, {"normal": "-1"}], "-1 is out of range"),
        ([{"normal": "2"}], "The test has 2 dishes, and 1 were counted."),
    ],
)
def test_last_counts_that_cannot_be_are_said_and_the_test_goes_on(
    as_desk, running, dishes, text_of, rows, sentence
):
    answer = as_desk.post(
        reverse("test-close", args=[running.pk]), dishes(*rows) | {"on": "2025-12-01"}
    )

    running.refresh_from_db()
    assert answer.status_code == 400
    assert sentence in text_of(answer)
    assert running.state == "running"


def test_closing_a_closed_test_is_a_conflict(as_desk, record, dishes):
    test = record(45, 44)

    answer = as_desk.post(
        reverse("test-close", args=[test.pk]),
        dishes({"normal": "1"}, {"normal": "1"}) | {"on": "2025-11-09"},
    )

    assert answer.status_code == 409
    assert answer.context["form"].non_field_errors() == [
        f"Test {test.pk} is closed, not running."
    ]


def test_a_result_has_its_exact_interval_and_what_it_is_held_against(record, read):
    page = read(record(45, 44))

    # Clopper and Pearson's interval of 89 in 100, as scipy.stats.binomtest gives it.
    assert "89 of 100. In the whole lot surely between 81 % and 94 %." in page
    assert "Reaches the library's 70 %" in page
    # 7 CFR 201.31: garden beans.
    assert "Reaches the minimum of 70 %" in page
    assert "The dishes agree" in page


def test_few_seeds_are_finished_and_sown_again_until_they_decide(as_desk, few, text_of, read):
    """Wald 1945: above at ln 9 = 2.20; 8 of 10 are at 8 x 0.215 - 2 x 0.511 = 0.70, and 19 of
    20 at 19 x 0.215 - 0.511 = 3.58.
    """
    services.count_dish(
        dish=few.replicates.get(), on=dt.date(2025, 11, 30), by=few.recorded_by, normal=8
    )
    as_desk.post(
        reverse("test-finish", args=[few.pk]), {"on": "2025-11-30", "hard": "0", "fresh": "0"}
    )
    undecided = read(few)
    as_desk.post(reverse("test-sow-more", args=[few.pk]), {"on": "2025-11-30"})
    second = few.replicates.get(number=2)
    services.count_dish(dish=second, on=dt.date(2025, 12, 1), by=few.recorded_by, normal=10)
    certain = text_of(as_desk.get(reverse("test-finish", args=[few.pk])))
    as_desk.post(
        reverse("test-finish", args=[few.pk]), {"on": "2025-12-01", "hard": "0", "fresh": "0"}
    )

    few.refresh_from_db()
    few.lot.refresh_from_db()
    assert "8 of 10 seeds germinated. Not decided: sow another 10, at most 50 in all." in (
        undecided
    )
    assert "Sow another 10</button>" in undecided
    assert "18 of 20 seeds germinated. Above the standard." in certain
    assert (few.state, few.verdict, few.lot.balance) == ("closed", "above", 480)
    assert "18 of 20 seeds germinated. Above the standard." in read(few)


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"hard": "11"}, "Dish 1 was sown with 10, but 11 were counted."),
        ({"hard": "x"}, "Enter a whole number."),
        ({"hard": "-1"}, "-1 is out of range"),
        ({"on": "2025-11-01"}, "is too early"),
    ],
)
def test_a_group_that_cannot_be_finished_so_is_said(as_desk, few, text_of, fields, sentence):
    sent = {"on": "2025-12-01", "hard": "0", "fresh": "0"} | fields

    answer = as_desk.post(reverse("test-finish", args=[few.pk]), sent)

    few.refresh_from_db()
    assert answer.status_code == 400
    assert sentence in text_of(answer)
    assert few.replicates.get().counted_on is None


def test_few_seeds_may_stop_before_they_decide(as_desk, few, desk, dishes, read):
    day = dt.date(2025, 12, 1)
    services.count_dish(dish=few.replicates.get(), on=day, by=desk, normal=7)
    services.finish_group(test=few, on=day, by=desk)

    as_desk.post(reverse("test-close", args=[few.pk]), dishes() | {"on": "2025-12-01"})

    few.refresh_from_db()
    assert (few.state, few.verdict) == ("closed", "")
    assert "70 % germinated" in read(few)


def test_a_group_still_being_counted_comes_before_the_next(as_desk, few, text_of):
    answer = as_desk.post(reverse("test-sow-more", args=[few.pk]), {"on": "2025-12-01"})

    assert answer.status_code == 409
    assert "Group 1 is still being counted; finish it first." in text_of(answer)
    assert few.replicates.count() == 1


def test_an_amendment_says_what_was_when_why_and_to_the_desk_by_whom(
    as_desk, client, record, dishes, text_of, member
):
    test = record(45, 44)
    rows = dishes({"normal": "43", "dead": "7"}, {"normal": "44", "dead": "6"})
    days = {"started_on": "2025-11-02", "closed_on": "2025-11-09"}

    answer = as_desk.post(
        reverse("test-amend", args=[test.pk]), rows | days | {"reason": "two were abnormal"}
    )
    for_desk = text_of(as_desk.get(answer.url))
    client.force_login(member)
    for_member = text_of(client.get(answer.url))

    assert TestAmendment.objects.count() == 2
    assert "87 % germinated" in for_desk
    assert "<del>normal 45, dead 5</del> → <ins>normal 43, dead 7</ins>" in for_desk
    assert "<del>1 November 2025</del> → <ins>2 November 2025</ins>" in for_desk
    assert "two were abnormal (heron)" in for_desk
    assert "two were abnormal" in for_member
    assert "heron" not in for_member


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"reason": ""}, "This field is required."),
        ({}, "That is what is recorded already."),
        ({"dish-0-normal": "51"}, "Dish 1 was sown with 50, but"),
        ({"dish-0-normal": "many"}, "Enter a whole number."),
        ({"closed_on": "2025-10-30"}, "is too early"),
    ],
)
def test_an_amendment_that_cannot_be_is_said_and_not_made(
    as_desk, record, dishes, text_of, fields, sentence
):
    test = record(45, 44)
    rows = dishes({"normal": "45", "dead": "5"}, {"normal": "44", "dead": "6"})
    facts = {"started_on": "2025-11-01", "closed_on": "2025-11-09", "reason": "a slip"}

    answer = as_desk.post(reverse("test-amend", args=[test.pk]), rows | facts | fields)

    assert answer.status_code == 400
    assert sentence in text_of(answer)
    assert TestAmendment.objects.count() == 0


def test_a_test_is_set_aside_with_a_reason(as_desk, record, read):
    test = record(45, 44)

    as_desk.post(reverse("test-void", args=[test.pk]), {"reason": "mixed up"})

    test.refresh_from_db()
    assert (test.state, test.void_reason) == ("void", "mixed up")
    assert "mixed up" in read(test)


def test_everyone_reads_a_result_and_only_the_desk_who_recorded_it(
    client, record, desk, text_of
):
    test = record(45, note="by the window")
    address = reverse("test", args=[test.pk])

    seen = text_of(client.get(address))
    client.force_login(desk)
    full = text_of(client.get(address))

    assert "90 % germinated" in seen
    assert ("heron" in seen, "by the window" in seen) == (False, False)
    assert "by the window" in full


def test_the_counts_of_each_day_stand_in_a_table(read, running, desk):
    for number, normal in ((1, 12), (2, 9)):
        services.count_dish(
            dish=running.replicates.get(number=number),
            on=dt.date(2025, 11, 29),
            by=desk,
            normal=normal,
        )

    page = read(running)

    assert "Counted by day" in page
    assert '<th scope="rowgroup" rowspan="2" class="nowrap">29 Nov 2025</th>' in page
