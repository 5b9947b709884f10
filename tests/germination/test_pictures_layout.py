"""The pictures' arithmetic: round days, words that keep out of each other's way, few points."""

from __future__ import annotations

import datetime as dt
import itertools
import math

import pytest

from library.germination.pictures.axis import Frame, time_ticks
from library.germination.pictures.curve import NARROW, SMALL, WIDE, Words, draw
from library.germination.pictures.facts import (
    CurveFacts,
    DayMark,
    Mark,
    Point,
    Stay,
    TestMark,
    picture_end,
)
from library.germination.pictures.labels import Box, flags, label_at, place, text_width
from library.germination.pictures.sampling import sampled
from library.science.germination import exact_interval
from library.science.posterior import ViabilityOn

TODAY = dt.date(2026, 11, 25)
YEAR = dt.timedelta(days=365)
ENGLISH = Words(
    month=lambda day: f"{day:%b %Y}",
    year=lambda day: str(day.year),
    percent=lambda value: f"{value:.0f} %",
    standard="standard 70 %",
    disagrees="dishes disagree",
)
SHAPES = [WIDE, NARROW, SMALL]


def counted(on, germinated, sown=50, believed=True):
    low, high = exact_interval(germinated, sown)
    return TestMark(
        on=on,
        percent=100 * germinated / sown,
        low=100 * low,
        high=100 * high,
        germinated=germinated,
        sown=sown,
        believed=believed,
    )


def day_mark(on, mark, short):
    return DayMark(on=on, mark=mark, short=short, what=short)


def stay(since, short):
    return Stay(since=since, short=short, place=short, temperature_c=18.0, moisture_percent=8.0)


def facts(start, *, tests=(), retest=None, sowings=(), stays=(), alive=80.0):
    """A lot seen today: the curve falls in a straight line from ``alive`` to nothing."""
    marks = [day_mark(TODAY, Mark.TODAY, "today")]
    if retest:
        marks.append(day_mark(retest, Mark.RETEST, f"test by {retest:%-d %b %Y}"))
    marks += [day_mark(on, Mark.SOWING, f"sow {on:%-d %b %Y}") for on in sowings]
    end = picture_end(start, TODAY, [each.on for each in (*marks, *tests)])
    steps = [start + (end - start) * n / 20 for n in range(21)]
    points = [
        Point(
            on=on,
            low=alive * (1 - n / 20) / 2,
            median=alive * (1 - n / 20),
            high=min(100.0, alive * (1 - n / 20) * 1.2),
            chance=50,
        )
        for n, on in enumerate(steps)
    ]
    return CurveFacts(
        start=start,
        end=end,
        today=TODAY,
        standard=70,
        points=points,
        tests=list(tests),
        marks=marks,
        stays=list(stays) or [stay(start, "room")],
    )


MANY = [counted(dt.date(2015, 3, 1) + YEAR * n, 47 - 3 * n) for n in range(12)]
EXTREMES = {
    "a lot of 1950": facts(dt.date(1950, 10, 1), retest=TODAY + 2 * YEAR),
    "received today": facts(TODAY, retest=TODAY + YEAR / 4),
    "no test and no date": facts(dt.date(2024, 10, 1)),
    "twelve tests": facts(dt.date(2014, 10, 1), tests=MANY, retest=TODAY + YEAR),
    "twelve tests in a month": facts(
        dt.date(2026, 1, 1),
        tests=[counted(TODAY - dt.timedelta(days=2 * n), 35 + n % 3) for n in range(12)],
    ),
    "tests that disagree": facts(
        dt.date(2020, 10, 1),
        tests=[
            counted(TODAY - YEAR * n, 30 + 8 * (n % 2), believed=n % 2 == 0) for n in range(5)
        ],
    ),
    "as good as dead": facts(
        dt.date(2000, 10, 1), tests=[counted(TODAY, 0), counted(TODAY - YEAR, 1)], alive=0.01
    ),
    "all alive": facts(dt.date(2025, 10, 1), tests=[counted(TODAY, 50)], alive=100.0),
    "retest 40 years on": facts(dt.date(2026, 10, 1), retest=TODAY + 40 * YEAR),
    "everything on one day": facts(
        dt.date(2026, 10, 1),
        retest=TODAY,
        sowings=[TODAY, TODAY],
        tests=[counted(TODAY, 40), counted(TODAY, 41, believed=False)],
    ),
    "nine sowings": facts(
        dt.date(2024, 10, 1),
        retest=TODAY + YEAR,
        sowings=[TODAY + YEAR * n / 3 for n in range(9)],
    ),
    "moved each month": facts(
        dt.date(2022, 10, 1),
        stays=[
            stay(dt.date(2022, 10, 1) + YEAR * n / 12, f"refrigerator {n}") for n in range(40)
        ],
    ),
}


