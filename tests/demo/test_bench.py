"""The demo's bench: tests of every kind, and something in each section on the last day."""

from __future__ import annotations

from collections import Counter

import pytest

from library.germination.models import (
    DayCount,
    GerminationTest,
    LotEstimate,
    PlannedSowing,
    ShelfDecision,
    TestAmendment,
    TestDate,
)
from library.germination.results import result_of
from library.stock.models import Keeping, Lot
from tests.demo.conftest import TODAY

pytestmark = pytest.mark.usefixtures("demo")


def disagreeing() -> list[GerminationTest]:
    closed = GerminationTest.objects.closed().with_results()
    return [test for test in closed if result_of(test).replicates_agree is False]


def test_lately_tests_are_planned_and_counted_on_several_days():
    days = Counter(DayCount.objects.values_list("replicate__test", flat=True).distinct())

    counted = DayCount.objects.values("replicate__test", "on").distinct()
    looks = Counter(counted.values_list("replicate__test", flat=True))
    assert len(days) >= 60
    assert max(looks.values()) >= 3


def test_what_was_counted_by_day_lies_within_its_test():
    counts = DayCount.objects.select_related("replicate__test")

    assert [
        count
        for count in counts
        if not count.replicate.test.started_on <= count.on <= TODAY
        or (count.replicate.test.closed_on or TODAY) < count.on
    ] == []


def test_small_and_rare_lots_are_tested_with_few_seeds():
    few = GerminationTest.objects.closed().filter(kind="sequential")

    verdicts = Counter(few.values_list("verdict", flat=True))
    spent = [sum(dish.seeds for dish in test.replicates.all()) for test in few]
    assert verdicts["above"] >= 5
    assert verdicts["below"] >= 1
    assert len({len(test.replicates.all()) for test in few}) > 1
    assert [s for s, test in zip(spent, few, strict=True) if s > test.most_seeds] == []


def test_dishes_disagreed_and_the_lot_was_tested_again():
    again = [
        test
        for test in disagreeing()
        if GerminationTest.objects.filter(lot=test.lot, started_on__gte=test.closed_on).exists()
    ]

    assert len(again) >= 1


def test_dishes_that_disagree_wait_on_the_last_day():
    waiting = TestDate.objects.with_seed().filter(rule="replicates_disagree")

    assert 1 <= waiting.count() <= 8


def test_a_test_was_amended_with_a_reason():
    amendment = TestAmendment.objects.get()

    assert amendment.reason.startswith("two seedlings had no root")
    assert amendment.new_value["normal"] == amendment.old_value["normal"] - 2


def test_dishes_stand_on_the_window_sill_and_more_are_planned():
    running = GerminationTest.objects.running()
    counted = running.filter(replicates__day_counts__isnull=False).distinct()

    assert 2 <= running.count() <= 25
    assert counted.count() >= 1
    assert 1 <= GerminationTest.objects.planned().count() <= 20


def test_a_handful_is_due_and_not_a_heap():
    assert 3 <= TestDate.objects.due(TODAY).count() <= 40


def test_jars_went_from_the_cupboard_by_the_refrigerator_into_the_freezer():
    ways = {}
    for keeping in Keeping.objects.select_related("storage_place").order_by("since", "pk"):
        ways.setdefault(keeping.lot_id, []).append(keeping.storage_place.name)

    by_cool = [way for way in ways.values() if "Jar box: onions, leeks, parsnips" in way[1:]]
    assert [way for way in by_cool if way[0].startswith("Tin")] != []
    assert [way for way in by_cool if way[-1] == "Foil box: reserve"] != []


def test_jars_lie_where_nobody_has_measured():
    assert Keeping.objects.filter(storage_place__name="Loft over the mill").count() >= 3


def test_some_lots_to_regrow_are_decided_either_way_and_some_are_not():
    flagged = LotEstimate.objects.to_regrow()

    decided = Counter(ShelfDecision.objects.values_list("decision", flat=True))
    assert set(decided) == {"keep", "withhold"}
    assert flagged.filter(decided="").count() >= 2
    withheld = Lot.objects.filter(shelf_decisions__decision="withhold")
    assert [lot for lot in withheld if not lot.withheld_reason] == []


def test_grow_outs_of_the_next_spring_count_on_lots():
    sowings = PlannedSowing.objects.all()

    assert sowings.count() >= 5
    assert sowings.filter(on__lte=TODAY).count() == 0


def test_estimates_agree_with_what_the_dishes_say():
    """Of lots tested this year, few have a newest result outside a generous band."""
    tested = LotEstimate.objects.filter(lot__germination_tests__closed_on__year=TODAY.year)
    known = [estimate for estimate in tested.distinct() if estimate.evidence]

    assert len(known) >= 30
    assert len([row for row in known if not _agrees(row)]) <= len(known) / 10


def _agrees(estimate: LotEstimate) -> bool:
    _test, germinated, sown = estimate.evidence[-1]
    share = germinated / sown
    spread = 2 * (share * (1 - share) / sown) ** 0.5
    return estimate.low - spread <= share <= estimate.high + spread
