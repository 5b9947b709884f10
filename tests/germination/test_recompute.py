"""All test days computed again say what each lot's own settling says, and can be cut short."""

from __future__ import annotations

import datetime as dt
import os
import signal

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from library.config.schedule import job_named
from library.germination import many, services
from library.germination.dates import settle
from library.germination.models import (
    BenchRules,
    LotEstimate,
    PlannedSowing,
    Recompute,
    TestDate,
)
from library.germination.recompute import ask_recompute, recompute
from library.germination.tasks import recompute_dates
from library.stock import services as stock
from library.stock.models import Lot

START, END = dt.date(2025, 11, 1), dt.date(2025, 11, 9)
LATER = (dt.date(2026, 6, 1), dt.date(2026, 6, 12))
TODAY = dt.date(2026, 11, 20)
DAY = dt.timedelta(days=1)


@pytest.fixture
def record(desk):
    def do(lot, *counts, seeds=50, days=(START, END)):
        return services.record_test(
            lot=lot,
            replicates=[{"seeds": seeds, "normal": normal} for normal in counts],
            started_on=days[0],
            closed_on=days[1],
            by=desk,
        )

    return do


@pytest.fixture
def some_of_everything(make_variety, make_lot, record, desk):
    """Lots of every kind that settling tells apart, by what is special about each."""
    freezer = stock.add_storage_place(
        name="Freezer", kind="freezer", temperature_c=-18, by=desk
    )
    cellar = stock.add_storage_place(
        name="Cellar", kind="room", temperature_c=12, humidity_percent=55, by=desk
    )
    bean = make_variety("Tarn Kettle", crop="drying bean")
    lots = {
        "never tested": make_lot(bean),
        "never tested and wanted": make_lot(bean, on=TODAY - 5 * DAY),
        "good": make_lot(bean, storage_place=cellar),
        "near the standard": make_lot(bean),
        "poor": make_lot(bean),
        "dishes disagree": make_lot(bean),
        "dishes disagreed once": make_lot(bean),
        "moved to the freezer": make_lot(bean, storage_place=cellar),
        "wanted for a sowing": make_lot(bean, storage_place=freezer),
        "fell from its first result": make_lot(bean, harvest_year=2019),
        "nothing published": make_lot(make_variety(crop="tomatillo")),
        "its test was void": make_lot(bean),
        "tubers": make_lot(make_variety(crop="potato", breeding_status="clone"), seeds=60),
        "tubers tested": make_lot(
            make_variety(crop="potato", breeding_status="clone"), seeds=90
        ),
        "handed to a member": make_lot(bean),
    }
    for lot in lots.values():
        services.expect_first_test(lot=lot, on=lot.received_on)
    record(lots["good"], 47, 46)
    record(lots["near the standard"], 37, 36)
    record(lots["poor"], 20, 22)
    record(lots["dishes disagree"], 48, 20)
    record(lots["dishes disagreed once"], 48, 20)
    record(lots["dishes disagreed once"], 44, 45, days=LATER)
    record(lots["moved to the freezer"], 45, 46)
    stock.move_lot(
        lot=lots["moved to the freezer"], storage_place=freezer, on=LATER[0], by=desk
    )
    record(lots["wanted for a sowing"], 9, 8, seeds=10)
    record(lots["fell from its first result"], 49, 49)
    record(lots["fell from its first result"], 40, 40, days=LATER)
    record(lots["nothing published"], 45, 44)
    void = record(lots["its test was void"], 45, 44)
    services.void_test(test=void, reason="the dishes dried out", by=desk)
    record(lots["tubers tested"], 9, seeds=10)
    stock.hand_to_custodian(
        lot=lots["handed to a member"], custodian=desk, on=LATER[0], by=desk
    )
    for name, ahead in (("never tested and wanted", 62), ("wanted for a sowing", 160)):
        PlannedSowing.objects.create(lot=lots[name], on=TODAY + ahead * DAY, what_for="2027")
    return lots


def kept(lot):
    """All that is kept of a lot's next test and its estimate, but for when it was computed."""
    stamps = {"id", "set_at", "computed_at"}
    rows = [model.objects.filter(lot=lot).values().first() for model in (TestDate, LotEstimate)]
    held = Lot.objects.get(pk=lot.pk).awaits_first_test
    return [
        row and {name: value for name, value in row.items() if name not in stamps}
        for row in rows
    ] + [held]


def close_to(one):
    """Floats of the two ways may differ in their last digits."""
    if isinstance(one, float):
        return pytest.approx(one, abs=1e-9)
    if isinstance(one, dict):
        return {name: close_to(value) for name, value in one.items()}
    return [close_to(value) for value in one] if isinstance(one, list) else one


