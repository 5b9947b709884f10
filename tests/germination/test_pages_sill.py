"""At the window sill: each dish's counts of a day are saved at once, or it is said why not."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from library.germination import services
from library.germination.few_seeds import SoFar
from library.germination.models import DayCount, Replicate
from library.germination.words import few_seeds_said
from library.science.sequential import Outcome, Verdict

pytestmark = pytest.mark.usefixtures("today")

BY_HTMX = {"HX-Request": "true"}


@pytest.fixture
def save(as_desk):
    """``save(test, 1, on="2025-12-01", normal=3)`` sends the fields of dish 1."""

    def send(test, number, *, htmx=False, **fields):
        address = reverse("test-dish", args=[test.pk, number])
        sent = {"on": "2025-12-01", "normal": "0", "abnormal": "0", "dead": "0"} | fields
        return as_desk.post(address, sent, headers=BY_HTMX if htmx else {})

    return send


def day_counts(test):
    rows = DayCount.objects.filter(replicate__test=test).order_by("replicate__number", "on")
    return [
        (count.replicate.number, count.on.isoformat(), count.normal, count.abnormal, count.dead)
        for count in rows
    ]


def test_a_saved_dish_says_so_to_the_eye_and_to_the_ear(save, running, text_of):
    answer = save(running, 1, htmx=True, normal="12", dead="1")

    words = text_of(answer)
    assert answer.status_code == 200
    assert day_counts(running) == [(1, "2025-12-01", 12, 0, 1)]
    assert 'data-announce="Saved. Dish 1: 12 normal, 0 abnormal, 1 dead."' in words
    assert "13 of 25 taken out, 12 left in the dish" in words
    assert "Saved at" in words
    assert "<html" not in words


def test_saving_twice_what_a_day_says_counts_it_once(save, running):
    save(running, 1, htmx=True, normal="12")
    save(running, 1, htmx=True, normal="12")

    assert day_counts(running) == [(1, "2025-12-01", 12, 0, 0)]
    assert running.replicates.get(number=1).normal == 12


def test_the_days_of_a_dish_are_kept_apart_and_add_up(save, running, as_desk, text_of):
    save(running, 1, on="2025-11-29", normal="8", abnormal="1")
    save(running, 1, on="2025-12-01", normal="3")

    page = as_desk.get(reverse("test-count", args=[running.pk]))

    assert running.replicates.get(number=1).normal == 11
    (first, form), _second = page.context["rows"]
    assert form.initial["normal"] == 3
    assert [count.on.isoformat() for count in first.others] == ["2025-11-29"]
    assert "8 normal, 1 abnormal, 0 dead" in text_of(page)


def test_without_a_script_saving_leads_back_to_the_dish(save, running, as_desk, text_of):
    answer = save(running, 2, normal="7")

    assert answer.url == reverse("test-count", args=[running.pk]) + "#dish-2"
    assert "Dish 2 is saved." in text_of(as_desk.get(answer.url))


def test_without_a_script_another_day_stays_chosen(save, running):
    answer = save(running, 2, on="2025-11-29", normal="7")

    assert answer.url == f"{reverse('test-count', args=[running.pk])}?on=2025-11-29#dish-2"


def test_a_field_left_empty_is_none(save, running):
    save(running, 1, normal="4", abnormal="", dead="")

    assert day_counts(running) == [(1, "2025-12-01", 4, 0, 0)]


WRONG = [
    ({"normal": "26"}, "Dish 1 was sown with 25, but 26 were counted."),
    ({"normal": "-1"}, "-1 is out of range: give a whole number from 0 to 1000."),
    ({"normal": "2.5"}, "Enter a whole number."),
    ({"on": "2025-11-23"}, "is too early"),
    ({"on": "2025-12-09"}, "is still to come"),
    ({"on": "soon"}, "Enter a valid date."),
]


@pytest.mark.parametrize(("fields", "sentence"), WRONG)
@pytest.mark.parametrize("htmx", [True, False], ids=["htmx", "plain"])
def test_counts_that_cannot_be_are_not_saved_and_it_is_said(
    save, running, text_of, htmx, fields, sentence
):
    answer = save(running, 1, htmx=htmx, **fields)

    assert answer.status_code == 400
    assert sentence in text_of(answer)
    assert day_counts(running) == []


def test_what_was_not_saved_is_still_in_its_field(save, running):
    answer = save(running, 2, normal="26")

    _first, (_second, form) = answer.context["rows"]
    assert form["normal"].value() == "26"


def test_a_dish_of_a_closed_test_is_a_conflict(save, running, desk, text_of):
    counts = [{"normal": 20}, {"normal": 21}]
    services.close_test(test=running, replicates=counts, on=dt.date(2025, 12, 1), by=desk)

    answer = save(running, 1, htmx=True, normal="1")

    assert answer.status_code == 409
    assert f"Test {running.pk} is closed, not running." in text_of(answer)


def test_who_is_signed_out_is_told_so_and_not_shown_a_form_inside_the_dish(client, running):
    address = reverse("test-dish", args=[running.pk, 1])

    by_script = client.post(address, {"normal": "1"}, headers=BY_HTMX)
    plain = client.post(address, {"normal": "1"})

    assert (by_script.status_code, plain.status_code) == (401, 302)


def test_a_dish_that_is_not_there_is_not_found(save, running):
    assert save(running, 3).status_code == 404


def test_the_page_of_a_test_that_is_over_leads_to_its_result(as_desk, running, desk):
    counts = [{"normal": 20}, {"normal": 21}]
    services.close_test(test=running, replicates=counts, on=dt.date(2025, 12, 1), by=desk)

    answer = as_desk.get(reverse("test-count", args=[running.pk]))

    assert answer.url == reverse("test", args=[running.pk])


@pytest.mark.parametrize("on", ["2025-02-30", "yesterday", ""])
def test_a_day_that_is_none_is_today(as_desk, running, today, on):
    page = as_desk.get(reverse("test-count", args=[running.pk]), {"on": on})

    assert page.context["day"] == today


def test_another_day_is_pointed_out(as_desk, running, text_of):
    page = as_desk.get(reverse("test-count", args=[running.pk]), {"on": "2025-11-29"})

    assert "These are the counts of 29 November 2025, not of today." in text_of(page)


def test_the_page_says_how_many_days_are_left_and_the_special_handling(
    as_desk, running, text_of
):
    page = text_of(as_desk.get(reverse("test-count", args=[running.pk])))

    # 7 CFR 201.58, Table 2, "Bean, garden": no first count, the final one after 8 days.
    assert "Final count tomorrow, on 2 December 2025." in page
    assert "if hypocotyl collar rot is seen" in page
    assert "Test seed is not food" in page


def test_few_seeds_say_when_it_is_certain_already(save, few, text_of):
    """Wald 1945: below at a log likelihood ratio of -ln(0.9 / 0.1) = -2.20.

    Good is 77.5 %, poor 62.5 %: a seedling adds ln(77.5 / 62.5) = 0.215, a dead seed takes
    ln(37.5 / 22.5) = 0.511. Two alive and four dead of ten end between -3.66 and -0.75; one
    alive and nine dead are at -4.38.
    """
    open_still = text_of(save(few, 1, htmx=True, normal="2", dead="4"))
    certain = text_of(save(few, 1, htmx=True, normal="1", dead="9"))

    assert "What the 4 not yet counted do will decide." in open_still
    assert 'hx-swap-oob="true"' in open_still
    assert "1 of 10 seeds germinated. Below the standard." in certain


@pytest.mark.parametrize(
    ("outcome", "left", "words"),
    [
        (None, 1, "The last one, not counted yet, will decide."),
        (None, 3, "What the 3 not yet counted do will decide."),
        ("above", 1, "Already certain: above the standard, even if the last one dies."),
        ("above", 3, "Already certain: above the standard, even if all 3 left die."),
        ("below", 3, "Already certain: below the standard, even if all 3 left germinate."),
        ("sow_more", 1, "Whatever the last one does, another 10 are sown after it."),
        ("sow_more", 0, "Not decided: sow another 10, at most 50 in all."),
        ("above", 0, "Above the standard."),
        ("below", 0, "Below the standard."),
    ],
)
def test_each_thing_that_few_seeds_can_say_has_its_words(outcome, left, words):
    verdict = outcome and Verdict(outcome=Outcome(outcome), sow_next=10)

    said = few_seeds_said(SoFar(sown=20, normal=14, left=left, most=50, verdict=verdict))

    assert said == f"14 of 20 seeds germinated. {words}"


def test_seeds_that_ran_out_say_that_it_is_less_sure():
    verdict = Verdict(outcome=Outcome.ABOVE, cut_off=True)

    said = few_seeds_said(SoFar(sown=50, normal=36, left=0, most=50, verdict=verdict))

    assert said.endswith(
        "The seeds that may be spent ran out: rather above the standard than below."
    )


def test_the_sill_shows_what_is_to_be_counted_today_first(as_desk, make_lot, desk, today):
    def start(days_ago):
        return services.start_test(
            lot=make_lot(),
            replicates=1,
            seeds_each=10,
            on=today - dt.timedelta(days_ago),
            by=desk,
        )

    # 7 CFR 201.58, Table 2: tomatoes are counted first after 5 days and last after 14.
    fresh, first, last = start(1), start(6), start(20)
    planned = services.plan_test(lot=make_lot(), on=today, by=desk)
    later = services.plan_test(lot=make_lot(), on=today + dt.timedelta(3), by=desk)

    page = as_desk.get(reverse("window-sill"))

    assert [row["test"] for row in page.context["due"]] == [last, first]
    assert [row["test"] for row in page.context["rest"]] == [fresh]
    assert list(page.context["planned"]) == [planned]
    assert later.state == "planned"


def test_a_finished_group_that_decided_nothing_asks_for_the_next_one(
    as_desk, few, desk, today, text_of
):
    services.count_dish(dish=few.replicates.get(), on=today, by=desk, normal=7)
    services.finish_group(test=few, on=today, by=desk)

    page = as_desk.get(reverse("window-sill"))

    assert [row["test"] for row in page.context["due"]] == [few]
    assert "Group finished: sow another" in text_of(page)


def test_after_the_first_count_the_last_one_comes_next(as_desk, make_lot, desk, today):
    test = services.start_test(
        lot=make_lot(), replicates=1, seeds_each=10, on=today - dt.timedelta(6), by=desk
    )
    services.count_dish(dish=test.replicates.get(), on=today, by=desk, normal=4)

    (row,) = as_desk.get(reverse("window-sill")).context["rest"]

    assert row["next"] == "Final count in 8 days, on 9 December 2025"
    assert row["counted_today"]


def queries_for(client, address):
    client.get(address)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def test_the_sill_costs_the_same_with_one_test_and_with_six(as_desk, make_lot, desk, today):
    def fill():
        test = services.start_test(
            lot=make_lot(), replicates=2, seeds_each=10, on=today - dt.timedelta(6), by=desk
        )
        services.count_dish(dish=test.replicates.first(), on=today, by=desk, normal=4)
        services.plan_test(lot=make_lot(), on=today, by=desk)

    fill()
    one = queries_for(as_desk, reverse("window-sill"))
    for _ in range(5):
        fill()

    assert queries_for(as_desk, reverse("window-sill")) == one


def test_counting_costs_the_same_with_one_dish_and_with_six(
    as_desk, bean_lot, variety, make_lot, desk, today
):
    def laid_out(dishes):
        test = services.start_test(
            lot=bean_lot, replicates=dishes, seeds_each=10, on=dt.date(2025, 11, 24), by=desk
        )
        for dish in Replicate.objects.filter(test=test):
            for day in (29, 30):
                services.count_dish(dish=dish, on=dt.date(2025, 11, day), by=desk, normal=2)
        return reverse("test-count", args=[test.pk])

    assert queries_for(as_desk, laid_out(1)) == queries_for(as_desk, laid_out(6))