def words_of(curve):
    """Every word of the picture with the area that it takes."""
    parts = [*curve.percents, *curve.times, *curve.tests, *curve.marks, *curve.stays]
    labels = [part.label for part in parts] + [curve.standard_label]
    return [label for label in labels if label]


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
@pytest.mark.parametrize("case", EXTREMES)
def test_no_word_lies_on_another_or_leaves_the_picture(case, shape):
    curve = draw(EXTREMES[case], shape, ENGLISH)

    labels = words_of(curve)
    pairs = itertools.combinations(labels, 2)
    overlapping = [(a.text, b.text) for a, b in pairs if a.box.overlaps(b.box)]
    outside = [label.text for label in labels if not label.box.inside(curve.area)]
    assert (overlapping, outside) == ([], [])


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
@pytest.mark.parametrize("case", EXTREMES)
def test_every_line_and_point_lies_in_the_plot(case, shape):
    curve = draw(EXTREMES[case], shape, ENGLISH)

    frame = curve.frame
    lines = " ".join([curve.median, curve.band, curve.low, curve.high]).split()
    spots = [tuple(float(number) for number in spot.split(",")) for spot in lines]
    spots += [(test.x, test.y) for test in curve.tests]
    spots += [(test.x, test.low_y) for test in curve.tests]
    spots += [(test.x, test.high_y) for test in curve.tests]
    spots += [(mark.x, frame.bottom) for mark in curve.marks]
    outside = [
        (x, y)
        for x, y in spots
        if not (frame.left <= x <= frame.right and frame.top <= y <= frame.bottom)
    ]
    assert outside == []


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
@pytest.mark.parametrize("case", EXTREMES)
def test_no_line_of_a_day_runs_through_the_words_of_another(case, shape):
    curve = draw(EXTREMES[case], shape, ENGLISH)

    named = [mark.label for mark in curve.marks if mark.label]
    run_through = [
        (mark.mark.short, label.text)
        for mark in curve.marks
        for label in named
        if label is not mark.label
        and label.box.left < mark.x < label.box.right
        and mark.top < label.box.bottom - 1
    ]
    assert run_through == []


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
@pytest.mark.parametrize("case", EXTREMES)
def test_today_the_next_test_and_the_standard_are_always_named(case, shape):
    curve = draw(EXTREMES[case], shape, ENGLISH)

    unnamed = [mark.kind for mark in curve.marks if not mark.label]
    assert set(unnamed) <= {"sowing"}
    # Where there is no room at all, in the small picture, the key below it says the number.
    assert curve.standard_label is not None or shape is SMALL


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
@pytest.mark.parametrize("case", EXTREMES)
def test_half_of_the_picture_at_least_is_for_the_curve(case, shape):
    curve = draw(EXTREMES[case], shape, ENGLISH)

    assert curve.frame.bottom - curve.frame.top >= shape.height / 2


def test_a_test_whose_dishes_disagree_is_named_before_the_others_say_their_numbers():
    curve = draw(EXTREMES["tests that disagree"], WIDE, ENGLISH)

    said = [test.label.text if test.label else None for test in curve.tests]
    assert [said[1], said[3]] == ["dishes disagree"] * 2


def test_a_small_picture_leaves_the_numbers_of_its_tests_to_the_table():
    curve = draw(EXTREMES["twelve tests"], SMALL, ENGLISH)

    assert [test.label for test in curve.tests] == [None] * 12


def test_a_place_too_short_for_its_name_is_given_a_letter():
    moved = facts(
        dt.date(2016, 10, 1),
        stays=[
            stay(dt.date(2016, 10, 1), "cupboard"),
            stay(TODAY - 2 * YEAR, "refrigerator"),
            stay(TODAY - YEAR, "freezer"),
        ],
    )

    curve = draw(moved, NARROW, ENGLISH)

    assert [each.label.text for each in curve.stays] == ["cupboard", "B", "freezer"]


