"""What is known of a lot today, the day it follows, and what people decide by it."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from decimal import Decimal

import pytest
from django.db import transaction
from django.utils import timezone, translation

from library.catalogue.models import SpeciesFigure
from library.errors import Conflict, NotEnough, Refused
from library.germination import services
from library.germination.dates import settle
from library.germination.estimates import estimate_of, model_of
from library.germination.models import (
    BenchRules,
    LotEstimate,
    PlannedSowing,
    ShelfDecision,
    TestDate,
)
from library.germination.recompute import recompute
from library.stock import services as stock
from library.stock.models import Lot

START, END = dt.date(2026, 1, 2), dt.date(2026, 1, 12)
GOOD = [{"seeds": 50, "normal": 48}, {"seeds": 50, "normal": 46}]
POOR = [{"seeds": 50, "normal": 12}, {"seeds": 50, "normal": 14}]
FAR_APART = [{"seeds": 50, "normal": 48}, {"seeds": 50, "normal": 20}]


@pytest.fixture
def freezer(desk):
    return stock.add_storage_place(name="Freezer", kind="freezer", temperature_c=-18, by=desk)


@pytest.fixture
def cupboard(desk):
    return stock.add_storage_place(
        name="Cupboard", kind="cupboard", temperature_c=22, humidity_percent=55, by=desk
    )


@pytest.fixture
def lot(make_lot, variety, cupboard):
    return make_lot(variety, seeds=2000, packets=2, harvest_year=2025, storage_place=cupboard)


@pytest.fixture
def record(desk):
    def do(lot, dishes, *, started_on=START, closed_on=END):
        return services.record_test(
            lot=lot, replicates=dishes, started_on=started_on, closed_on=closed_on, by=desk
        )

    return do


def fresh(lot) -> Lot:
    return Lot.objects.get(pk=lot.pk)


def date_of(lot) -> TestDate:
    return TestDate.objects.get(lot=lot)


def kept(lot) -> LotEstimate:
    return LotEstimate.objects.get(lot=lot)


# The estimate


def test_a_species_with_constants_is_predicted_by_them(variety):
    model = model_of(variety.crop.species)

    assert model.known == "constants"
    assert model.constants.ke == 9.09  # Phaseolus vulgaris, as the table has it


def test_a_species_without_constants_is_predicted_by_the_years_it_is_said_to_keep(make_variety):
    model = model_of(make_variety(crop="carrot").crop.species)

    # Iowa State University Extension 1999: carrot, three years.
    assert (model.known, model.why.inputs["longevity_years"]) == ("class", 3.0)


def test_tests_that_agree_go_in_and_others_do_not(lot, record, desk):
    good = record(lot, GOOD)
    record(lot, FAR_APART, started_on=dt.date(2026, 2, 1), closed_on=dt.date(2026, 2, 9))
    void = record(lot, POOR, started_on=dt.date(2026, 3, 1), closed_on=dt.date(2026, 3, 9))
    services.void_test(test=void, reason="dried out", by=desk)
    services.start_test(lot=lot, replicates=1, seeds_each=50, on=dt.date(2026, 4, 1), by=desk)

    viability = estimate_of(fresh(lot))

    assert [test.record for test in viability.tests] == [[good.pk, 94, 100]]


def test_a_good_test_raises_the_estimate_and_a_poor_one_lowers_it(make_lot, variety, record):
    untested, good, poor = (make_lot(variety, harvest_year=2025) for _ in range(3))
    record(good, GOOD)
    record(poor, POOR)

    medians = [estimate_of(fresh(one)).on(END).median for one in (poor, untested, good)]

    assert medians == sorted(medians)
    assert medians[0] < 0.4
    assert medians[2] > 0.85


def test_the_estimate_falls_with_time_and_keeps_its_band_in_order(lot, record):
    record(lot, GOOD)
    days = [dt.date(year, 6, 1) for year in range(2026, 2040)]

    over = estimate_of(fresh(lot)).over(days)

    medians = [on.median for on in over]
    assert medians == sorted(medians, reverse=True)
    assert all(on.low <= on.median <= on.high for on in over)


def test_the_day_of_a_level_has_that_chance(lot, record):
    record(lot, GOOD)
    viability = estimate_of(fresh(lot))

    day = viability.falls_on(0.8)

    assert viability.on(day).chance_above == pytest.approx(0.8, abs=0.01)


def test_the_freezer_keeps_the_same_seed_longer(make_lot, variety, cupboard, freezer):
    warm = estimate_of(make_lot(variety, harvest_year=2025, storage_place=cupboard))
    cold = estimate_of(make_lot(variety, harvest_year=2025, storage_place=freezer))

    assert cold.falls_on(0.8) > warm.falls_on(0.8) + dt.timedelta(days=365)


@pytest.mark.parametrize(
    ("crop", "counted_as"),
    [("potato", "tuber"), ("garlic", "clove"), ("sweet potato", "slip")],
)
def test_plant_parts_are_not_predicted_as_if_they_were_seed(
    make_variety, make_lot, record, crop, counted_as
):
    clone = make_variety(crop=crop, breeding_status="clone")
    lot = make_lot(clone, harvest_year=2025)

    record(lot, [{"seeds": 20, "normal": 19}])

    viability, date = estimate_of(fresh(lot)), date_of(lot)
    assert lot.counted_as == counted_as
    assert (viability.on(END), viability.over([END])) == (None, [])
    assert viability.cannot.key == "unpredicted_clonal"
    assert LotEstimate.objects.filter(lot=lot).count() == 0
    # Common practice: clonal stock keeps one season, and is planted again within the year.
    assert (date.rule, date.due_on) == ("clonal_season", dt.date(2026, 10, 1))


def test_plant_parts_kept_beyond_their_season_are_to_be_planted(make_variety, make_lot, record):
    lot = make_lot(make_variety(crop="potato", breeding_status="clone"), harvest_year=2024)

    record(lot, [{"seeds": 20, "normal": 19}])

    date = date_of(lot)
    assert (date.rule, date.due_on) == ("clonal_overdue", END + dt.timedelta(days=90))
    assert date.inputs["regenerate"] is True


def test_new_plant_parts_are_looked_at_before_their_season_ends(make_variety, make_lot):
    potato = make_variety(crop="potato", breeding_status="clone")
    fresh_lot = make_lot(potato, harvest_year=2025, on=dt.date(2025, 11, 1))
    old = make_lot(potato, harvest_year=2024, on=dt.date(2025, 9, 1))

    soon = services.expect_first_test(lot=fresh_lot, on=fresh_lot.received_on)
    sooner = services.expect_first_test(lot=old, on=old.received_on)

    assert (soon.rule, soon.due_on) == ("first_test", dt.date(2026, 1, 30))
    assert (sooner.rule, sooner.due_on) == ("clonal_season", dt.date(2025, 10, 1))


@pytest.mark.parametrize("behaviour", ["recalcitrant", "intermediate"])
def test_seed_that_does_not_keep_dry_is_not_predicted(lot, record, behaviour):
    SpeciesFigure.objects.filter(
        species=lot.variety.crop.species, quantity="storage_behaviour"
    ).update(text=behaviour)

    record(lot, GOOD)

    assert estimate_of(fresh(lot)).on(END) is None
    assert LotEstimate.objects.filter(lot=lot).count() == 0
    assert date_of(lot).rule == "not_orthodox"
    assert date_of(lot).why == (
        f"Seed of this species is {behaviour}: it does not keep dry and cold, and nothing here "
        "can predict it. Sow it soon; what is kept is tested again."
    )


# Settling


def test_settling_writes_the_estimate_of_today_beside_the_test_day(lot, record):
    record(lot, GOOD)

    row, now = kept(lot), estimate_of(fresh(lot)).on(timezone.localdate())
    assert row.on == timezone.localdate()
    assert (row.low, row.median, row.high, row.chance) == (
        pytest.approx(now.low),
        pytest.approx(now.median),
        pytest.approx(now.high),
        pytest.approx(now.chance_above),
    )
    assert date_of(lot).kind == "retest"


def test_the_desk_does_not_wait_for_the_estimate_of_a_new_lot(lot, monkeypatch):
    def estimated(*_args, **_kwargs):
        raise AssertionError("numpy and scipy would be read for this")

    monkeypatch.setattr("library.germination.dates.estimate_of", estimated)

    date = services.expect_first_test(lot=lot, on=lot.received_on)

    assert date.rule == "first_test"
    assert LotEstimate.objects.filter(lot=lot).count() == 0


def test_the_services_of_bench_and_desk_read_no_slow_library():
    code = (
        "import os, sys, django; "
        "os.environ['DJANGO_SETTINGS_MODULE'] = 'library.config.settings'; "
        "django.setup(); "
        "import library.lending.services, library.germination.services; "
        "print(sorted({'numpy', 'scipy'} & set(sys.modules)))"
    )

    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )

    assert loaded.stdout == "[]\n"


def test_moving_a_lot_to_the_freezer_puts_its_test_off(lot, record, freezer, desk):
    record(lot, GOOD)
    before, median = date_of(lot).due_on, kept(lot).median

    stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=dt.date(2026, 1, 13))

    assert date_of(lot).due_on > before + dt.timedelta(days=365)
    assert kept(lot).median > median


def test_a_move_that_is_taken_back_leaves_everything_as_it_was(lot, record, freezer, desk):
    record(lot, GOOD)
    before = date_of(lot).due_on, kept(lot).median

    with transaction.atomic():
        stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=END)
        transaction.set_rollback(True)

    assert (date_of(lot).due_on, kept(lot).median) == before


def test_giving_a_lot_into_keeping_settles_it_too(
    make_lot, variety, record, freezer, member, desk
):
    lot = make_lot(variety, seeds=2000, harvest_year=2025, storage_place=freezer)
    record(lot, GOOD)
    before = date_of(lot).due_on

    stock.hand_to_custodian(lot=lot, custodian=member, by=desk, on=dt.date(2026, 1, 13))

    assert date_of(lot).due_on < before


def test_amending_its_harvest_year_settles_a_lot(lot, record, desk):
    record(lot, GOOD)
    before = date_of(lot).due_on

    stock.amend_lot(lot=lot, field="harvest_year", value="2019", reason="read again", by=desk)

    # It came through six years and is 94 % alive: it keeps better than was thought.
    assert date_of(lot).due_on > before


def test_a_bulked_lot_has_its_estimate_and_its_first_test_day_at_once(make_lot, lot, desk):
    other = make_lot(lot.variety)

    bulk = stock.bulk_lots(lots=[(lot, 50), (other, 50)], on=lot.received_on, by=desk)

    assert bulk.test_date.kind == TestDate.Kind.FIRST
    assert 0 < bulk.estimate.median < 1
    assert bulk.awaits_first_test == (lot.awaits_first_test or other.awaits_first_test)


def test_amending_its_moisture_settles_a_lot(lot, record, desk):
    record(lot, GOOD)
    before = kept(lot).median

    with translation.override("de"):
        stock.amend_lot(
            lot=lot, field="moisture_percent", value="16,5", reason="measured", by=desk
        )

    assert fresh(lot).moisture_percent == Decimal("16.5")
    assert kept(lot).median < before


def test_a_moisture_that_is_no_number_is_refused(lot, desk):
    with pytest.raises(Refused) as refusal:
        stock.amend_lot(
            lot=lot, field="moisture_percent", value="dry", reason="by hand", by=desk
        )

    assert str(refusal.value) == "“dry” is not a number."


def test_changing_a_places_climate_settles_the_lots_in_it_and_says_so(
    lot, record, cupboard, desk, django_capture_on_commit_callbacks
):
    record(lot, GOOD)
    before = kept(lot).median

    with django_capture_on_commit_callbacks(execute=True):
        place = stock.edit_storage_place(place=cupboard, temperature_c=35, by=desk)

    assert place.told == ("The estimate and the test day of 1 lot are made anew.",)
    assert kept(lot).median < before


def test_many_lots_in_a_place_are_left_to_the_daily_job_and_that_is_said(
    lot, record, cupboard, desk, monkeypatch, django_capture_on_commit_callbacks
):
    monkeypatch.setattr("library.germination.following.MOST_AT_ONCE", 0)
    record(lot, GOOD)
    before = kept(lot).median

    with django_capture_on_commit_callbacks(execute=True):
        place = stock.edit_storage_place(place=cupboard, temperature_c=35, by=desk)

    assert place.told == (
        "1 lot lay there: its estimate and its test day follow within a day.",
    )
    assert kept(lot).median == before


def test_a_note_on_a_place_settles_nothing(lot, record, cupboard, desk):
    record(lot, GOOD)

    place = stock.edit_storage_place(place=cupboard, note="beside the stairs", by=desk)

    assert place.told == ()


def test_the_page_of_a_place_says_what_follows_from_a_new_climate(
    as_desk, lot, record, cupboard
):
    record(lot, GOOD)

    page = as_desk.post(
        f"/storage/{cupboard.pk}/edit/",
        {"name": "Cupboard", "kind": "cupboard", "temperature_c": "30"},
        follow=True,
    )

    said = [str(message) for message in page.context["messages"]]
    assert "The estimate and the test day of 1 lot are made anew." in said


def test_settling_twice_changes_nothing(lot, record):
    record(lot, GOOD)
    before = date_of(lot).due_on, kept(lot).median, kept(lot).evidence

    settle(lot)

    assert (date_of(lot).due_on, kept(lot).median, kept(lot).evidence) == before
    assert (TestDate.objects.count(), LotEstimate.objects.count()) == (1, 1)


def test_dishes_that_disagree_leave_the_estimate_and_ask_for_a_test_at_once(lot, record):
    record(lot, GOOD)
    before = kept(lot).evidence

    record(lot, FAR_APART, started_on=dt.date(2026, 2, 1), closed_on=dt.date(2026, 2, 9))

    assert (date_of(lot).rule, date_of(lot).due_on) == (
        "replicates_disagree",
        dt.date(2026, 2, 9),
    )
    assert kept(lot).evidence == before


def test_a_void_test_is_no_evidence(lot, record, desk):
    record(lot, GOOD)
    before = kept(lot).median
    poor = record(lot, POOR, started_on=dt.date(2026, 2, 1), closed_on=dt.date(2026, 2, 9))

    services.void_test(test=poor, reason="the heating failed", by=desk)

    assert kept(lot).median == pytest.approx(before)
    assert kept(lot).regrow_rule == ""


def test_a_library_that_wants_to_be_surer_tests_sooner(lot, record):
    record(lot, GOOD)
    usual = date_of(lot)
    BenchRules.objects.update(chance_percent=99, standard_percent=88)

    settle(lot)

    assert date_of(lot).due_on < usual.due_on
    assert kept(lot).standard_percent == 88


@pytest.mark.parametrize("tests", [1, 6])
def test_settling_asks_the_same_questions_however_many_tests_there_are(
    lot, record, tests, django_assert_num_queries
):
    for day in range(tests):
        on = START + dt.timedelta(days=day)
        record(lot, GOOD, started_on=on, closed_on=on)
    lot = fresh(lot)

    # The lot, its tests and their dishes, the rules, its day and its estimate as they were,
    # the species' figures, the keepings, the places, the next sowing, the day, the estimate.
    with transaction.atomic(), django_assert_num_queries(12):
        settle(lot)


@pytest.mark.parametrize("tests", [1, 6])
def test_an_estimate_asks_the_same_questions_however_many_tests_there_are(
    lot, record, tests, django_assert_num_queries
):
    for day in range(tests):
        on = START + dt.timedelta(days=day)
        record(lot, GOOD, started_on=on, closed_on=on)
    lot = Lot.objects.with_variety().get(pk=lot.pk)

    with django_assert_num_queries(7):  # and the constants of the species
        estimate_of(lot)


def test_odd_lots_are_settled_alike_one_by_one_and_all_together(
    make_lot, make_variety, variety, record, cupboard, freezer, member, desk
):
    at_home = make_lot(variety, seeds=900, harvest_year=2025, storage_place=freezer)
    stock.hand_to_custodian(lot=at_home, custodian=member, by=desk, on=dt.date(2025, 12, 1))
    parts = [
        (make_lot(variety, seeds=900, harvest_year=year, storage_place=freezer), 300)
        for year in (2023, 2024)
    ]
    mixed = stock.bulk_lots(
        lots=parts, on=dt.date(2025, 12, 1), by=desk, storage_place=cupboard
    )
    potato = make_lot(make_variety(crop="potato", breeding_status="clone"), harvest_year=2025)
    for lot in (at_home, mixed, potato):
        record(lot, [{"seeds": 50, "normal": 45}])
    alone = {date.lot_id: (date.due_on, date.rule) for date in TestDate.objects.all()}
    medians = dict(LotEstimate.objects.values_list("lot", "median"))

    recompute(on=timezone.localdate())

    together = {date.lot_id: (date.due_on, date.rule) for date in TestDate.objects.all()}
    after = dict(LotEstimate.objects.values_list("lot", "median"))
    assert {key: together[key] for key in alone} == alone
    assert {key: after[key] for key in medians} == pytest.approx(medians)


# Sowings


def test_a_planned_sowing_brings_the_test_forward(
    make_lot, variety, record, freezer, coordinator
):
    lot = make_lot(variety, seeds=2000, harvest_year=2025, storage_place=freezer)
    record(lot, [{"seeds": 20, "normal": 17}])
    before = date_of(lot).due_on
    on = dt.date(2028, 4, 20)

    services.expect_sowing(lot=lot, on=on, what_for="the isolation plot", by=coordinator)

    date = date_of(lot)
    assert before > on
    assert (date.rule, date.due_on) == ("retest_before_sowing", dt.date(2028, 2, 20))
    assert "It is wanted for sowing on 20 April 2028" in date.why


def test_a_dropped_sowing_gives_the_day_back(make_lot, variety, record, freezer, coordinator):
    lot = make_lot(variety, seeds=2000, harvest_year=2025, storage_place=freezer)
    record(lot, [{"seeds": 20, "normal": 17}])
    before = date_of(lot).due_on
    sowing = services.expect_sowing(
        lot=lot, on=dt.date(2028, 4, 20), what_for="the isolation plot", by=coordinator
    )

    services.drop_sowing(sowing=sowing, by=coordinator)

    assert date_of(lot).due_on == before
    with pytest.raises(Conflict):
        services.drop_sowing(sowing=PlannedSowing(pk=sowing.pk, lot=lot), by=coordinator)


def test_the_earliest_sowing_that_is_to_come_counts(
    make_lot, variety, record, freezer, coordinator
):
    lot = make_lot(variety, seeds=2000, harvest_year=2025, storage_place=freezer)
    record(lot, [{"seeds": 20, "normal": 17}])
    PlannedSowing.objects.create(lot=lot, on=dt.date(2026, 3, 1), what_for="long over")

    for year in (2029, 2028):
        services.expect_sowing(
            lot=lot, on=dt.date(year, 4, 20), what_for="a bed", by=coordinator
        )

    assert date_of(lot).inputs["sowing_on"] == "2028-04-20"


def test_a_sowing_is_planned_once_however_often_it_is_said(lot, coordinator):
    on = timezone.localdate() + dt.timedelta(days=100)

    first, second = (
        services.expect_sowing(lot=lot, on=on, what_for="a bed", by=coordinator)
        for _ in range(2)
    )

    assert first == second


@pytest.mark.parametrize("on", [dt.date(2020, 1, 1), dt.date(2099, 1, 1), "spring"])
def test_a_sowing_that_cannot_be_planned_is_refused(lot, coordinator, on):
    with pytest.raises(Refused) as refusal:
        services.expect_sowing(lot=lot, on=on, what_for="a bed", by=coordinator)

    assert refusal.value.field == "on"
    assert PlannedSowing.objects.count() == 0


def test_nobody_counts_on_a_lot_of_which_nothing_is_left(lot, coordinator):
    Lot.objects.filter(pk=lot.pk).update(loose=0, packed=0)
    on = timezone.localdate() + dt.timedelta(days=100)

    with pytest.raises(NotEnough):
        services.expect_sowing(lot=lot, on=on, what_for="a bed", by=coordinator)


# Regrowing, and the shelf


@pytest.fixture
def failing(lot, record):
    """A lot that a test showed to be below the standard."""
    record(lot, POOR)
    return fresh(lot)


def test_a_lot_below_the_standard_is_flagged_and_stays_on_the_shelf(failing):
    flagged = LotEstimate.objects.to_regrow()

    assert [row.lot for row in flagged] == [failing]
    assert [row.lot for row in LotEstimate.objects.undecided()] == [failing]
    assert failing.withheld_reason == ""
    assert flagged.get().why_regrow == (
        "The chance that 70 % or more of it is alive is less than 1 %: regrow it while some of "
        "it lives."
    )


def test_a_lot_that_was_never_tested_is_not_flagged(make_lot, variety):
    old = make_lot(variety, harvest_year=1990)

    settle(old)

    assert kept(old).chance < 0.5
    assert kept(old).regrow_rule == ""


def test_withholding_takes_the_lot_off_the_shelf_with_its_reason(failing, coordinator):
    decision = services.decide_shelf(
        lot=failing, decision="withhold", reason="regrow it first", by=coordinator
    )

    assert fresh(failing).withheld_reason == "regrow it first"
    assert decision.median == kept(failing).median
    assert list(LotEstimate.objects.undecided()) == []
    assert [row.lot for row in LotEstimate.objects.to_regrow()] == [failing]


def test_a_lot_that_is_released_waits_for_a_decision_again(failing, coordinator):
    services.decide_shelf(
        lot=failing, decision="withhold", reason="regrow it first", by=coordinator
    )

    stock.release(lot=failing, by=coordinator)

    assert [row.lot for row in LotEstimate.objects.undecided()] == [failing]


def test_keeping_a_lot_on_the_shelf_silences_the_flag(failing, coordinator):
    services.decide_shelf(
        lot=failing, decision="keep", reason="there is no other", by=coordinator
    )
    settle(failing)

    assert list(LotEstimate.objects.to_regrow()) == []
    assert fresh(failing).withheld_reason == ""
    assert kept(failing).regrow_rule == "regrow_below_standard"


def test_a_new_test_that_says_the_same_raises_the_flag_again(failing, record, coordinator):
    services.decide_shelf(
        lot=failing, decision="keep", reason="there is no other", by=coordinator
    )

    record(failing, POOR, started_on=dt.date(2026, 5, 1), closed_on=dt.date(2026, 5, 9))

    assert [row.lot for row in LotEstimate.objects.undecided()] == [failing]


def test_an_amended_test_raises_the_flag_again(failing, desk, coordinator):
    services.decide_shelf(
        lot=failing, decision="keep", reason="there is no other", by=coordinator
    )
    test = failing.germination_tests.get()

    services.amend_test(test=test, dishes={1: {"normal": 11}}, reason="counted again", by=desk)

    assert [row.lot for row in LotEstimate.objects.undecided()] == [failing]


def test_moving_a_lot_does_not_undo_what_was_decided(failing, freezer, desk, coordinator):
    services.decide_shelf(
        lot=failing, decision="keep", reason="there is no other", by=coordinator
    )

    stock.move_lot(lot=failing, storage_place=freezer, by=desk)

    assert kept(failing).decided == "keep"


def test_a_lot_that_is_withheld_is_not_kept_on_the_shelf(failing, desk, coordinator):
    stock.withhold(lot=failing, reason="crossed", by=desk)

    with pytest.raises(Conflict) as refusal:
        services.decide_shelf(lot=failing, decision="keep", reason="why not", by=coordinator)

    assert str(refusal.value) == (
        f"Lot {failing.number} is withheld (crossed); release it first."
    )
    assert ShelfDecision.objects.count() == 0


def test_a_lot_withheld_for_another_reason_keeps_that_reason(failing, desk, coordinator):
    stock.withhold(lot=failing, reason="crossed", by=desk)

    services.decide_shelf(lot=failing, decision="withhold", reason="and old", by=coordinator)

    assert fresh(failing).withheld_reason == "crossed"


def test_nothing_is_decided_of_a_lot_that_need_not_be_regrown(lot, record, coordinator):
    record(lot, GOOD)

    with pytest.raises(Conflict):
        services.decide_shelf(lot=lot, decision="withhold", reason="a whim", by=coordinator)

    assert fresh(lot).withheld_reason == ""


@pytest.mark.parametrize(
    ("decision", "reason", "field"), [("burn", "old", "decision"), ("keep", " ", "reason")]
)
def test_a_decision_is_one_of_two_and_has_a_reason(
    failing, coordinator, decision, reason, field
):
    with pytest.raises(Refused) as refusal:
        services.decide_shelf(lot=failing, decision=decision, reason=reason, by=coordinator)

    assert refusal.value.field == field
