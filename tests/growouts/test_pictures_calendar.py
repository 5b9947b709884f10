"""The season on a calendar: where everything is drawn, and who sees what of it."""

from __future__ import annotations

import datetime as dt
import random
from itertools import combinations, pairwise

import pytest
from django.urls import reverse

from library.growouts.models import Milestone
from library.growouts.pictures.calendar import calendar_of
from library.growouts.pictures.calendar.facts import Row, Step, StepState, months, span
from library.growouts.pictures.calendar.layout import (
    MARK,
    NARROW,
    WIDE,
    Words,
    draw,
    fitting,
    lanes_of,
)
from tests.growouts.conftest import TODAY

KINDS = Milestone.Kind.values
WORDS = Words(
    month=lambda day: f"{day:%b}",
    today="today",
    state=lambda row: f"{len(row.late)} steps late" if row.late else row.state,
)
LONG = "A very long name of a variety that nobody could write beside its strip in full"


def step(number: int, day: dt.date, state: StepState = StepState.TO_COME) -> Step:
    done = day if state is StepState.DONE else None
    return Step(
        number=number, kind=KINDS[number - 1], name="s", due_on=day, done_on=done, state=state
    )


def many_rows(growers: int, seed: int, years: int = 1) -> list[Row]:
    chance = random.Random(seed)
    rows = []
    for grower in range(growers):
        for n in range(chance.randint(1, 4)):
            day = dt.date(2026, 3, 1) + dt.timedelta(days=chance.randint(0, 90))
            steps = []
            for number in range(1, 8):
                steps.append(step(number, day, chance.choice(list(StepState))))
                day += dt.timedelta(days=chance.choice([0, 1, 7, 30, 60 * years]))
            rows.append(
                Row(
                    key=100 * grower + n,
                    grower=f"grower {grower}",
                    variety=chance.choice(["Tarn Kettle", LONG]),
                    state="seed came back",
                    steps=steps if chance.random() < 0.9 else [],
                )
            )
    return rows


def drawn(rows, shape, today=dt.date(2026, 7, 1)):
    start, end = span(rows, year=2026)
    return draw(rows, shape, WORDS, start=start, end=end, today=today)


def all_words(picture):
    found = [w for m in picture.months for w in (m.name, m.year) if w]
    found += [picture.today[1]] if picture.today else []
    for group in picture.groups:
        found.append(group.head)
        found += [w for strip in group.strips for w in (strip.variety, strip.state)]
    return found


@pytest.mark.parametrize("shape", [WIDE, NARROW], ids=lambda s: s.name)
@pytest.mark.parametrize(("growers", "years"), [(1, 1), (1, 3), (5, 1), (40, 2)])
def test_nothing_lies_on_anything_else_or_leaves_the_picture(shape, growers, years):
    picture = drawn(many_rows(growers, seed=growers, years=years), shape)
    words = all_words(picture)
    marks = [m for g in picture.groups for s in g.strips for m in s.marks]

    assert marks
    for one, other in combinations(words, 2):
        assert not one.box.overlaps(other.box), (one.text, other.text)
    for one, other in combinations(marks, 2):
        assert not one.box.overlaps(other.box), (one, other)
    for mark in marks:
        assert not any(mark.box.overlaps(word.box) for word in words), mark
        assert mark.box.inside(picture.frame)
    assert all(word.box.inside(picture.frame) for word in words)


def test_strips_stand_one_below_the_other_with_their_marks_inside():
    picture = drawn(many_rows(12, seed=3), NARROW)
    strips = [s for g in picture.groups for s in g.strips]

    for above, below in pairwise(strips):
        assert above.box.bottom <= below.box.top
    for strip in strips:
        assert all(mark.box.inside(strip.box) for mark in strip.marks)


def test_a_biennial_takes_two_years_and_the_year_is_written_at_each():
    rows = [
        Row(
            key=1,
            grower="wren",
            variety="Beck Root",
            state="accepted",
            steps=[step(1, dt.date(2026, 7, 7)), step(7, dt.date(2027, 9, 20))],
        )
    ]
    start, end = span(rows, year=2026)
    picture = draw(rows, WIDE, WORDS, start=start, end=end, today=dt.date(2026, 2, 1))

    assert (start, end) == (dt.date(2026, 6, 1), dt.date(2027, 9, 30))
    assert [m.year.text for m in picture.months if m.year] == ["2026", "2027"]
    assert picture.today is None  # it lies before all that is shown


def test_the_line_of_today_stands_between_a_late_step_and_one_to_come():
    rows = [
        Row(
            key=1,
            grower="wren",
            variety="x",
            state="accepted",
            steps=[step(1, dt.date(2026, 4, 1), StepState.LATE), step(2, dt.date(2026, 9, 1))],
        )
    ]
    picture = drawn(rows, WIDE)
    late, to_come = picture.groups[0].strips[0].marks

    assert late.x < picture.today[0] < to_come.x
    assert picture.groups[0].strips[0].state.text == "1 steps late"


def test_without_any_step_the_year_is_shown():
    assert span([], year=2026) == (dt.date(2026, 1, 1), dt.date(2026, 12, 31))
    assert len(months(dt.date(2026, 1, 1), dt.date(2026, 12, 31))) == 12


def test_days_at_the_ends_of_time_are_shown_too():
    rows = [
        Row(
            key=1,
            grower="w",
            variety="x",
            state="s",
            steps=[step(1, dt.date(9999, 12, 1)), step(2, dt.date.max)],
        )
    ]

    assert span(rows, year=2200) == (dt.date(9999, 11, 1), dt.date.max)
    assert drawn(rows, NARROW).months


