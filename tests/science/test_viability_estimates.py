"""What a lot's tests say, how many lots are estimated at once, and the retest date."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr

from library.science.longevity import (
    DAYS_IN_YEAR,
    Known,
    class_constants,
    longevity_of,
    optimism,
)
from library.science.outlook import LotDates, outlook_of, outlooks
from library.science.posterior import LotRecord, LotTest, estimate
from library.science.posterior_grid import BETWEEN_TESTS, INITIAL_PROBIT, INITIAL_SPREAD
from library.science.retest import (
    regeneration_threshold,
    retest_advice,
    retest_day,
    third_of_prediction,
    why_regrow,
)
from library.science.viability import Constants, Stretch

ONION = Constants(ke=6.975, cw=3.47, ch=0.04, cq=0.000428, source="a source")
PEA = Constants(ke=9.858, cw=5.39, ch=0.0329, cq=0.000478)
CUPBOARD = Stretch(days=1000, temperature_c=18, moisture_percent=9)
FREEZER = Stretch(days=1000, temperature_c=-18, moisture_percent=6)
GOOD = LotTest(day=100, germinated=92, sown=100)
STORED = date(2024, 1, 1)


def known(**changed):
    facts = {"constants": ONION, "longevity_years": 1.0, "oil_percent": 20}
    return longevity_of(**facts | changed)


def estimated(**changed):
    facts = {
        "tests": [GOOD],
        "history": [CUPBOARD],
        "longevity": known(),
        "standard": 0.7,
    }
    return estimate(**facts | changed)


# Longevity


def test_a_species_with_constants_uses_them():
    longevity = known()

    assert (longevity.known, longevity.constants) == (Known.CONSTANTS, ONION)
    assert longevity.why.source == "a source"
    assert longevity.predictable


def test_a_species_without_constants_uses_its_class_with_more_doubt():
    longevity = known(constants=None, longevity_years=4, longevity_source="a table")

    assert longevity.known is Known.CLASS
    assert longevity.constants == class_constants(4, oil_percent=20)
    assert longevity.spread > known().spread
    assert longevity.why.source == "a table"


def test_a_species_of_which_nothing_is_known_has_a_stated_default_and_the_most_doubt():
    longevity = known(constants=None, longevity_years=None)

    assert longevity.known is Known.NOTHING
    assert longevity.spread > known(constants=None).spread
    assert longevity.why.inputs["longevity_years"] == 3
    assert not longevity.predictable


@pytest.mark.parametrize(("years", "long_lived"), [(4.9, False), (5, True), (None, False)])
def test_long_lived_is_five_years_cool_and_dry(years, long_lived):
    assert known(longevity_years=years).long_lived is long_lived


@pytest.mark.parametrize("years", [0, -1, 1001])
def test_a_longevity_that_cannot_be_is_refused(years):
    with pytest.raises(ValueError, match="more than 0 and at most 1000 years"):
        known(longevity_years=years)


def test_the_equation_flatters_cold_storage_and_not_a_warm_room():
    assert optimism(25) == optimism(20) == 1
    assert 1 < optimism(4) < optimism(-18) < optimism(-20) == optimism(-60)


def test_the_expected_loss_takes_the_optimism_out():
    curve = known().expected_loss((FREEZER,))
    by_equation = 1000 / FREEZER.days_per_probit(ONION)

    assert curve.at(1000) == pytest.approx(by_equation * optimism(-18))


# The estimate against a plain integration of the same model


def by_fine_grid(*, tests, longevity, history, standard, day):
    """The posterior on 400 x 600 cells over a wider range: chance, then 5, 50 and 95 %."""
    start, log_rate = np.meshgrid(np.linspace(-3, 6, 400), np.linspace(-5, 5, 600))
    curve = longevity.expected_loss(tuple(history))
    log_weight = -0.5 * (
        ((start - INITIAL_PROBIT) / INITIAL_SPREAD) ** 2 + (log_rate / longevity.spread) ** 2
    )
    for test in tests:
        share = np.clip(ndtr(start - np.exp(log_rate) * curve.at(test.day)), 1e-12, 1 - 1e-12)
        counted = 1 / (1 + (test.sown - 1) * BETWEEN_TESTS)
        log_weight += counted * (
            test.germinated * np.log(share) + (test.sown - test.germinated) * np.log1p(-share)
        )
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    alive = ndtr(start - np.exp(log_rate) * curve.at(day)).ravel()
    order = np.argsort(alive)
    cumulated = np.cumsum(weight.ravel()[order])
    band = [float(alive[order][np.searchsorted(cumulated, q)]) for q in (0.05, 0.5, 0.95)]
    return float(weight.ravel()[alive >= standard].sum()), *band


SERIES = [
    [],
    [GOOD],
    [LotTest(day=30, germinated=88, sown=100), LotTest(day=700, germinated=36, sown=50)],
    [LotTest(day=day, germinated=95 - day // 25, sown=100) for day in range(50, 1000, 120)],
    [LotTest(day=10, germinated=0, sown=20)],
    [LotTest(day=10, germinated=400, sown=400)],
]


@pytest.mark.parametrize("tests", SERIES)
@pytest.mark.parametrize("day", [0, 400, 1000, 1800])
def test_the_coarse_grid_says_what_a_fine_one_says(tests, day):
    # Tolerance: three points of chance and of viability.
    longevity = known()

    now = estimated(tests=tests).on(day)

    assert (now.chance_above, now.low, now.median, now.high) == pytest.approx(
        by_fine_grid(
            tests=tests, longevity=longevity, history=[CUPBOARD], standard=0.7, day=day
        ),
        abs=0.03,
    )


@pytest.mark.parametrize("tests", SERIES[1:4])
@pytest.mark.parametrize("level", [0.5, 0.8, 0.95])
def test_on_the_day_the_chance_falls_to_a_level_it_is_that_level(tests, level):
    lot = estimated(tests=tests)

    day = lot.day_chance_falls_to(level)

    assert day > 0
    assert lot.chance_above(day) == pytest.approx(level, abs=1e-6)


def test_a_chance_that_was_never_there_falls_on_the_first_day():
    lot = estimated(tests=[LotTest(day=0, germinated=10, sown=50)])

    assert lot.day_chance_falls_to(0.8) == 0


lot_tests = st.lists(
    st.integers(0, 1500).flatmap(
        lambda day: st.integers(1, 200).flatmap(
            lambda sown: st.builds(
                LotTest, day=st.just(day), sown=st.just(sown), germinated=st.integers(0, sown)
            )
        )
    ),
    max_size=4,
)


@settings(max_examples=40)
@given(lot_tests, st.integers(0, 4000), st.integers(0, 4000))
def test_every_estimate_falls_with_time_and_stays_within_its_band(tests, one, other):
    sooner, later = sorted((one, other))
    lot = estimated(tests=tests)

    before, after = lot.over([sooner, later])

    for now in (before, after):
        assert 0 <= now.low <= now.median <= now.high <= 1
        assert -1e-12 <= now.chance_above <= 1 + 1e-12
    assert after.chance_above <= before.chance_above + 1e-9
    assert after.median <= before.median + 0.02  # the quantiles lie between grid cells


@settings(max_examples=40)
@given(st.integers(1, 200).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n - 1))))
def test_one_more_seedling_never_lowers_the_estimate(counts):
    sown, germinated = counts

    worse, better = (
        estimated(tests=[LotTest(day=300, germinated=count, sown=sown)]).on(600)
        for count in (germinated, germinated + 1)
    )

    assert worse.chance_above <= better.chance_above + 1e-9


def test_a_test_narrows_the_band_and_a_larger_one_narrows_it_more():
    none, small, large = (
        estimated(tests=tests).on(100)
        for tests in ([], [LotTest(day=100, germinated=18, sown=20)], [GOOD])
    )

    assert none.high - none.low > small.high - small.low > large.high - large.low


def test_two_tests_of_fifty_say_more_than_one_of_a_hundred():
    apart = [LotTest(day=100, germinated=46, sown=50)] * 2

    one, two = estimated().on(100), estimated(tests=apart).on(100)

    assert two.high - two.low < one.high - one.low


def test_a_test_is_believed_over_the_longevity_of_the_species():
    dying = [GOOD, LotTest(day=900, germinated=40, sown=100)]
    keeping = [GOOD, LotTest(day=900, germinated=92, sown=100)]

    assert estimated(tests=dying).on(900).median < 0.6
    assert estimated(tests=keeping).on(900).median > 0.85


def test_the_freezer_keeps_a_lot_longer():
    moved = Stretch(days=0, temperature_c=-18, moisture_percent=6)

    here = Stretch(days=200, temperature_c=18, moisture_percent=9)

    left = estimated(history=[here]).day_chance_falls_to(0.8)
    frozen = estimated(history=[here, moved]).day_chance_falls_to(0.8)

    assert frozen > left


def test_the_predicted_time_is_that_to_85_percent_of_the_start():
    lot = estimated(tests=[GOOD] * 20)
    start = lot.on(0).median

    then = lot.on(lot.days_to_share_of_initial()).median

    assert then == pytest.approx(regeneration_threshold(start), abs=0.03)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"day": -1}, "on day 0 of storage or later, not -1"),
        ({"sown": 0}, "at least 1 seed sown, not 0"),
        ({"germinated": 101}, "0 to 100 can germinate, not 101"),
    ],
)
def test_a_test_that_cannot_be_is_refused(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        LotTest(**{"day": 10, "germinated": 90, "sown": 100} | wrong)


@pytest.mark.parametrize("standard", [0, 1, 70])
def test_a_standard_is_a_fraction(standard):
    with pytest.raises(ValueError, match=r"between 0 and 1, such as 0\.75"):
        estimated(standard=standard)


@pytest.mark.parametrize("level", [0, 1, 80])
def test_a_level_is_a_chance(level):
    with pytest.raises(ValueError, match="A level of chance lies between 0 and 1"):
        estimated().day_chance_falls_to(level)


# Many lots at once


def looked_at(number, tests):
    """A lot of the tests above as it is looked at on day 1000, some with a sowing ahead."""
    history = [(CUPBOARD,), (FREEZER,), (FREEZER, CUPBOARD)][number % 3]
    longevity = known(constants=None, longevity_years=None) if number % 5 == 0 else known()
    newest = max((test.day for test in tests), default=None)
    dates = LotDates(
        stored_on=STORED,
        received_on=STORED,
        today=STORED + timedelta(days=1000),
        tested_on=None if newest is None else STORED + timedelta(days=newest),
        sowing_on=date(2027, 4, 1) if number % 2 else None,
    )
    return longevity, history, tests, dates


LOOKED_AT = [looked_at(number, SERIES[number % 6]) for number in range(600)]


def records():
    for longevity, history, tests, dates in LOOKED_AT:
        yield (
            LotRecord(longevity=longevity, curve=longevity.expected_loss(history), tests=tests),
            dates,
        )


def test_many_lots_at_once_have_the_outlook_that_each_has_alone():
    many = list(outlooks(records(), standard=0.7, level=0.8))

    assert len(many) == len(LOOKED_AT)
    for number in (*range(12), *range(250, 262), *range(590, 600)):
        longevity, history, tests, dates = LOOKED_AT[number]
        lot = estimated(tests=tests, history=history, longevity=longevity)
        alone = outlook_of(lot, level=0.8, dates=dates)
        assert (many[number].dates, many[number].longevity) == (dates, longevity)
        for name in ("initial", "falls_on", "predicted_days"):
            assert getattr(many[number], name) == pytest.approx(getattr(alone, name))
        for name in ("today", "tested", "sowing"):
            assert_same_viability(getattr(many[number], name), getattr(alone, name))


def assert_same_viability(one, other):
    assert (one is None) == (other is None)
    if one and other:
        assert vars(one) == pytest.approx(vars(other))


def test_many_lots_at_once_have_the_retest_dates_that_each_has_alone():
    many = [retest_advice(lot) for lot in outlooks(records(), standard=0.7, level=0.8)]

    for number in (*range(40), *range(250, 262)):
        longevity, history, tests, dates = LOOKED_AT[number]
        alone = retest_day(
            estimate=estimated(tests=tests, history=history, longevity=longevity),
            stored_on=dates.stored_on,
            received_on=dates.received_on,
            tested_on=dates.tested_on,
            sowing_on=dates.sowing_on,
        )
        assert many[number] == alone
    assert len({advice.rule for advice in many}) >= 5


def test_an_outlook_says_what_the_estimate_says():
    lot = estimated(tests=SERIES[2])
    dates = looked_at(1, SERIES[2])[-1]

    outlook = outlook_of(lot, level=0.8, dates=dates)

    assert outlook.today == lot.on(1000)
    assert outlook.tested == lot.on(700)
    assert outlook.sowing == lot.on((date(2027, 4, 1) - STORED).days)
    assert outlook.falls_on == lot.day_chance_falls_to(0.8)
    assert outlook.predicted_days == lot.days_to_share_of_initial()
    assert outlook.initial == pytest.approx(lot.on(0).median, abs=0.02)


def test_no_lots_have_no_outlook():
    assert list(outlooks([], standard=0.7, level=0.8)) == []


def test_lots_are_read_some_hundreds_at_a_time():
    read = []

    def reading():
        for number, lot in enumerate(records()):
            read.append(number)
            yield lot

    next(outlooks(reading(), standard=0.7, level=0.8))

    assert len(read) < 300


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [({"standard": 70}, "A standard lies between"), ({"level": 80}, "A level of chance lies")],
)
def test_shares_that_cannot_be_are_refused_before_a_lot_is_read(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        outlooks(records(), **{"standard": 0.7, "level": 0.8} | wrong)


# The retest date

TESTED = STORED + timedelta(days=100)


def day(lot=None, **changed):
    facts = {"stored_on": STORED, "received_on": STORED, "tested_on": TESTED}
    return retest_day(estimate=lot or estimated(), **facts | changed)


def test_a_lot_never_tested_has_its_first_test_within_a_year_of_receipt():
    advice = day(estimated(tests=[]), tested_on=None, received_on=date(2024, 3, 1))

    assert (advice.rule, advice.due_on) == ("first_test", date(2025, 3, 1))


def test_a_library_may_want_its_first_test_sooner():
    advice = day(estimated(tests=[]), tested_on=None, first_within_days=90)

    assert advice.due_on == STORED + timedelta(days=90)


def test_the_chance_of_falling_below_the_standard_sets_the_day():
    lot = estimated(standard=0.8)
    falls_on = STORED + timedelta(days=int(lot.day_chance_falls_to(0.8)))

    advice = day(lot)

    assert (advice.rule, advice.due_on) == ("retest_chance", falls_on)
    assert advice.sentence == (
        "Stored as it is, the chance that at least 80 % of it is alive falls below 80 % on "
        f"{falls_on.isoformat()}: test it by {falls_on.isoformat()}."
    )


def test_a_library_that_wants_to_be_surer_tests_sooner():
    lot = estimated(standard=0.8)

    assert day(lot, level=0.85).due_on < day(lot, level=0.8).due_on


def test_a_third_of_the_predicted_time_bounds_it():
    lot = estimated(standard=0.3)
    years = lot.days_to_share_of_initial() / DAYS_IN_YEAR

    advice = day(lot)

    assert advice.rule == "retest_third_of_prediction"
    waits = (advice.due_on - TESTED).days / DAYS_IN_YEAR
    assert waits == pytest.approx(third_of_prediction(years), abs=0.01)
    assert advice.source == "FAO Genebank Standards 2014, 4.3.3 (from memory)"


def test_nothing_waits_more_than_forty_years():
    lot = estimated(history=[FREEZER], longevity=known(constants=PEA), standard=0.3)

    advice = day(lot)

    assert (advice.rule, advice.due_on) == ("retest_longest", date(2064, 4, 10))


def test_where_nothing_can_be_predicted_five_years_bound_it():
    unknown = known(constants=None, longevity_years=None)
    lot = estimated(history=[FREEZER], longevity=unknown, standard=0.3)

    advice = day(lot)

    assert (advice.rule, advice.due_on) == ("retest_no_prediction", date(2029, 4, 10))
    assert "no more than 5 years" in advice.sentence


def test_an_upcoming_growout_asks_sooner():
    lot = estimated(
        tests=[LotTest(day=100, germinated=18, sown=20)],
        history=[Stretch(days=1000, temperature_c=5, moisture_percent=8)],
        standard=0.5,
    )
    sowing_on = date(2025, 4, 1)

    advice = day(lot, sowing_on=sowing_on)

    assert day(lot).due_on > sowing_on
    assert (advice.rule, advice.due_on) == ("retest_before_sowing", date(2025, 1, 31))


@pytest.mark.parametrize(
    "sowing_on",
    [TESTED + timedelta(days=180), TESTED - timedelta(days=1)],
    ids=["the test is still fresh", "the sowing is over"],
)
def test_a_growout_that_knows_enough_asks_for_nothing(sowing_on):
    assert day(sowing_on=sowing_on).due_on == day().due_on


def test_a_growout_of_a_lot_that_is_well_known_asks_for_nothing():
    many = [LotTest(day=d, germinated=96, sown=100) for d in range(0, 1100, 50)]
    lot = estimated(tests=many, history=[FREEZER], longevity=known(constants=PEA))
    tested_on = STORED + timedelta(days=1050)

    advice = day(lot, tested_on=tested_on, sowing_on=tested_on + timedelta(days=300))

    assert advice.rule != "retest_before_sowing"


def test_a_growout_of_a_lot_never_tested_asks_for_its_first_test():
    lot = estimated(tests=[])

    advice = day(lot, tested_on=None, sowing_on=date(2024, 6, 1))

    assert (advice.rule, advice.due_on) == ("retest_before_sowing", date(2024, 4, 2))
    assert day(lot, tested_on=None, sowing_on=date(2024, 1, 20)).due_on == STORED
    assert day(lot, tested_on=None, sowing_on=date(2027, 1, 1)).rule == "first_test"


def test_no_lot_is_tested_twice_within_ninety_days():
    lot = estimated(tests=[LotTest(day=100, germinated=73, sown=100)])

    advice = day(lot)

    assert lot.chance_above(100) < 0.8
    assert (advice.rule, advice.due_on) == (
        "retest_not_sooner",
        TESTED + timedelta(days=90),
    )
    assert not advice.regenerate
    assert day(lot, soonest_days=180).due_on == TESTED + timedelta(days=180)


def test_a_lot_below_the_standard_is_to_be_regrown():
    lot = estimated(tests=[LotTest(day=100, germinated=55, sown=100)])

    advice, why = day(lot), why_regrow(lot, day=100)

    assert advice.regenerate
    assert (advice.rule, advice.due_on) == ("retest_below_standard", date(2025, 4, 10))
    assert why.key == "regrow_below_standard"
    assert why.inputs["chance_percent"] == advice.inputs["chance_percent"] < 50


def test_a_lot_that_lost_a_sixth_of_its_first_viability_is_to_be_regrown_but_may_be_lent():
    fallen = [LotTest(day=0, germinated=98, sown=100)] * 3 + [
        LotTest(day=900, germinated=72, sown=100)
    ] * 3
    lot = estimated(tests=fallen, standard=0.5)

    advice = day(lot, tested_on=STORED + timedelta(days=900))
    why = why_regrow(lot, day=900)

    assert advice.regenerate
    assert advice.inputs["chance_percent"] > 90
    assert advice.rule == "retest_third_of_prediction"
    assert why.key == "regrow_below_initial"
    assert why.inputs["median_percent"] < 0.85 * why.inputs["initial_percent"]


def test_a_lot_that_keeps_need_not_be_regrown():
    assert why_regrow(estimated(), day=100) is None
    assert not day().regenerate


@pytest.mark.parametrize("rule_of", [day, lambda: day(estimated(standard=0.3))])
def test_a_retest_date_carries_the_numbers_that_made_it(rule_of):
    inputs = rule_of().inputs

    assert inputs["tested_on"] == TESTED.isoformat()
    assert inputs["low_percent"] < inputs["median_percent"] < inputs["high_percent"]
    assert inputs["longevity"] == "constants"
    assert inputs["longevity_source"] == "a source"


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        (
            {"tested_on": date(2023, 12, 31)},
            "cannot have been received, tested or looked at on 2023-12-",
        ),
        ({"received_on": date(2023, 12, 31)}, "cannot have been received, tested or"),
        ({"soonest_days": 0}, "Two tests lie 1 to 365 days apart at least, not 0"),
        ({"level": 80}, "A level of chance lies between 0 and 1"),
        ({"stored_on": date(1700, 1, 1)}, "cannot be meant"),
    ],
)
def test_days_that_cannot_be_are_refused(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        day(**wrong)


@pytest.mark.parametrize("initial", [0, -0.1, 1.1, 96])
def test_a_regeneration_threshold_is_of_a_fraction(initial):
    with pytest.raises(ValueError, match="above 0 and up to 1"):
        regeneration_threshold(initial)


@pytest.mark.parametrize("years", [0, -3, float("nan")])
def test_a_predicted_time_lies_ahead(years):
    with pytest.raises(ValueError, match="A predicted time is above 0 years"):
        third_of_prediction(years)