@pytest.mark.parametrize(
    ("years", "first", "second"),
    [
        (1, "Jan 2026", "Apr 2026"),
        (10, "2026", "2028"),
        (30, "2030", "2035"),
        (60, "2030", "2040"),
        (400, "2100", "2200"),
    ],
)
def test_ticks_lie_on_round_days(years, first, second):
    start = dt.date(2025, 12, 24)

    ticks = time_ticks(start, start + years * YEAR, width=300, month_width=70, year_width=50)

    named = [f"{day:%Y}" if ticks.are_years else f"{day:%b %Y}" for day in ticks.days[:2]]
    assert named == [first, second]


@pytest.mark.parametrize("days", [1, 40, 700, 3000, 20_000, 100_000])
def test_ticks_are_never_closer_than_their_names_are_long(days):
    start = dt.date(2026, 11, 25)
    end = start + dt.timedelta(days=days)

    ticks = time_ticks(start, end, width=300, month_width=70, year_width=50)

    frame = Frame(0, 300, 0, 100, start, end)
    apart = [frame.x(b) - frame.x(a) for a, b in itertools.pairwise(ticks.days)]
    # A February is 8 % shorter than a month of 30.4 days.
    assert all(gap >= (50 if ticks.are_years else 70) * 0.9 for gap in apart)


def test_the_time_axis_ends_with_the_calendar_at_the_latest():
    end = picture_end(dt.date(1950, 1, 1), TODAY, [dt.date(9999, 6, 1)])

    assert end == dt.date.max


def test_a_day_outside_the_picture_lies_on_its_edge():
    frame = Frame(40, 300, 0, 100, dt.date(2025, 1, 1), dt.date(2026, 1, 1))

    assert (frame.x(dt.date(1990, 1, 1)), frame.x(dt.date(2090, 1, 1))) == (40, 300)


def test_words_go_to_the_first_place_that_is_free():
    within = Box(0, 0, 200, 100)
    taken = [label_at("taken", middle=50, top=10, size=10).box]

    label = place("free", [(50, 12), (5, 12), (150, 12)], size=10, within=within, taken=taken)

    assert label.x == 150


def test_words_for_which_nothing_is_free_are_left_out():
    within = Box(0, 0, text_width("free", 10) - 1, 100)

    assert place("free", [(10, 10)], size=10, within=within, taken=[]) is None


def test_flags_that_do_not_fit_right_of_their_line_hang_left_of_it():
    found = flags([("today", 290)], size=10, left=0, right=300, most=2)

    assert found[0].lane == 0
    assert found[0].middle < 290


def test_a_flag_for_which_no_lane_is_left_is_left_out():
    found = flags([("a day", 100)] * 5, size=10, left=0, right=300, most=2)

    assert [flag is None for flag in found] == [False, False, False, False, True]


def curve_falling_at(day, width):
    """A made-up S-curve that falls from 1 to 0 around a day."""

    def on(when):
        share = 1 / (1 + math.exp((when - day) / width))
        return ViabilityOn(day=when, low=share, median=share, high=share, chance_above=share)

    return on


def test_a_steep_fall_is_drawn_within_the_thickness_of_the_line():
    curve = curve_falling_at(2900, 60)

    points = sampled(curve, [0.0, 10_000.0])

    drawn = [(point.day, point.median) for point in points]
    wrong = []
    for (x0, y0), (x1, y1) in itertools.pairwise(drawn):
        for part in (0.25, 0.5, 0.75):
            at = x0 + part * (x1 - x0)
            wrong.append(abs(curve(at).median - (y0 + part * (y1 - y0))))
    assert max(wrong) < 0.01


def test_a_curve_is_asked_for_at_most_sixty_days():
    asked = []
    curve = curve_falling_at(3000, 500)

    points = sampled(lambda day: asked.append(day) or curve(day), [0.0, 400.0, 9000.0])

    assert (len(points), len(asked)) == (len(asked), len(set(asked)))
    assert len(points) <= 60


def test_a_straight_line_needs_few_days():
    level = ViabilityOn(day=0, low=0.5, median=0.6, high=0.7, chance_above=0.5)

    points = sampled(
        lambda day: ViabilityOn(
            day=day, low=level.low, median=level.median, high=level.high, chance_above=0.5
        ),
        [0.0, 9000.0],
    )

    assert len(points) <= 17