@pytest.mark.parametrize("batch", [4, 512])
def test_all_lots_together_come_out_as_each_alone(some_of_everything, batch):
    alone = {}
    for name, lot in some_of_everything.items():
        settle(lot, on=TODAY)
        alone[name] = kept(lot)
    TestDate.objects.update(due_on=TODAY, rule="first_test", inputs={}, source="wrong")
    LotEstimate.objects.filter(pk__gt=LotEstimate.objects.earliest("pk").pk).delete()
    LotEstimate.objects.update(low=0, median=0, high=0, chance=0, evidence=[], inputs={})

    done = recompute(on=TODAY, batch=batch)

    assert {name: kept(lot) for name, lot in some_of_everything.items()} == close_to(alone)
    assert (done.lots, done.total, done.finished) == (15, 15, True)
    rules = {date["rule"] for date, *_ in alone.values()}
    assert {"replicates_disagree", "first_test", "retest_before_sowing"} < rules
    assert len(rules) >= 7


def test_a_day_that_stays_is_not_written_again(make_lot, record):
    lot = make_lot()
    record(lot, 45, 46)
    recompute(on=TODAY)
    before = TestDate.objects.get(lot=lot)

    recompute(on=TODAY + DAY)

    assert TestDate.objects.get(lot=lot).set_at == before.set_at
    assert LotEstimate.objects.get(lot=lot).on == TODAY + DAY


def test_another_standard_moves_the_days(make_lot, variety, record, coordinator):
    lot = make_lot(variety)
    record(lot, 45, 45)
    recompute(on=TODAY)
    before = TestDate.objects.get(lot=lot).due_on

    services.save_bench_rules(standard_percent=85, by=coordinator)
    again = recompute(on=TODAY, again=True)

    assert TestDate.objects.get(lot=lot).due_on < before
    assert again.moved == 1
    assert LotEstimate.objects.get(lot=lot).standard_percent == 85


def test_a_lot_without_seed_is_left_alone(make_lot, record, desk):
    lot = make_lot(seeds=120)
    record(lot, 45, 46)
    stock.discard_rest(lot=lot, on=LATER[0], by=desk, reason="mould")
    before = kept(lot)

    done = recompute(on=TODAY)

    assert done.total == 0
    assert kept(lot) == before


def test_a_round_that_was_stopped_goes_on_where_it_was(make_lot):
    lots = [make_lot() for _ in range(7)]

    part = recompute(on=TODAY, batch=2, stop=stop_after(2))
    done_by_then = set(LotEstimate.objects.values_list("lot_id", flat=True))
    LotEstimate.objects.update(low=0)
    whole = recompute(on=TODAY, batch=2)

    assert (part.lots, part.total, part.finished) == (4, 7, False)
    assert done_by_then == {lot.pk for lot in lots[:4]}
    assert (whole.lots, whole.finished) == (7, True)
    assert LotEstimate.objects.filter(low=0).count() == 4  # those were not done again


def test_a_round_that_was_killed_loses_no_lot(make_lot, monkeypatch):
    for _ in range(5):
        make_lot()
    real, calls = many.Shelf.found_of, []

    def killed_the_second_time(shelf, lots):
        calls.append(lots)
        if len(calls) == 2:
            raise KeyboardInterrupt
        return real(shelf, lots)

    monkeypatch.setattr(many.Shelf, "found_of", killed_the_second_time)
    with pytest.raises(KeyboardInterrupt):
        recompute(on=TODAY, batch=2)
    assert Recompute.current().lots == 2

    done = recompute(on=TODAY, batch=2)

    assert (done.lots, done.finished) == (5, True)
    assert LotEstimate.objects.filter(on=TODAY).count() == 5


def test_a_round_that_is_over_is_not_begun_again_that_day(make_lot, django_assert_num_queries):
    make_lot()
    recompute(on=TODAY)

    with django_assert_num_queries(1):
        done = recompute(on=TODAY)

    assert done.finished
    assert not recompute(on=TODAY + DAY, stop=lambda: True).finished


def test_whoever_asks_gets_a_new_round_the_same_day(make_lot, coordinator):
    make_lot()
    recompute(on=TODAY)
    LotEstimate.objects.update(low=0)

    round_ = ask_recompute(by=coordinator)
    recompute(on=TODAY)

    assert round_.asked_by == coordinator
    assert LotEstimate.objects.get().low > 0
    assert Recompute.current().is_over(TODAY)


def test_two_processes_meet_in_the_middle(make_lot, monkeypatch):
    lots = [make_lot() for _ in range(7)]
    real = many.Shelf.found_of

    def found_of(shelf, some):
        """Before the fourth lot is written, the other process comes as far as the third."""
        monkeypatch.setattr(many.Shelf, "found_of", real)
        recompute(on=TODAY, batch=3, stop=stop_after(2))
        return real(shelf, some)

    recompute(on=TODAY, stop=lambda: True)
    monkeypatch.setattr(many.Shelf, "found_of", found_of)
    done = recompute(on=TODAY, batch=4, from_end=True)

    assert (done.lots, done.total, done.finished) == (7, 7, True)
    assert LotEstimate.objects.filter(on=TODAY).count() == len(lots)


def stop_after(batches):
    asked = iter([False] * batches)
    return lambda: next(asked, True)


