"""Germination tests in a real browser: planned, counted over days, decided, corrected."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from playwright.sync_api import expect

from library.germination.models import DayCount, GerminationTest, ShelfDecision
from library.germination.services import (
    count_dish,
    expect_first_test,
    expect_sowing,
    finish_group,
    plan_test,
    record_test,
    start_test,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE = 390


def ago(days: int) -> dt.date:
    return timezone.localdate() - dt.timedelta(days=days)


@pytest.fixture
def lot(make_lot, variety, valley, long_ago):
    """Five hundred drying beans that wait for their first test."""
    lot = make_lot(variety, on=long_ago, harvest_year=long_ago.year)
    expect_first_test(lot=lot, on=long_ago)
    return lot


@pytest.fixture
def running(lot, desk):
    """Two dishes of 25, laid out eight days ago."""
    return start_test(lot=lot, replicates=2, seeds_each=25, on=ago(8), by=desk)


@pytest.fixture
def few(lot, desk):
    """The first ten of at most fifty, laid out eight days ago."""
    return start_test(lot=lot, kind="sequential", on=ago(8), by=desk)


def closed(lot, desk, *normal: int) -> GerminationTest:
    return record_test(
        lot=lot,
        replicates=[{"seeds": 50, "normal": n} for n in normal],
        started_on=ago(30),
        closed_on=ago(20),
        by=desk,
    )


def dish(walker, number: int):
    return walker.page.locator(f"#dish-{number}")


def saved(walker, number: int, words: str) -> None:
    """The dish says that it is saved, and how much is taken out of it."""
    expect(dish(walker, number).locator(".saved")).to_contain_text("Saved at")
    expect(dish(walker, number).locator(".accounted")).to_contain_text(words)


def test_a_test_is_planned_laid_out_counted_over_days_and_closed(walk, lot, coordinator):
    owl = walk(coordinator)
    owl.open("/bench/", "The bench")
    owl.follow(f"Plan or start {lot.number}")
    owl.arrive("Plan a germination test")
    owl.write("Dishes", "2")
    owl.write("Seeds in each", "25")
    owl.reads("50 of the 500 that are left: 10 %.")
    owl.push("Plan it for that day")
    owl.reads("Planned for")
    test = GerminationTest.objects.get()
    owl.arrive(f"Germination test {test.pk}, Tarn Kettle")
    owl.follow("Lay it out")
    owl.arrive("Lay out the planned test")
    owl.write("Laid out on", ago(8).isoformat())
    owl.push("Draw the seed and start")
    owl.reads("Started. Write the test's number on the dishes.")
    lot.refresh_from_db()
    assert lot.balance == 450

    owl.follow("Count", exact=True)
    owl.arrive(f"Count test {test.pk}, Tarn Kettle")
    owl.press(owl.page.locator("summary", has_text="Counted on another day?"))
    owl.write("Day", ago(3).isoformat())
    owl.push("Show that day")
    owl.arrive(f"Count test {test.pk}, Tarn Kettle")
    owl.reads(f"These are the counts of {date_format(ago(3), 'j F Y')}, not of today.")
    owl.write("Normal", "18", inside=dish(owl, 1))
    owl.push("+1 Normal, dish 1")
    saved(owl, 1, "19 of 25 taken out, 6 left in the dish")

    owl.open(f"/tests/{test.pk}/count/", f"Count test {test.pk}, Tarn Kettle")
    owl.reads("19 normal, 0 abnormal, 0 dead")
    for _tap in range(3):
        owl.push("+1 Normal, dish 1")
    owl.push("+1 Dead, dish 1")
    owl.push("−1 Normal, dish 1")
    saved(owl, 1, "22 of 25 taken out, 3 left in the dish")
    owl.write("Normal", "22", inside=dish(owl, 2))
    owl.push("+1 Abnormal, dish 2")
    saved(owl, 2, "23 of 25 taken out, 2 left in the dish")

    owl.follow("Close the test")
    owl.arrive("Close the test")
    first = owl.page.get_by_role("group", name="Dish 1")
    owl.write("Hard", "2", inside=first)
    expect(first.get_by_label("Dead")).to_have_value("2")
    owl.push("Close the test")
    owl.arrive(f"Germination test {test.pk}, Tarn Kettle")

    # Clopper and Pearson's interval of 43 in 50, as scipy.stats.binomtest gives it.
    owl.reads("86 % germinated", "surely between 73 % and 94 %", "The dishes agree")
    owl.reads("Counted by day")
    assert [
        (count.replicate.number, count.on, count.normal, count.abnormal, count.dead)
        for count in DayCount.objects.order_by("replicate__number", "on")
    ] == [(1, ago(3), 19, 0, 0), (1, ago(0), 2, 0, 1), (2, ago(0), 22, 1, 0)]
    owl.follow(lot.number)
    owl.arrive(f"Lot {lot.number}, Tarn Kettle")
    retest = lot.test_date
    owl.reads(f"To be tested again by {date_format(retest.due_on, 'j F Y')}.", retest.why)
    lot.refresh_from_db()
    assert (retest.kind, lot.awaits_first_test) == ("retest", False)


def test_few_seeds_are_sown_group_by_group_until_they_decide(walk, lot, few, desk):
    """Wald 1945: above at ln 9 = 2.20; 8 of 10 are at 8 x 0.215 - 2 x 0.511 = 0.70, and 18 of
    20 at 18 x 0.215 - 2 x 0.511 = 2.85.
    """
    heron = walk(desk)
    heron.open("/window-sill/", "On the window sill")
    heron.follow("Tarn Kettle")
    heron.arrive(f"Count test {few.pk}, Tarn Kettle")
    heron.write("Normal", "7", inside=dish(heron, 1))
    heron.push("+1 Normal, dish 1")
    saved(heron, 1, "8 of 10 taken out")
    heron.reads("Whatever the 2 left do, another 10 are sown after them.")
    heron.follow("Finish the group")
    heron.arrive("Finish the group")
    heron.push("Finish the group")
    heron.arrive(f"Germination test {few.pk}, Tarn Kettle")
    heron.reads("8 of 10 seeds germinated. Not decided: sow another 10, at most 50 in all.")

    heron.push("Sow another 10")
    heron.reads("10 sown as group 2.")
    heron.follow("Count", exact=True)
    heron.arrive(f"Count test {few.pk}, Tarn Kettle")
    heron.write("Normal", "9", inside=dish(heron, 2))
    heron.push("+1 Normal, dish 2")
    saved(heron, 2, "10 of 10 taken out")
    heron.reads("18 of 20 seeds germinated. Above the standard.")
    heron.follow("Finish the group")
    heron.arrive("Finish the group")
    heron.push("Finish the group")
    heron.arrive(f"Germination test {few.pk}, Tarn Kettle")

    few.refresh_from_db()
    lot.refresh_from_db()
    heron.reads("90 % germinated", "18 of 20 seeds germinated. Above the standard.")
    assert (few.state, few.verdict, lot.balance) == ("closed", "above", 480)


def test_a_result_is_corrected_and_what_it_was_is_kept(walk, lot, desk):
    test = closed(lot, desk, 44, 41)
    heron = walk(desk)
    heron.open(f"/tests/{test.pk}/", f"Germination test {test.pk}, Tarn Kettle")
    heron.follow("Amend")
    heron.arrive("Amend the test")

    heron.write("Normal", "40", inside=heron.page.get_by_role("group", name="Dish 1"))
    heron.push("Amend it")
    heron.arrive("Amend the test")
    heron.reads("Why: This field is required.")
    heron.write("Why", "four were abnormal")
    heron.write("Dead", "10", inside=heron.page.get_by_role("group", name="Dish 1"))
    heron.push("Amend it")

    heron.arrive(f"Germination test {test.pk}, Tarn Kettle")
    heron.reads("81 % germinated", "Amended", "four were abnormal (heron)")
    heron.reads("Dish 1: normal 44, dead 6 → normal 40, dead 10")


def test_a_lot_to_be_regrown_is_taken_off_the_shelf_by_the_coordinator(
    walk, lot, desk, coordinator
):
    closed(lot, desk, 20, 22)
    owl = walk(coordinator)
    owl.open("/bench/", "The bench")
    owl.reads("To regrow", "not decided")
    owl.follow(f"Decide {lot.number}")
    owl.arrive("Keep lending it?")
    owl.press(owl.page.get_by_label("goes on being lent"))
    if owl.way.by_keyboard:
        owl.page.keyboard.press("ArrowDown")
    else:
        owl.press(owl.page.get_by_label("taken off the lending shelf"))
    owl.write("Why", "kept to regrow it next spring")
    owl.push("Decide")

    owl.arrive(f"Lot {lot.number}, Tarn Kettle")
    owl.reads("A coordinator decided: taken off the lending shelf.")
    lot.refresh_from_db()
    assert lot.withheld_reason == "kept to regrow it next spring"
    assert ShelfDecision.objects.get().decision == "withhold"


def test_lots_that_are_due_are_ticked_and_planned_together(walk, lot, make_lot, coordinator):
    other = make_lot(lot.variety, on=lot.received_on)
    expect_first_test(lot=other, on=lot.received_on)
    owl = walk(coordinator)
    owl.open("/bench/", "The bench")
    for due in (lot, other):
        owl.press(owl.page.get_by_role("checkbox", name=f"Plan {due.number}"))
    owl.push("Plan the ticked lots")
    owl.arrive("Plan these tests")
    owl.reads("2 lots, 100 seeds as suggested")
    owl.push("Plan them")

    owl.arrive("The bench")
    owl.reads("2 tests are planned.", "Planned")
    assert GerminationTest.objects.planned().count() == 2


def test_dishes_are_counted_without_a_script(walk, running, desk):
    heron = walk(desk, scripts=False)
    heron.open(f"/tests/{running.pk}/count/", f"Count test {running.pk}, Tarn Kettle")
    heron.write("Normal", "19", inside=dish(heron, 2))
    heron.push("Save dish 2")
    heron.reads("Dish 2 is saved.", "19 of 25 taken out, 6 left in the dish")
    heron.write("Normal", "26", inside=dish(heron, 2))
    heron.push("Save dish 2")

    heron.reads("Dish 2 was sown with 25, but 26 were counted.")
    assert DayCount.objects.get().normal == 19


def test_what_cannot_be_is_said_beside_the_dish_and_heard(page_at, axe, running, desk):
    page = page_at(PHONE, member=desk)
    page.goto(reverse("test-count", args=[running.pk]))
    first = page.locator("#dish-1")

    first.get_by_label("Normal", exact=True).fill("26")
    first.get_by_label("Dead", exact=True).focus()

    expect(first.get_by_role("alert")).to_have_text(
        "Not saved. Dish 1 was sown with 25, but 26 were counted.", use_inner_text=True
    )
    expect(first.get_by_label("Normal", exact=True)).to_have_value("26")
    axe(page)
    assert DayCount.objects.count() == 0
    page.complaints.clear()  # the console notes the answer 400


def test_a_saved_count_is_heard(page_at, running, desk):
    page = page_at(PHONE, member=desk)
    page.goto(reverse("test-count", args=[running.pk]))

    page.get_by_role("button", name="+1 Normal, dish 1").click()

    expect(page.locator("#live")).to_have_text("Saved. Dish 1: 1 normal, 0 abnormal, 0 dead.")


def test_a_count_out_of_reach_says_so_and_is_saved_when_the_server_is_back(
    page_at, fits, snap, running, desk
):
    page = page_at(PHONE, member=desk)
    page.goto(reverse("test-count", args=[running.pk]))
    first = page.locator("#dish-1")

    page.context.set_offline(True)
    page.get_by_role("button", name="+1 Normal, dish 1").click(click_count=2)
    expect(first.locator(".not-saved")).to_contain_text("the server cannot be reached")
    expect(first.get_by_role("button", name="Save again")).to_be_visible()
    fits(page)
    snap(page, "not-saved")
    lost = DayCount.objects.count()
    page.context.set_offline(False)
    expect(first.locator(".saved")).to_be_visible(timeout=15_000)

    assert (lost, DayCount.objects.get().normal) == (0, 2)
    expect(first.locator(".not-saved")).to_have_count(0)
    page.complaints.clear()  # the console notes each request that failed


def test_an_answer_that_is_lost_does_no_harm(page_at, running, desk):
    page = page_at(PHONE, member=desk)
    page.goto(reverse("test-count", args=[running.pk]))
    lost = []

    def lose_the_first(route):
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().status)
        route.abort()

    page.route("**/dishes/1/", lose_the_first)
    page.get_by_role("button", name="+1 Normal, dish 1").click()
    expect(page.locator("#dish-1 .not-saved")).to_be_visible()
    expect(page.locator("#dish-1 .saved")).to_be_visible(timeout=15_000)

    assert lost == [200]
    assert DayCount.objects.get().normal == 1
    page.complaints.clear()


def test_every_form_of_the_bench_fits_and_is_usable_in_light_and_dark(
    page_at, width, scheme, axe, fits, snap, lot, few, coordinator
):
    planned = plan_test(lot=lot, on=ago(0), by=coordinator)
    sowing = expect_sowing(lot=lot, on=ago(-150), what_for="the mill", by=coordinator)
    addresses = [
        reverse("bench-rules"),
        reverse("sowing-add", args=[lot.number]),
        reverse("sowing-drop", args=[sowing.pk]),
        reverse("test-start", args=[lot.number]) + "?kind=sequential",
        reverse("test-begin", args=[planned.pk]),
        reverse("test-finish", args=[few.pk]),
        reverse("test-sow-more", args=[few.pk]),
        reverse("test-void", args=[few.pk]),
        lot.get_absolute_url(),
    ]
    page = page_at(width, scheme=scheme, member=coordinator)

    for number, address in enumerate(addresses):
        assert page.goto(address).status == 200
        fits(page)
        axe(page)
        snap(page, f"form-{number}-{width}-{scheme}")


def test_few_seeds_read_on_paper_without_their_buttons(page_at, snap, few, desk):
    group = few.replicates.get()
    count_dish(dish=group, on=ago(1), by=desk, normal=7)
    finish_group(test=few, on=ago(0), by=desk)
    page = page_at(1280, member=desk)
    page.goto(reverse("test", args=[few.pk]))
    page.emulate_media(media="print")

    expect(page.locator("main")).to_contain_text("7 of 10 seeds germinated.")
    expect(page.get_by_role("button", name="Sow another")).to_be_hidden()
    snap(page, "few-seeds-print")


def test_a_test_that_is_over_is_written_down_at_once(walk, lot, desk):
    heron = walk(desk)
    heron.open(lot.get_absolute_url(), f"Lot {lot.number}, Tarn Kettle")
    heron.follow("Record a test")
    heron.arrive("Record a germination test")
    heron.follow("2 dishes")
    heron.page.wait_for_url("**?dishes=2")
    heron.arrive("Record a germination test")
    heron.write("Started on", ago(8).isoformat())
    heron.write("Counted on", ago(0).isoformat())
    for number, normal in ((1, "50"), (2, "35")):
        group = heron.page.get_by_role("group", name=f"Dish {number}")
        heron.write("Sown", "50", inside=group)
        heron.write("Normal", normal, inside=group)
    heron.push("Record it")
    heron.reads("Recorded.")

    # Clopper and Pearson's interval of 85 in 100, as scipy.stats.binomtest gives it.
    heron.reads("85 % germinated", "surely between 76 % and 91 %")
    heron.reads("Dishes disagree: test again", "The dishes differ too much: 30 points apart")
    lot.refresh_from_db()
    assert (lot.balance, lot.test_date.rule) == (400, "replicates_disagree")
    assert lot.test_date.due_on == timezone.localdate()
    assert lot.awaits_first_test
