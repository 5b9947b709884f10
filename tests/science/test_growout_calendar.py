"""The days of a grow-out in a garden: in order, within its frosts, and known ones by hand."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.science.calendar import GardenSeason, LifeCycle, MonthDay
from library.science.growout_calendar import Step, steps_of
from library.science.reasons import COMMON_PRACTICE, ENGLISH

VALLEY = GardenSeason.parse(last_spring_frost="05-10", first_autumn_frost="10-05")
MILD = GardenSeason.parse(last_spring_frost="03-01", first_autumn_frost="11-30")
FROST_FREE = GardenSeason(None, None)
SOUTH = GardenSeason.parse(last_spring_frost="09-15", first_autumn_frost="04-20")
ANNUAL, CLONAL = LifeCycle.ANNUAL, LifeCycle.CLONAL
LAST_DAY = dt.date(2026, 12, 31)


def days(**asked) -> dict[Step, dt.date]:
    return {one.step: one.on for one in steps_of(**asked)}


def test_a_bean_of_eighty_days_by_hand():
    found = days(life_cycle=ANNUAL, garden=VALLEY, year=2026, days_to_maturity=80)

    assert found == {
        Step.SOWN: dt.date(2026, 5, 24),  # 10 May and two weeks
        Step.STAND: dt.date(2026, 6, 21),  # four weeks on
        Step.ROGUED: dt.date(2026, 7, 21),  # a week before it flowers
        Step.ISOLATED: dt.date(2026, 7, 28),  # sixty days before its seed is ripe
        Step.HARVESTED: dt.date(2026, 9, 26),  # 80 + 45 days after sowing
        Step.CLEANED: dt.date(2026, 10, 26),
        Step.RETURNED: dt.date(2026, 11, 25),
    }


def test_a_biennial_is_sown_in_one_year_and_harvested_in_the_next():
    found = days(life_cycle=LifeCycle.BIENNIAL, garden=VALLEY, year=2026)

    assert found[Step.SOWN] == dt.date(2026, 7, 7)  # 90 days before 5 October
    assert found[Step.STAND].year == 2026
    assert found[Step.ISOLATED].year == found[Step.HARVESTED].year == 2027
    assert found[Step.HARVESTED] == dt.date(2027, 9, 7)  # 120 days after 10 May
    assert found[Step.RETURNED] > found[Step.HARVESTED]


def test_nobody_isolates_the_flowers_of_a_potato():
    found = days(life_cycle=LifeCycle.CLONAL, garden=VALLEY, year=2026, days_to_maturity=100)

    assert Step.ISOLATED not in found
    assert len(found) == 6


def test_who_promises_late_has_two_weeks_to_sow():
    promised = dt.date(2026, 6, 1)
    (sown, *_others) = steps_of(
        life_cycle=ANNUAL, garden=VALLEY, year=2026, days_to_maturity=60, not_before=promised
    )

    assert (sown.on, sown.why.key) == (dt.date(2026, 6, 15), "milestone_sown_late")
    assert sown.why.inputs["promised_on"] == "2026-06-01"


def test_a_long_season_is_sown_earlier_than_two_weeks_after_the_frost():
    found = days(life_cycle=ANNUAL, garden=VALLEY, year=2026, days_to_maturity=100)

    assert found[Step.SOWN] == dt.date(2026, 5, 13)  # 145 days before 5 October
    assert found[Step.HARVESTED] == dt.date(2026, 10, 5)


def test_without_frost_dates_it_is_sown_by_the_end_of_june():
    (sown, *_others) = steps_of(life_cycle=ANNUAL, garden=None, year=2026)

    assert (sown.on, sown.why.key) == (dt.date(2026, 6, 30), "milestone_sown_unknown")


def test_garlic_is_planted_in_the_autumn_before_by_hand():
    found = days(life_cycle=CLONAL, garden=VALLEY, year=2026, days_to_maturity=260)

    assert found == {
        Step.SOWN: dt.date(2025, 10, 19),  # 5 October and two weeks
        Step.STAND: dt.date(2026, 5, 10),  # the last frost
        Step.ROGUED: dt.date(2026, 5, 10),  # not before it can be counted
        Step.HARVESTED: dt.date(2026, 7, 6),  # 260 days on
        Step.CLEANED: dt.date(2026, 8, 5),
        Step.RETURNED: dt.date(2026, 9, 4),
    }


def test_a_potato_is_not_planted_in_autumn():
    found = days(life_cycle=CLONAL, garden=VALLEY, year=2026, days_to_maturity=199)

    assert found[Step.SOWN].year == 2026


def test_southern_garlic_is_planted_before_the_winter_in_the_middle_of_the_year():
    found = days(life_cycle=CLONAL, garden=SOUTH, year=2026, days_to_maturity=230)

    # The season of 2026 runs from 15 September 2026 to 20 April 2027.
    assert found[Step.SOWN] == dt.date(2026, 5, 4)
    assert found[Step.STAND] == dt.date(2026, 9, 15)
    assert found[Step.HARVESTED] == dt.date(2026, 12, 20)


@pytest.mark.parametrize(
    ("promised", "sown", "rule"),
    [
        (dt.date(2025, 9, 1), dt.date(2025, 10, 19), "milestone_sown_autumn"),
        (dt.date(2025, 10, 20), dt.date(2025, 11, 3), "milestone_sown_late"),
        (dt.date(2025, 11, 2), dt.date(2025, 11, 16), "milestone_sown_late"),
        (dt.date(2025, 11, 3), dt.date(2026, 5, 10), "milestone_sown_spring"),
        (dt.date(2026, 4, 26), dt.date(2026, 5, 10), "milestone_sown_spring"),
        (dt.date(2026, 4, 27), dt.date(2026, 5, 11), "milestone_sown_late"),
    ],
)
def test_garlic_promised_after_its_autumn_waits_for_the_ground_to_thaw(promised, sown, rule):
    (first, *_others) = steps_of(
        life_cycle=CLONAL,
        garden=VALLEY,
        year=2026,
        days_to_maturity=260,
        not_before=promised,
    )

    assert (first.on, first.why.key) == (sown, rule)


def test_garlic_where_nobody_said_when_it_freezes():
    (sown, *_others) = steps_of(life_cycle=CLONAL, garden=None, year=2026, days_to_maturity=260)

    assert (sown.on, sown.why.key) == (dt.date(2025, 10, 31), "milestone_sown_autumn_unknown")


FROSTS = st.lists(
    st.dates(dt.date(2025, 1, 1), dt.date(2025, 12, 31)).map(MonthDay.of),
    min_size=2,
    max_size=2,
    unique=True,
).map(lambda two: GardenSeason(*two))


@given(FROSTS, st.integers(200, 400), st.integers(1990, 2040))
def test_what_stands_over_winter_is_planted_in_it_and_lifted_in_the_season_asked_for(
    garden, maturity, year
):
    found = days(life_cycle=CLONAL, garden=garden, year=year, days_to_maturity=maturity)

    autumn, (spring, ends) = garden.of_year(year - 1)[1], garden.of_year(year)
    assert autumn < found[Step.SOWN] <= spring <= found[Step.HARVESTED] <= ends
    wait = dt.timedelta(days=14)
    assert found[Step.SOWN] == min(autumn + wait, spring)
    grown = (found[Step.HARVESTED] - found[Step.SOWN]).days
    assert grown == maturity or found[Step.HARVESTED] in (spring, ends)


@given(
    st.integers(200, 400),
    st.dates(dt.date(2026, 8, 1), dt.date(2026, 12, 1)),
    st.integers(0, 30),
)
def test_later_frosts_never_make_it_earlier(maturity, frost, later):
    def found(day: dt.date) -> dict[Step, dt.date]:
        garden = GardenSeason(MonthDay(4, 20), MonthDay.of(day))
        return days(life_cycle=CLONAL, garden=garden, year=2026, days_to_maturity=maturity)

    before, after = found(frost), found(min(frost + dt.timedelta(days=later), LAST_DAY))

    assert all(before[step] <= after[step] for step in before)


@given(
    life_cycle=st.sampled_from(LifeCycle),
    frosts=st.sampled_from([VALLEY, MILD, SOUTH, FROST_FREE, None]),
    maturity=st.none() | st.integers(1, 400),
    promised=st.none() | st.dates(dt.date(2025, 9, 1), dt.date(2026, 12, 31)),
)
def test_the_steps_come_in_order_with_a_reason(life_cycle, frosts, maturity, promised):
    steps = steps_of(
        life_cycle=life_cycle,
        garden=frosts,
        year=2026,
        days_to_maturity=maturity,
        not_before=promised,
    )

    order = [one.on for one in steps]
    assert order == sorted(order)
    assert [one.step for one in steps] == [s for s in Step if s in {o.step for o in steps}]
    if promised is not None:
        assert order[0] >= promised + dt.timedelta(days=14)
    for one in steps:
        assert one.why.key in ENGLISH
        assert ENGLISH[one.why.key].format(**one.why.inputs)
        assert one.why.source == COMMON_PRACTICE


@pytest.mark.parametrize("year", [0, 10_000])
def test_a_year_that_no_calendar_holds_is_refused(year):
    with pytest.raises(ValueError, match="year"):
        steps_of(life_cycle=ANNUAL, garden=VALLEY, year=year)