def test_from_the_end_all_lots_are_done_too(make_lot):
    for _ in range(5):
        make_lot()

    part = recompute(on=TODAY, batch=2, from_end=True, stop=stop_after(1))
    last_two = set(LotEstimate.objects.values_list("lot_id", flat=True))
    whole = recompute(on=TODAY, batch=2)

    assert part.lots == 2
    assert last_two == set(Lot.objects.order_by("-pk").values_list("pk", flat=True)[:2])
    assert (whole.lots, whole.finished) == (5, True)


def test_progress_is_told_after_each_batch(make_lot):
    for _ in range(5):
        make_lot()
    told = []

    recompute(on=TODAY, batch=2, progress=told.append)

    assert [so_far.lots for so_far in told] == [2, 4, 5, 5]
    assert [so_far.finished for so_far in told] == [False, False, False, True]


def test_who_settles_a_lot_meanwhile_has_the_last_word(make_lot, record, monkeypatch):
    lot = make_lot()
    record(lot, 45, 46)
    real = many.Shelf.found_of

    def found_of(shelf, lots):
        found = real(shelf, lots)
        record(lot, 20, 21, days=LATER)  # read already, not yet written
        return found

    monkeypatch.setattr(many.Shelf, "found_of", found_of)
    recompute(on=TODAY)

    assert TestDate.objects.get(lot=lot).rule == "retest_below_standard"
    assert len(LotEstimate.objects.get(lot=lot).evidence) == 2


def test_a_lot_whose_record_cannot_be_does_not_keep_the_others_waiting(
    make_lot, record, caplog
):
    odd, sound = make_lot(), make_lot()
    record(odd, 45, 46)
    long_ago = dt.date(2019, 3, 1)  # long before the lot was harvested
    odd.germination_tests.update(started_on=long_ago, closed_on=long_ago)
    before = kept(odd)

    done = recompute(on=TODAY)

    assert (done.lots, done.finished) == (1, True)
    assert LotEstimate.objects.get(lot=sound).on == TODAY
    assert kept(odd) == before
    assert f"Lot {odd.number} cannot be estimated" in caplog.text


def test_what_was_decided_of_a_lot_stays(make_lot, record):
    lot = make_lot()
    record(lot, 20, 21)
    LotEstimate.objects.update(decided="keep")

    recompute(on=TODAY)

    estimate = LotEstimate.objects.get(lot=lot)
    assert (estimate.decided, estimate.on) == ("keep", TODAY)


@pytest.mark.parametrize("lots", [1, 6])
def test_more_lots_take_no_more_queries(make_lot, record, django_assert_max_num_queries, lots):
    for _ in range(lots):
        lot = make_lot()
        record(lot, 45, 46)
        PlannedSowing.objects.create(lot=lot, on=TODAY + DAY, what_for="2027")
    Recompute.current()

    with django_assert_max_num_queries(45):
        recompute(on=TODAY)


def test_the_command_says_what_it_did(make_lot, capsys):
    make_lot()

    call_command("recompute_dates")
    call_command("recompute_dates")
    call_command("recompute_dates", again=True)

    said = capsys.readouterr().out.splitlines()
    today = timezone.localdate()
    assert said == [f"1 of 1 lots are computed for {today}; 0 test days moved."] * 3


def test_ctrl_c_stops_the_command_after_the_lots_in_hand(make_lot, capsys, monkeypatch):
    make_lot()
    real = many.Shelf.found_of

    def interrupted(shelf, lots):
        os.kill(os.getpid(), signal.SIGINT)
        return real(shelf, lots)

    monkeypatch.setattr(many.Shelf, "found_of", interrupted)
    call_command("recompute_dates")

    assert "Stopped: 1 of 1 lots" in capsys.readouterr().out
    assert LotEstimate.objects.count() == 1


def test_a_coordinator_has_all_days_computed_and_sees_how_far_it_is(as_coordinator, make_lot):
    address = reverse("bench-recompute")
    for _ in range(3):
        make_lot()

    never = as_coordinator.get(address).content.decode()
    asked = as_coordinator.post(address, follow=True).content.decode()
    recompute(on=TODAY, batch=2, stop=stop_after(1))
    begun = as_coordinator.get(address).content.decode()
    recompute(on=TODAY)
    over = as_coordinator.get(address).content.decode()

    assert "It was never done yet." in never
    assert "It was asked for and has not begun." in asked
    assert "2 of 3 lots are done." in begun
    assert "3 lots." in over


def test_the_job_of_the_schedule_goes_on_with_todays_round(make_lot):
    make_lot()

    assert recompute_dates() == 1
    assert Recompute.current().is_over(timezone.localdate())
    assert job_named("recompute test days").task.endswith("recompute_dates")


def test_the_first_test_of_a_lot_follows_the_rules_of_the_bench(make_lot, coordinator):
    lot = make_lot()
    services.expect_first_test(lot=lot, on=lot.received_on)
    BenchRules.objects.update(first_test_within_days=30)

    recompute(on=TODAY)

    assert TestDate.objects.get(lot=lot).due_on == lot.received_on + 30 * DAY
