"""Planning a test: from what is published, for what it costs, alone or many at once."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from library.germination import services
from library.germination.models import BenchRules, GerminationTest
from library.stock.models import Lot

pytestmark = pytest.mark.usefixtures("today")

FIXED = {"replicates": "2", "seeds_each": "50", "on": "2025-12-01"}


@pytest.fixture
def ask(as_desk, bean_lot):
    """``ask(kind="sequential", how="plan", on=…)`` sends the form about the beans."""

    def send(*, kind="fixed", **fields):
        address = reverse("test-start", args=[bean_lot.number])
        return as_desk.post(f"{address}?kind={kind}", fields)

    return send


def test_the_form_is_filled_from_what_is_published_and_says_by_whom(as_desk, bean_lot, text_of):
    page = as_desk.get(reverse("test-start", args=[bean_lot.number]))

    form = page.context["form"]
    assert (form.initial["replicates"], form.initial["seeds_each"]) == (4, 50)
    assert form.initial["temperature_c"] == "20-30 alternating; 25"
    assert "final count only" in form.initial["directions"]
    assert '7 CFR 201.58 Table 2, kind "Bean, garden"' in form.fields["temperature_c"].help_text
    assert "Test seed is not food" in text_of(page)


def test_how_it_is_tested_is_german_for_who_asks_and_kept_as_published(as_desk, running):
    running.substrate = "between blotters; paper towel; in sand or soil"
    running.directions = "our own way: on the stove"
    running.save()

    page = as_desk.get(
        reverse("test", args=[running.pk]), headers={"Accept-Language": "de"}
    ).content.decode()

    assert "zwischen Filterpapier; Papiertuch; in Sand oder Erde" in page
    assert "between blotters; paper towel; in sand or soil" not in page
    assert "our own way: on the stove" in page
    running.refresh_from_db()
    assert running.substrate.startswith("between blotters")


def test_a_figure_from_memory_is_said_to_be(as_desk, make_lot, make_variety):
    lot = make_lot(make_variety(crop="basil"))

    form = as_desk.get(reverse("test-start", args=[lot.number])).context["form"]

    assert form.fields["temperature_c"].help_text.endswith("; from memory")


def test_what_it_costs_of_the_lot_is_said_before(as_desk, bean_lot, text_of):
    page = text_of(as_desk.get(reverse("test-start", args=[bean_lot.number])))

    assert "200 of the 2,000 that are left: 10 %." in page


@pytest.mark.parametrize(
    ("size", "words", "warning"),
    [
        ({"replicates": "2", "seeds_each": "25"}, "50 of the 2,000 that are left: 2 %.", ""),
        (
            {"replicates": "8", "seeds_each": "50"},
            "400 of the 2,000 that are left: 20 %.",
            "That is more than the 10 % that the rules of the bench want a test to cost.",
        ),
        (
            {"replicates": "8", "seeds_each": "900"},
            "7,200 of the 2,000 that are left: 360 %.",
            "The lot has not so many left.",
        ),
        ({"replicates": "", "seeds_each": "25"}, "", ""),
        ({"replicates": "x", "seeds_each": "25"}, "", ""),
        ({"replicates": "9" * 99, "seeds_each": "25"}, "", ""),
    ],
)
def test_while_a_size_is_typed_its_cost_follows(
    as_desk, bean_lot, text_of, size, words, warning
):
    address = reverse("test-start", args=[bean_lot.number])

    answer = text_of(as_desk.get(address, size, headers={"HX-Request": "true"}))

    assert (words in answer, warning in answer) == (True, True)
    assert ("warning" in answer) == bool(warning)
    assert "<html" not in answer


def test_a_small_lot_is_shown_the_test_with_few_seeds(as_desk, bean_lot, make_lot, text_of):
    words = "may answer with less: the lot is rare, or small."

    small = text_of(as_desk.get(reverse("test-start", args=[make_lot(seeds=300).number])))
    large = text_of(as_desk.get(reverse("test-start", args=[bean_lot.number])))

    assert words in small
    assert words not in large


def test_few_seeds_say_what_they_cost_and_risk_in_plain_words(as_desk, bean_lot, text_of):
    address = reverse("test-start", args=[bean_lot.number])

    page = text_of(as_desk.get(f"{address}?kind=sequential"))

    assert "10 at a time, each group counted before the next is sown" in page
    assert "never more than 200 of the 2,000 that are left." in page
    assert "of 100 lots of which 77.5 in 100 germinate, about 7 are called below" in page
    assert "A test of one size with the risks that the rules of the bench allow takes" in page
    assert "Wald 1945" in page


def test_a_lot_too_small_for_few_seeds_is_told_so(as_desk, make_lot, text_of):
    lot = make_lot(seeds=60)
    address = f"{reverse('test-start', args=[lot.number])}?kind=sequential"

    page = text_of(as_desk.get(address))
    answer = as_desk.post(address, {"on": "2025-12-01", "how": "start"})

    assert "One group of seeds would be more of this lot than a test may cost." in page
    assert answer.status_code == 400
    assert "One group of 10 is more than 10 % of the 60 that lot" in text_of(answer)
    assert GerminationTest.objects.count() == 0


def test_starting_draws_the_seed_now(ask, bean_lot, as_desk, text_of):
    answer = ask(**FIXED, how="start", substrate="sand")

    test = GerminationTest.objects.get()
    bean_lot.refresh_from_db()
    assert answer.url == reverse("test", args=[test.pk])
    assert (test.state, test.substrate, bean_lot.balance) == ("running", "sand", 1900)
    assert "Write the test's number on the dishes." in text_of(as_desk.get(answer.url))


def test_planning_draws_nothing_until_it_is_laid_out(ask, as_desk, bean_lot, text_of):
    ask(**FIXED | {"on": "2025-12-20"}, how="plan")
    test = GerminationTest.objects.get()
    planned = text_of(as_desk.get(reverse("test", args=[test.pk])))
    untouched = Lot.objects.get(pk=bean_lot.pk).balance

    as_desk.post(reverse("test-begin", args=[test.pk]), {"on": "2025-12-01"})

    test.refresh_from_db()
    bean_lot.refresh_from_db()
    assert "Planned for 20 December 2025." in planned
    assert (untouched, bean_lot.balance) == (2000, 1900)
    assert (test.state, test.started_on) == ("running", dt.date(2025, 12, 1))


def test_few_seeds_are_planned_with_the_rules_of_the_bench(ask):
    ask(kind="sequential", on="2025-12-20", how="plan")

    test = GerminationTest.objects.get()
    assert (test.kind, test.group_seeds, test.most_seeds) == ("sequential", 10, 200)


@pytest.mark.parametrize(
    ("fields", "status", "sentence"),
    [
        ({"replicates": "9"}, 400, "9 is out of range: give a whole number from 1 to 8."),
        ({"replicates": "0"}, 400, "0 is out of range"),
        ({"replicates": ""}, 400, "This field is required."),
        ({"seeds_each": "2.5"}, 400, "Enter a whole number."),
        ({"replicates": "3", "seeds_each": "1000"}, 409, "the test would need 3000"),
        ({"on": "2026-12-01"}, 400, "is still to come"),
        ({"on": "2025-09-30"}, 400, "is too early"),
        ({"on": "sometime"}, 400, "Enter a valid date."),
        ({"substrate": "x" * 81}, 400, "Ensure this value has at most 80 characters"),
    ],
)
def test_a_test_that_cannot_be_started_is_said_and_nothing_is_drawn(
    ask, bean_lot, text_of, fields, status, sentence
):
    answer = ask(**FIXED | fields, how="start")

    bean_lot.refresh_from_db()
    assert answer.status_code == status
    assert sentence in text_of(answer)
    assert (GerminationTest.objects.count(), bean_lot.balance) == (0, 2000)


def test_the_lots_ticked_on_the_bench_are_planned_together(
    as_coordinator, make_lot, coordinator, text_of
):
    lots = [make_lot(seeds=2000), make_lot(seeds=600)]
    ticked = {"lot": [lot.number for lot in lots]}

    page = as_coordinator.get(reverse("bench-plan"), ticked)
    answer = as_coordinator.post(reverse("bench-plan"), ticked | {"on": "2025-12-06"})

    planned = GerminationTest.objects.planned().order_by("lot_id")
    assert "2 lots, 250 seeds as suggested" in text_of(page)
    assert answer.url == reverse("bench")
    assert [(test.lot, test.started_on) for test in planned] == [
        (lot, dt.date(2025, 12, 6)) for lot in lots
    ]
    assert "2 tests are planned." in text_of(as_coordinator.get(answer.url))


def test_of_lots_planned_together_one_that_is_tested_already_stops_all(
    as_coordinator, make_lot, coordinator, text_of
):
    free, taken = make_lot(), make_lot()
    test = services.plan_test(lot=taken, on=dt.date(2025, 12, 3), by=coordinator)

    answer = as_coordinator.post(
        reverse("bench-plan"), {"lot": [free.number, taken.number], "on": "2025-12-06"}
    )

    assert answer.status_code == 409
    assert f"Of lot {taken.number} test {test.pk} is planned already; leave it out." in (
        text_of(answer)
    )
    assert list(GerminationTest.objects.all()) == [test]


@pytest.mark.parametrize("on", ["", "2035-01-01", "2025-09-01"])
def test_lots_cannot_be_planned_for_a_day_that_is_none(as_coordinator, make_lot, on):
    answer = as_coordinator.post(reverse("bench-plan"), {"lot": [make_lot().number], "on": on})

    assert answer.status_code == 400
    assert list(answer.context["form"].errors) == ["on"]
    assert GerminationTest.objects.count() == 0


@pytest.mark.parametrize("ticked", [{}, {"lot": ["nonsense"]}])
def test_who_ticked_nothing_is_told_to(as_coordinator, ticked, text_of):
    page = as_coordinator.get(reverse("bench-plan"), ticked, follow=True)
    sent = as_coordinator.post(reverse("bench-plan"), ticked | {"on": "2025-12-06"})

    assert "Tick the lots that are to be tested first." in text_of(page)
    assert sent.status_code == 400
    assert "Plan 1 to 200 tests at a time, not 0." in text_of(sent)


def test_a_test_that_is_over_begins_with_no_conditions_that_nobody_noted(as_desk, bean_lot):
    page = as_desk.get(reverse("test-record", args=[bean_lot.number]))
    planned = as_desk.get(reverse("test-start", args=[bean_lot.number]))

    form = page.context["form"]
    assert [form[name].value() for name in ("substrate", "temperature_c")] == [None, None]
    assert planned.context["form"]["temperature_c"].value() == "20-30 alternating; 25"


def test_a_whole_test_is_recorded_at_once(as_desk, bean_lot, dishes):
    address = reverse("test-record", args=[bean_lot.number])
    days = {"started_on": "2025-11-01", "closed_on": "2025-11-09"}
    four = as_desk.get(address, {"dishes": "4"})

    answer = as_desk.post(
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
        ([{"seeds": "10", "normal": "9"}] * 9, 400, "at most 8 forms"),
    ],
)
def test_counts_that_cannot_be_are_said_and_not_written(
    as_desk, bean_lot, dishes, text_of, rows, status, sentence
):
    days = {"started_on": "2025-11-01", "closed_on": "2025-11-09"}

    answer = as_desk.post(reverse("test-record", args=[bean_lot.number]), dishes(*rows) | days)

    assert answer.status_code == status
    assert sentence in text_of(answer)
    assert GerminationTest.objects.count() == 0


@pytest.mark.parametrize("name", ["test-start", "test-record"])
def test_a_member_records_no_test(as_member, bean_lot, name):
    assert as_member.get(reverse(name, args=[bean_lot.number])).status_code == 404


def test_the_form_that_starts_a_test_posts(as_desk, bean_lot):
    page = as_desk.get(reverse("test-start", args=[bean_lot.number])).content.decode()

    assert '<form method="post" novalidate>' in page
    assert 'method="[' not in page


def test_planning_many_costs_the_same_to_look_at_with_one_lot_and_with_six(
    as_coordinator, make_lot
):
    lots = [make_lot().number for _ in range(6)]

    def queries_for(numbers):
        with CaptureQueriesContext(connection) as queries:
            as_coordinator.get(reverse("bench-plan"), {"lot": numbers})
        return len(queries)

    queries_for(lots)

    assert queries_for(lots[:1]) == queries_for(lots)


def test_only_a_coordinator_changes_the_rules(client, coordinator, desk):
    rules = {
        "standard_percent": "80",
        "first_test_within_days": "60",
        "chance_percent": "85",
        "test_share_percent": "5",
        "risk_good_percent": "15",
        "risk_poor_percent": "20",
        "width_points": "20",
        "group_seeds": "12",
    }
    client.force_login(desk)
    assert client.post(reverse("bench-rules"), rules).status_code == 404
    client.force_login(coordinator)

    wrong = client.post(reverse("bench-rules"), rules | {"chance_percent": "30"})
    client.post(reverse("bench-rules"), rules)

    kept = BenchRules.current()
    (sentence,) = wrong.context["form"].errors["chance_percent"]
    assert sentence == "30 is out of range: give a whole number from 50 to 99."
    assert {name: str(getattr(kept, name)) for name in rules} == rules
    assert not kept.hold_until_tested


def test_every_rule_is_explained(as_coordinator):
    form = as_coordinator.get(reverse("bench-rules")).context["form"]

    assert {name for name, field in form.fields.items() if not field.help_text} == set()
    assert set(form.fields) == {
        field.name for field in BenchRules._meta.fields if not field.primary_key
    }