def test_lanes_part_only_what_touches():
    assert lanes_of([0, 100, 10, 300], 2 * MARK) == [0, 0, 1, 0]
    assert lanes_of([5, 5, 5], 20) == [0, 1, 2]
    assert lanes_of([], 20) == []


def test_words_that_are_too_long_end_in_dots():
    assert fitting("Tarn Kettle", 10, 200) == "Tarn Kettle"
    assert fitting("Tarn Kettle", 10, 36) == "Tarn…"


# What is read for it


@pytest.fixture
def grown(make_commitment, make_variety, member, other_member):
    """Wren has a late step; rook promised, and was offered another."""
    steps = (("sown", dt.date(2026, 2, 1)), ("stand", dt.date(2026, 3, 1)))
    mine = make_commitment(make_variety("Tarn Kettle"), member, state="accepted", steps=steps)
    theirs = make_commitment(
        make_variety("Crag Runner"), other_member, state="accepted", steps=steps
    )
    make_commitment(make_variety("Moss Tall"), other_member)
    return mine, theirs


def test_a_member_sees_own_rows_with_days_and_of_others_only_who_and_what(
    grown, season, member
):
    found = calendar_of(season, viewer=member, on=TODAY)

    assert [row.variety for row in found.rows] == ["Tarn Kettle"]
    assert [step.state for step in found.rows[0].steps] == ["late", "to_come"]
    assert [(o.variety, o.grower) for o in found.others] == [("Crag Runner", "rook")]
    assert found.late == 1


def test_a_coordinator_sees_all_rows_by_grower(grown, season, coordinator):
    found = calendar_of(season, viewer=coordinator, on=TODAY)

    assert [(row.grower, row.variety) for row in found.rows] == [
        ("rook", "Crag Runner"),
        ("rook", "Moss Tall"),
        ("wren", "Tarn Kettle"),
    ]
    assert not found.others


def test_only_the_late_ones(grown, season, coordinator, make_commitment, make_variety, member):
    make_commitment(
        make_variety("Fell Green"), member, state="accepted", steps=(("sown", TODAY),)
    )
    found = calendar_of(season, viewer=coordinator, on=TODAY, late_only=True)

    assert [row.variety for row in found.rows] == ["Crag Runner", "Tarn Kettle"]


def test_a_failed_promise_has_no_late_step(make_commitment, make_variety, season, member):
    make_commitment(
        make_variety(),
        member,
        state="failed",
        cause="hail",
        closed_on=TODAY,
        steps=(("sown", dt.date(2026, 1, 1)),),
    )
    found = calendar_of(season, viewer=member, on=TODAY)

    assert [step.state for step in found.rows[0].steps] == ["not_told"]
    assert not found.late


def test_others_who_failed_or_declined_are_not_named(
    make_commitment, make_variety, season, member, other_member
):
    for state, cause in (("failed", "neglect"), ("declined", ""), ("lapsed", "")):
        make_commitment(make_variety(), other_member, state=state, cause=cause, closed_on=TODAY)
    found = calendar_of(season, viewer=member, on=TODAY)

    assert not found.rows
    assert not found.others


@pytest.mark.parametrize("address", ["season-calendar", "api-season-calendar"])
def test_as_many_questions_for_many_rows_as_for_one(
    address,
    client,
    season,
    coordinator,
    make_commitment,
    make_variety,
    make_member,
    django_assert_max_num_queries,
):
    client.force_login(coordinator)
    url = reverse(address, args=[season.year])

    def grow(n):
        steps = [(kind, TODAY) for kind in KINDS]
        make_commitment(
            make_variety(), make_member(f"grower {n}"), state="accepted", steps=steps
        )

    grow(0)
    with django_assert_max_num_queries(30) as first:
        assert client.get(url).status_code == 200
    asked = len(first.captured_queries)
    for n in range(1, 7):
        grow(n)
    with django_assert_max_num_queries(asked):
        assert client.get(url).status_code == 200


def test_as_many_questions_however_many_others_grow(
    client,
    season,
    member,
    make_commitment,
    make_variety,
    make_member,
    django_assert_max_num_queries,
):
    client.force_login(member)
    url = reverse("season-calendar", args=[season.year])
    make_commitment(make_variety(), make_member("grower"), state="accepted")
    with django_assert_max_num_queries(30) as first:
        client.get(url)
    asked = len(first.captured_queries)
    for n in range(6):
        make_commitment(make_variety(), make_member(f"grower {n}"), state="accepted")
    with django_assert_max_num_queries(asked):
        client.get(url)


def test_the_page_says_in_words_what_the_picture_shows(client, grown, season, member):
    client.force_login(member)
    page = client.get(reverse("season-calendar", args=[season.year])).content.decode()

    assert "1 step late" in page
    # A name and a title of the mark in each of two sizes, and once in the table.
    assert page.lower().count("sown: late, expected by 1 february 2026") == 5
    assert "Crag Runner" in page
    assert "style=" not in page


def test_many_rows_are_paged(
    client, season, coordinator, make_commitment, make_variety, make_member
):
    person = make_member("grower")
    for _n in range(41):
        make_commitment(make_variety(), person, state="accepted")
    client.force_login(coordinator)
    url = reverse("season-calendar", args=[season.year])

    assert len(client.get(url).context["calendar"].rows) == 40
    assert len(client.get(url, {"page": 2}).context["calendar"].rows) == 1
    assert (
        len(client.get(reverse("api-season-calendar", args=[season.year])).json()["rows"]) == 41
    )
