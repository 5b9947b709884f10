"""A lot's viability as a picture: what it shows of the lot, and its page."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine
from django.urls import reverse

from library.germination import services
from library.germination.estimates import estimate_of
from library.germination.models import BenchRules, PlannedSowing, TestDate
from library.germination.pictures.facts import Mark
from library.germination.pictures.reading import curve_of, small_curve_of
from library.germination.results import result_of
from library.science.posterior_curve import fine_estimate
from library.stock import services as stock

TODAY = dt.date(2026, 11, 25)


@pytest.fixture(autouse=True)
def today():
    with time_machine.travel(dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC), tick=False):
        yield TODAY


@pytest.fixture
def lot(make_lot, variety):
    return make_lot(variety, seeds=3000, harvest_year=2024, on=dt.date(2024, 12, 1))


@pytest.fixture
def record(desk):
    """``record(lot, dt.date(2026, 1, 9), 46, 44)`` is a test of two dishes of 50."""

    def make(lot, on, *normal):
        return services.record_test(
            lot=lot,
            replicates=[{"seeds": 50, "normal": number} for number in normal],
            started_on=on - dt.timedelta(days=8),
            closed_on=on,
            by=desk,
        )

    return make


def picture_of(lot, **asked):
    date = TestDate.objects.filter(lot=lot).first()
    return curve_of(lot, estimate_of(lot), date=date, **asked)


def results_of(lot):
    tests = lot.germination_tests.with_results()
    return [(test, result_of(test)) for test in tests]


def text_of(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def test_the_curve_is_the_estimate_on_every_day_it_shows(lot, record):
    record(lot, dt.date(2026, 1, 9), 46, 44)

    picture = picture_of(lot)

    viability = estimate_of(lot)
    fine = fine_estimate(viability.estimate)
    for point in picture.facts.points:
        there = fine.on(viability.day(point.on))
        shown = (point.low, point.median, point.high, point.chance)
        expected = (there.low, there.median, there.high, there.chance_above)
        assert shown == pytest.approx([100 * share for share in expected], abs=1e-3)


def test_the_curve_begins_with_storage_and_goes_on_after_the_next_test(lot, record):
    record(lot, dt.date(2026, 1, 9), 46, 44)

    facts = picture_of(lot).facts

    assert facts.start == dt.date(2024, 10, 1)
    assert facts.points[0].on == facts.start
    assert facts.points[-1].on == facts.end
    assert facts.end > TestDate.objects.get(lot=lot).due_on
    assert len(facts.points) <= 60


def test_tests_stand_in_it_with_their_exact_intervals(lot, record):
    record(lot, dt.date(2026, 1, 9), 46, 44)

    [shown] = picture_of(lot).facts.tests

    # Clopper-Pearson for 90 of 100: 82.4 to 95.1 %, as in any printed table.
    assert (shown.on, shown.percent, shown.believed) == (dt.date(2026, 1, 9), 90, True)
    assert (round(shown.low, 1), round(shown.high, 1)) == (82.4, 95.1)


def test_a_test_whose_dishes_disagree_is_shown_and_not_believed(lot, record):
    record(lot, dt.date(2025, 1, 9), 46, 44)
    record(lot, dt.date(2026, 1, 9), 46, 20)

    picture = picture_of(lot)

    assert [test.believed for test in picture.facts.tests] == [True, False]
    assert (picture.has_believed, picture.has_doubted) == (True, True)
    assert "In 1 of them the dishes disagree; it is not counted." in picture.summary


def test_a_test_that_was_set_aside_is_not_shown(lot, record, desk):
    test = record(lot, dt.date(2026, 1, 9), 46, 44)
    services.void_test(test=test, reason="the heating failed", by=desk)

    assert picture_of(lot).facts.tests == []


def test_today_the_next_test_and_planned_sowings_are_marked(lot, record):
    record(lot, dt.date(2026, 1, 9), 46, 44)
    sown = PlannedSowing.objects.create(lot=lot, on=dt.date(2027, 4, 20), what_for="grow-out")

    marks = picture_of(lot, for_desk=True).facts.marks

    due_on = TestDate.objects.get(lot=lot).due_on
    assert sorted((mark.mark, mark.on) for mark in marks) == sorted(
        [(Mark.TODAY, TODAY), (Mark.RETEST, due_on), (Mark.SOWING, sown.on)]
    )


def test_what_is_to_be_sown_is_told_to_the_desk_alone(lot):
    PlannedSowing.objects.create(lot=lot, on=dt.date(2027, 4, 20), what_for="Rook's plot")

    told = [
        [mark.what for mark in picture_of(lot, for_desk=desk).facts.marks]
        for desk in (False, True)
    ]

    assert told == [["today"], ["today", "planned sowing: Rook's plot"]]


def test_moves_of_storage_are_told_by_kind_and_to_the_desk_by_name(lot, desk):
    cellar = stock.add_storage_place(
        name="Cellar", kind="room", temperature_c=12, humidity_percent=60, by=desk
    )
    freezer = stock.add_storage_place(
        name="Chest", kind="freezer", inside=cellar, temperature_c=-18, by=desk
    )
    stock.move_lot(lot=lot, storage_place=cellar, by=desk, on=dt.date(2025, 1, 5))
    stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=dt.date(2026, 3, 1))
    lot.refresh_from_db()

    told = [
        [(stay.since, stay.place) for stay in picture_of(lot, for_desk=desk).facts.stays]
        for desk in (False, True)
    ]

    unknown = "nobody noted where: an ordinary room is assumed"
    before = (dt.date(2024, 10, 1), "before it came: an ordinary room is assumed")
    noted = (dt.date(2024, 12, 1), unknown)
    moved = [dt.date(2025, 1, 5), dt.date(2026, 3, 1)]
    assert told == [
        [before, noted, *zip(moved, ["room", "freezer"], strict=True)],
        [before, noted, *zip(moved, ["Cellar", "Cellar › Chest"], strict=True)],
    ]


def test_a_lot_kept_by_a_member_lies_at_home(lot, desk, member):
    stock.hand_to_custodian(lot=lot, custodian=member, by=desk, on=dt.date(2025, 6, 1))
    lot.refresh_from_db()

    stays = picture_of(lot).facts.stays

    assert [stay.short for stay in stays] == ["before it came", "not noted", "at home"]


def test_the_table_says_the_days_that_matter_and_round_ones_between(lot, record):
    record(lot, dt.date(2026, 1, 9), 46, 44)

    rows = {point.on: what for point, _chance, what in picture_of(lot).rows}

    due_on = TestDate.objects.get(lot=lot).due_on
    assert rows[dt.date(2024, 10, 1)] == "storage begins"
    assert rows[TODAY] == "today"
    assert rows[due_on] == "to be tested again by"
    assert rows[dt.date(2026, 1, 1)] == ""


def test_the_summary_says_what_the_picture_shows(lot):
    viability = estimate_of(lot)
    now = fine_estimate(viability.estimate).on(viability.day(TODAY))

    summary = picture_of(lot).summary

    assert summary.startswith(
        f"On 25 November 2026 about {100 * now.median:.0f} % of the seed is alive; nine times "
        f"in ten the true share lies between {100 * now.low:.0f} and {100 * now.high:.0f} %."
    )
    assert "It was never tested: all this is expected, nothing is counted." in summary


def test_the_summary_says_when_the_median_falls_below_the_standard(lot):
    BenchRules.objects.update_or_create(pk=1, defaults={"standard_percent": 99})

    assert "The likeliest share is below 99 % already." in picture_of(lot).summary


def test_the_small_picture_has_one_size_and_fewer_points(lot, record):
    record(lot, dt.date(2026, 1, 9), 46, 44)

    small, full = picture_of(lot, full=False), picture_of(lot)

    assert [curve.shape.name for curve in small.shapes] == ["small"]
    assert [curve.shape.name for curve in full.shapes] == ["wide", "narrow"]
    assert len(small.facts.points) < len(full.facts.points)


def test_a_lot_of_cloves_has_no_curve_and_its_page_says_why(make_variety, make_lot, client):
    garlic = make_variety("Stile White", crop="garlic", breeding_status="clone")
    lot = make_lot(garlic, seeds=40)

    answer = client.get(reverse("lot-viability", args=[lot.number]))

    assert answer.context["picture"] is None
    assert "Nothing can be predicted for this lot." in text_of(answer)


def test_the_page_draws_the_picture_with_a_spoken_name_and_description(as_member, lot, record):
    record(lot, dt.date(2026, 1, 9), 46, 44)

    answer = as_member.get(reverse("lot-viability", args=[lot.number]))

    page = answer.content.decode()
    pictures = re.findall(r'<svg class="viability (\w+)"[^>]*role="img"', page)
    assert pictures == ["wide", "narrow"]
    assert page.count(f"Viability of lot {lot.number} over time</title>") == 2
    assert "style=" not in page


def test_storage_places_are_named_to_the_desk_alone(client, lot, desk, member):
    place = stock.add_storage_place(name="Hearthside press", kind="cupboard", by=desk)
    stock.move_lot(lot=lot, storage_place=place, by=desk, on=dt.date(2025, 1, 5))

    named = []
    for person in (member, desk):
        client.force_login(person)
        answer = client.get(reverse("lot-viability", args=[lot.number]))
        named.append("Hearthside press" in text_of(answer))

    assert named == [False, True]


@pytest.mark.parametrize("tests", [1, 6])
def test_the_page_asks_as_many_questions_for_many_tests_as_for_one(
    as_member, lot, record, tests, django_assert_num_queries
):
    for n in range(tests):
        record(lot, dt.date(2025, 1 + n, 9), 46, 44)
    as_member.get(reverse("lot-viability", args=[lot.number]))

    with django_assert_num_queries(14):
        as_member.get(reverse("lot-viability", args=[lot.number]))


def test_the_lot_page_has_a_small_picture_that_leads_to_the_large_one(as_member, lot, record):
    record(lot, dt.date(2026, 1, 9), 46, 44)

    page = as_member.get(lot.get_absolute_url()).content.decode()

    pictures = re.findall(r'<svg class="viability (\w+)"[^>]*role="img"', page)
    assert pictures == ["small"]
    assert f'href="{reverse("lot-viability", args=[lot.number])}"' in page


def test_the_small_picture_is_that_of_the_lots_own_estimate(lot, record):
    record(lot, dt.date(2026, 1, 9), 46, 44)
    rules, results = BenchRules.current(), results_of(lot)
    date = TestDate.objects.get(lot=lot)

    small = small_curve_of(lot, results=results, rules=rules, date=date, for_desk=False)

    assert small.now == picture_of(lot).now


@pytest.mark.parametrize("tests", [1, 6])
def test_the_small_picture_asks_as_many_questions_for_many_tests_as_for_one(
    lot, record, tests, django_assert_num_queries
):
    for n in range(tests):
        record(lot, dt.date(2025, 1 + n, 9), 46, 44)
    rules, date = BenchRules.current(), TestDate.objects.get(lot=lot)
    results = results_of(lot)
    lot = type(lot).objects.with_variety().get(pk=lot.pk)

    # Its places, the species' figures and constants, and where it lay.
    with django_assert_num_queries(4):
        small_curve_of(lot, results=results, rules=rules, date=date, for_desk=False)
