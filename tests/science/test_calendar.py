"""Seasons in both hemispheres and none, seed harvests, and the days on which loans are due."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.science.calendar import (
    GardenSeason,
    LifeCycle,
    MonthDay,
    growing_days,
    loan_due,
    planting_window,
    season_year,
    seed_ripe,
    sowing_window,
    suits_season,
)

NORTH = GardenSeason(MonthDay(5, 15), MonthDay(10, 1))
SOUTH = GardenSeason(MonthDay(9, 20), MonthDay(4, 30))
FROST_FREE = GardenSeason(None, None)

DAYS = st.dates(date(1900, 1, 1), date(2200, 12, 31))
MONTH_DAYS = st.dates(date(2024, 1, 1), date(2024, 12, 31)).map(MonthDay.of)
FROSTS = st.lists(MONTH_DAYS, min_size=2, max_size=2, unique=True)
GARDENS = st.one_of(
    st.none(), st.just(FROST_FREE), FROSTS.map(lambda frosts: GardenSeason(*frosts))
)


def due(lent_on, life_cycle=LifeCycle.ANNUAL, garden=NORTH, days_to_maturity=70, **more):
    return loan_due(
        lent_on=lent_on,
        life_cycle=life_cycle,
        garden=garden,
        days_to_maturity=days_to_maturity,
        **more,
    )


def test_a_leap_day_stands_for_the_28th_in_other_years():
    leap_day = MonthDay(2, 29)

    assert leap_day.in_year(2024) == date(2024, 2, 29)
    assert leap_day.in_year(2025) == date(2025, 2, 28)


def test_a_day_of_the_year_is_found_on_either_side_of_a_date():
    may = MonthDay(5, 15)

    assert may.on_or_after(date(2026, 5, 15)) == date(2026, 5, 15)
    assert may.on_or_after(date(2026, 5, 16)) == date(2027, 5, 15)
    assert may.on_or_before(date(2026, 5, 15)) == date(2026, 5, 15)
    assert may.on_or_before(date(2026, 5, 14)) == date(2025, 5, 15)


@given(MONTH_DAYS)
def test_a_day_of_the_year_reads_back_as_written(day):
    assert MonthDay.parse(str(day)) == day


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("13-01", "A month is a number from 1 to 12, not 13."),
        ("02-30", "February has the days 1 to 29, not 30."),
        ("June", "A day of the year is written MM-DD, such as 05-20 for 20 May, not “June”."),
        ("", "A day of the year is written MM-DD, such as 05-20 for 20 May, not “”."),
        ("0520", "A day of the year is written MM-DD, such as 05-20 for 20 May, not “0520”."),
    ],
)
def test_a_day_that_is_not_one_is_refused(text, sentence):
    with pytest.raises(ValueError) as refusal:  # noqa: PT011 - the sentence is compared whole
        MonthDay.parse(text)

    assert str(refusal.value) == sentence


def test_one_frost_without_the_other_is_refused_and_is_not_a_known_season():
    with pytest.raises(ValueError, match="Give both"):
        GardenSeason(MonthDay(5, 15), None)

    assert (
        GardenSeason.known(last_spring_frost=MonthDay(5, 15), first_autumn_frost=None) is None
    )


def test_a_season_that_ends_as_it_begins_is_refused():
    with pytest.raises(ValueError, match="cannot fall on the same day"):
        GardenSeason(MonthDay(5, 15), MonthDay(5, 15))


def test_a_season_is_read_from_text():
    written = GardenSeason.parse(last_spring_frost="05-15", first_autumn_frost="10-01")
    empty = GardenSeason.parse(last_spring_frost="", first_autumn_frost="")

    assert (written, empty) == (NORTH, FROST_FREE)


@pytest.mark.parametrize(("garden", "days"), [(NORTH, 139), (SOUTH, 222), (FROST_FREE, 365)])
def test_growing_days_are_counted_in_either_hemisphere(garden, days):
    assert growing_days(garden) == days


@pytest.mark.parametrize(
    ("on", "garden", "year"),
    [
        (date(2026, 1, 1), NORTH, 2026),
        (date(2026, 12, 31), NORTH, 2026),
        (date(2026, 12, 25), SOUTH, 2026),
        (date(2027, 2, 1), SOUTH, 2026),
        (date(2027, 7, 9), SOUTH, 2026),
        (date(2027, 7, 10), SOUTH, 2027),
        (date(2027, 2, 1), FROST_FREE, 2027),
        (date(2027, 2, 1), None, 2027),
    ],
)
def test_a_season_is_called_after_the_year_of_its_spring(on, garden, year):
    assert season_year(on, garden) == year


@given(DAYS, GARDENS)
def test_season_years_never_run_backwards(day, garden):
    assert season_year(day, garden) <= season_year(day + timedelta(days=1), garden)


def test_a_long_crop_does_not_suit_a_short_season():
    fit = suits_season(days_to_maturity=100, garden=NORTH)

    assert not fit
    assert (fit.days_needed, fit.days_available, fit.spare_days) == (145, 139, -6)
    assert fit.sentence == "Seed needs 145 days and has only 139."


def test_a_head_start_under_cover_makes_it_fit():
    assert suits_season(days_to_maturity=100, garden=NORTH, head_start_days=42)


def test_everything_suits_a_garden_without_frost():
    assert suits_season(days_to_maturity=400, garden=FROST_FREE)


def test_sowing_is_counted_from_the_last_frost():
    window = sowing_window(year=2026, garden=NORTH, sow_from_days=-14, sow_until_days=21)

    assert (window.opens, window.closes) == (date(2026, 5, 1), date(2026, 6, 5))
    assert window.reason == "sow_around_last_frost"


def test_sowing_ends_early_enough_for_seed_to_ripen():
    window = sowing_window(
        year=2026, garden=NORTH, sow_from_days=0, sow_until_days=60, days_to_maturity=70
    )

    assert window.closes == date(2026, 10, 1) - timedelta(days=115)
    assert window.reason == "sow_to_ripen_before_frost"


def test_a_southern_spring_is_in_the_second_half_of_the_year():
    window = sowing_window(year=2026, garden=SOUTH, sow_from_days=0, sow_until_days=14)

    assert (window.opens, window.closes) == (date(2026, 9, 20), date(2026, 10, 4))


def test_a_garden_without_frost_may_sow_all_year():
    window = sowing_window(year=2026, garden=FROST_FREE, sow_from_days=0, sow_until_days=14)

    assert (window.opens, window.closes) == (date(2026, 1, 1), date(2026, 12, 31))


@given(DAYS, st.integers(1, 400), GARDENS.filter(bool))
def test_a_sowing_window_never_closes_before_it_opens(day, maturity, garden):
    window = sowing_window(
        year=day.year,
        garden=garden,
        sow_from_days=-30,
        sow_until_days=30,
        days_to_maturity=maturity,
    )

    assert window.opens <= window.closes


def test_sowing_days_the_wrong_way_round_are_refused():
    with pytest.raises(ValueError, match="the first not after the last; not 20 to 10"):
        sowing_window(year=2026, garden=NORTH, sow_from_days=20, sow_until_days=10)


def test_seed_needs_longer_than_the_kitchen():
    ripe = seed_ripe(
        sown_on=date(2026, 5, 20),
        life_cycle=LifeCycle.ANNUAL,
        garden=NORTH,
        days_to_maturity=60,
        seed_ripening_days=40,
    )

    assert (ripe.ripe_on, ripe.in_time) == (date(2026, 8, 28), True)


def test_frost_ends_a_crop_that_was_sown_too_late():
    ripe = seed_ripe(
        sown_on=date(2026, 8, 1),
        life_cycle=LifeCycle.ANNUAL,
        garden=NORTH,
        days_to_maturity=60,
    )

    assert (ripe.ripe_on, ripe.in_time) == (date(2026, 10, 1), False)
    assert ripe.reason == "ripe_by_frost"


def test_seed_ripe_on_the_day_of_the_frost_is_in_time():
    ripe = seed_ripe(
        sown_on=date(2026, 10, 1) - timedelta(days=105),
        life_cycle=LifeCycle.ANNUAL,
        garden=NORTH,
        days_to_maturity=60,
    )

    assert (ripe.ripe_on, ripe.in_time) == (date(2026, 10, 1), True)


def test_a_biennial_gives_seed_in_its_second_year():
    ripe = seed_ripe(sown_on=date(2026, 6, 1), life_cycle=LifeCycle.BIENNIAL, garden=NORTH)

    assert ripe.ripe_on == date(2027, 9, 12)


def test_an_annual_lent_in_spring_is_due_after_this_years_harvest():
    loan = due(date(2026, 3, 10))

    assert loan.seed_ripe_on == date(2026, 9, 7)
    assert loan.due_on == date(2026, 11, 6)
    assert loan.reason == "due_annual"
    assert loan.inputs == {
        "lent_on": "2026-03-10",
        "sown_on": "2026-05-15",
        "days_needed": 115,
        "seed_ripe_on": "2026-09-07",
        "grace_days": 60,
        "due_on": "2026-11-06",
        "days_assumed": False,
    }


def test_an_annual_lent_too_late_to_ripen_is_due_after_next_years_harvest():
    last_chance = date(2026, 10, 1) - timedelta(days=115)

    assert due(last_chance).seed_ripe_on == date(2026, 10, 1)
    assert due(last_chance + timedelta(days=1)).seed_ripe_on == date(2027, 9, 7)


def test_a_biennial_is_due_in_its_second_year():
    loan = due(date(2026, 3, 10), LifeCycle.BIENNIAL)

    assert (loan.seed_ripe_on, loan.due_on) == (date(2027, 9, 12), date(2027, 11, 11))


def test_a_biennial_lent_in_late_summer_is_sown_next_year():
    loan = due(date(2026, 8, 20), LifeCycle.BIENNIAL)

    assert loan.seed_ripe_on == date(2028, 9, 12)


def test_a_perennial_is_due_after_its_first_seed_in_its_second_year():
    loan = due(date(2026, 3, 10), LifeCycle.PERENNIAL)

    assert loan.seed_ripe_on == date(2027, 9, 12)
    assert loan.reason == "due_perennial"


def test_tubers_are_due_in_the_season_they_were_planted():
    loan = due(date(2026, 3, 10), LifeCycle.CLONAL, days_to_maturity=110)

    assert (loan.seed_ripe_on, loan.due_on) == (date(2026, 9, 2), date(2026, 11, 1))


def test_garlic_lent_in_autumn_is_due_the_next_year():
    loan = due(date(2026, 10, 5), LifeCycle.CLONAL, days_to_maturity=260)

    assert loan.inputs["sown_on"] == "2026-10-15"  # two weeks after the first frost
    assert loan.seed_ripe_on == date(2027, 7, 2)


@pytest.mark.parametrize(
    ("lent_on", "planted", "ripe"),
    [
        (date(2026, 11, 1), date(2026, 11, 1), date(2027, 7, 19)),  # before the ground freezes
        (date(2026, 12, 1), date(2027, 5, 15), date(2027, 10, 1)),  # in spring, until frost
        (date(2027, 5, 16), date(2027, 10, 15), date(2028, 7, 1)),  # too late for that spring
    ],
)
def test_garlic_lent_after_its_planting_waits_for_spring_or_for_the_next_autumn(
    lent_on, planted, ripe
):
    loan = due(lent_on, LifeCycle.CLONAL, days_to_maturity=260)

    assert (loan.inputs["sown_on"], loan.seed_ripe_on) == (planted.isoformat(), ripe)


def test_a_winter_longer_than_its_days_holds_garlic_until_it_ends():
    high = GardenSeason(MonthDay(6, 20), MonthDay(8, 20))
    ripe = seed_ripe(
        sown_on=date(2025, 9, 3), life_cycle=LifeCycle.CLONAL, garden=high, days_to_maturity=240
    )

    assert (ripe.ripe_on, ripe.reason) == (date(2026, 6, 20), "ripe_after_winter")


def test_cloves_are_planted_around_the_first_frosts_or_in_spring():
    autumn = planting_window(sown_on=date(2025, 10, 15), garden=NORTH)
    spring = planting_window(sown_on=date(2026, 5, 15), garden=NORTH)

    assert (autumn.opens, autumn.closes) == (date(2025, 10, 1), date(2025, 11, 12))
    assert (spring.opens, spring.closes) == (date(2026, 4, 17), date(2026, 5, 15))
    assert (autumn.reason, spring.reason) == ("plant_in_autumn", "plant_in_spring")
    for garden, day in ((FROST_FREE, date(2026, 1, 1)), (NORTH, date(2026, 7, 1))):
        with pytest.raises(ValueError, match="not planted"):
            planting_window(sown_on=day, garden=garden)


@given(DAYS, GARDENS.filter(lambda garden: garden and not garden.frost_free))
def test_every_loan_of_garlic_has_a_window_to_plant_it_in(day, garden):
    loan = due(day, LifeCycle.CLONAL, garden=garden, days_to_maturity=250)
    planted = date.fromisoformat(loan.inputs["sown_on"])

    window = planting_window(sown_on=planted, garden=garden)

    assert day <= planted
    assert window.opens <= planted <= window.closes


def test_a_southern_loan_is_due_after_a_harvest_in_the_new_year():
    loan = due(date(2026, 8, 20), garden=SOUTH)

    assert (loan.seed_ripe_on, loan.due_on) == (date(2027, 1, 13), date(2027, 3, 14))


def test_a_loan_to_a_garden_without_frost_waits_for_its_sowing():
    loan = due(date(2026, 8, 20), garden=FROST_FREE)

    assert loan.inputs["sown_on"] == "2026-11-18"
    assert loan.seed_ripe_on == date(2027, 3, 13)


def test_a_loan_to_an_unknown_garden_waits_a_year_and_says_why():
    annual = due(date(2026, 8, 20), garden=None)
    biennial = due(date(2026, 8, 20), LifeCycle.BIENNIAL, garden=None)

    assert annual.seed_ripe_on == date(2027, 8, 20)
    assert biennial.seed_ripe_on == date(2028, 8, 20)
    assert annual.sentence.startswith("The garden's frost dates are not known")


def test_a_loan_of_unknown_days_says_that_they_were_assumed():
    loan = due(date(2026, 3, 10), days_to_maturity=None)

    assert loan.inputs["days_assumed"] is True
    assert loan.inputs["days_needed"] == 120


def test_a_loan_on_a_leap_day_to_an_unknown_garden_is_due_from_the_28th():
    assert due(date(2028, 2, 29), garden=None, grace_days=0).due_on == date(2029, 2, 28)


@given(DAYS, st.sampled_from(LifeCycle), GARDENS, st.one_of(st.none(), st.integers(1, 1000)))
def test_every_loan_has_a_due_date_that_can_be_kept_and_explained(day, cycle, garden, maturity):
    loan = due(day, cycle, garden, maturity)

    assert day < loan.seed_ripe_on < loan.due_on <= day + timedelta(days=5 * 366)
    assert loan.sentence


@given(DAYS, st.sampled_from(LifeCycle), GARDENS, st.integers(1, 300))
def test_a_later_loan_is_never_due_earlier(day, cycle, garden, maturity):
    first, second = (
        due(day + timedelta(days=n), cycle, garden, maturity).due_on for n in (0, 1)
    )

    assert first <= second


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"days_to_maturity": 0}, "Days to maturity are 1 to 1000, not 0."),
        ({"grace_days": -1}, "The grace after harvest is 0 to 730 days, not -1."),
        ({"seed_ripening_days": 400}, "Seed ripens within 0 to 365 days more, not 400."),
    ],
)
def test_days_out_of_range_are_refused(changed, sentence):
    with pytest.raises(ValueError) as refusal:  # noqa: PT011 - the sentence is compared whole
        due(date(2026, 3, 10), **changed)

    assert str(refusal.value) == sentence
