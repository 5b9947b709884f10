"""The demo is Tarn Hollow: its numbers, its stories, and what is open today."""

from __future__ import annotations

import csv
import datetime as dt
from collections import Counter

import pytest
from django.conf import settings
from django.db.models import F

from accounts.models import Community, Invitation, Member
from library.catalogue.models import SeasonNote, Variety
from library.demo import source
from library.germination.models import GerminationTest, TestDate
from library.lending.models import Deposit, Loan, Return
from library.stock.models import Growing, Lot, LotAmendment, Movement, Packet, StoragePlace
from tests.demo.conftest import TODAY

pytestmark = pytest.mark.usefixtures("demo")


def test_the_community_is_tarn_hollow():
    assert Community.current().name == "Tarn Hollow Seed Library"


def test_about_forty_people_of_four_roles_are_members():
    roles = Counter(Member.objects.active().values_list("role", flat=True))

    assert roles == {"administrator": 1, "coordinator": 2, "desk": 3, "member": 34}


def test_about_a_hundred_and_twenty_varieties_stand_for_many_crops():
    crops = set(Variety.objects.values_list("crop__name", flat=True))

    assert 115 <= Variety.objects.count() <= 135
    assert len(crops) >= 35


def test_every_crop_of_the_demo_is_in_the_reference():
    with (settings.BASE_DIR / "fixtures/reference/crops.csv").open(encoding="utf-8") as lines:
        known = {row["crop"] for row in csv.DictReader(lines)}

    used = {card["crop"] for card in source.cards()}
    assert used - known == set()
    assert used - set(source.habits()) == set()


def test_seed_was_lent_and_came_back_in_each_of_eight_seasons():
    lent = Counter(Loan.objects.values_list("lent_on__year", flat=True))
    back = Counter(
        Return.objects.filter(lot__isnull=False).values_list("harvest_year", flat=True)
    )

    seasons = range(TODAY.year - 8, TODAY.year)
    assert min(lent[year] for year in seasons) >= 15
    assert min(back[year] for year in seasons) >= 5


def test_nothing_happened_after_today():
    last = [
        Movement.objects.latest("on").on,
        Lot.objects.latest("received_on").received_on,
        Loan.objects.latest("lent_on").lent_on,
    ]

    assert max(last) <= TODAY


def test_loans_ended_in_every_honest_way():
    outcomes = set(Loan.objects.values_list("outcome", flat=True))

    assert outcomes >= {"", "returned", "crop_failed", "nothing_to_return", "taken_back"}


def test_crops_failed_for_many_reasons_one_of_them_a_goat():
    causes = set(
        Loan.objects.filter(outcome="crop_failed").values_list("outcome_note", flat=True)
    )

    assert len(causes) >= 8
    assert len([cause for cause in causes if "goat" in cause]) == 1


def test_some_seed_came_back_in_parts():
    assert Return.objects.filter(state="received", loan_links__closes=False).exists()


def test_a_bean_came_through_one_year_on_two_plants():
    growing = Growing.objects.get(lot__variety__name="Fold Wall", plants_gave_seed=2)

    descendants = Lot.objects.filter(parent_links__parent=growing.lot)
    assert descendants.count() >= 1
    kept = Lot.objects.with_seed().filter(variety__name="Fold Wall")
    assert set(kept.values_list("pk", flat=True)) & _below(growing.lot)


def test_a_pea_was_saved_by_nine_seeds_of_one_old_jar():
    growing = Growing.objects.get(lot__variety__name="Cragwither Brown", plants_stood=9)

    jar = growing.lot.parent_links.get().parent
    test = jar.germination_tests.get(state="closed", started_on__year=growing.lot.harvest_year)
    counts = [(dish.normal, dish.seeds) for dish in test.replicates.all()]
    assert jar.origin == "deposit"
    assert sum(normal for normal, _seeds in counts) < sum(seeds for _n, seeds in counts) / 2
    others = Lot.objects.filter(variety__name="Cragwither Brown", origin="return")
    assert set(others.values_list("pk", flat=True)) == _below(growing.lot) | {growing.lot.pk}


def test_a_hybrid_was_grown_on_until_it_came_true():
    line = Variety.objects.get(name="Lanthorn Amber")
    first = Lot.objects.filter(variety__name="Lanthorn Hill", origin="deposit").get()

    generations = [
        edit.new_value for edit in line.edits.filter(field="generation").order_by("pk")
    ]
    assert line.breeding_status == "stabilised"
    assert generations == ["3", "4", "5", "6", "7", ""]
    assert _depth(first) >= 6


def test_a_crossed_lot_is_kept_and_not_lent():
    lot = Lot.objects.get(withheld_reason__startswith="Crossed")

    assert lot.growing.crossing_neighbour == "Netherfold Lamp pumpkin, over the wall"
    notes = SeasonNote.objects.filter(variety=lot.variety, text__contains=lot.number)
    assert notes.get().readers == "everyone"
    assert lot.balance > 0


def test_the_ledger_has_its_mishaps():
    kinds = set(Movement.objects.values_list("kind", flat=True))

    assert kinds >= {"found_different", "miscounted", "given_away", "bulked_in", "unpacked"}
    assert Movement.objects.filter(mends__isnull=False).count() == 1
    assert Movement.objects.filter(kind="discarded", reason__startswith="mouldy").exists()
    assert Packet.objects.filter(state="missing").count() == 1


def test_what_was_written_wrongly_was_amended():
    fields = set(LotAmendment.objects.values_list("field", flat=True))

    assert fields >= {"harvest_year", "origin_region"}


def test_seed_is_kept_in_many_places_one_of_them_never_measured():
    kinds = set(StoragePlace.objects.values_list("kind", flat=True))

    assert kinds >= {"room", "cupboard", "refrigerator", "freezer", "box"}
    loft = StoragePlace.objects.get(name="Loft over the mill")
    assert (loft.temperature_c, loft.humidity_percent) == (None, None)


def test_some_lots_are_kept_at_home():
    assert 1 <= Lot.objects.exclude(custodian=None).count() <= 6


def test_germination_falls_with_age():
    """Tested within half a year of harvest, against after four years and more."""
    young, old = Counter(), Counter()
    tests = GerminationTest.objects.filter(
        state="closed", lot__counted_as="seed", lot__harvest_year__isnull=False
    )

    for test in tests.select_related("lot").prefetch_related("replicates"):
        years = test.started_on.year - test.lot.harvest_year
        side = young if years <= 1 else old if years >= 4 else None
        if side is not None:
            side["sown"] += sum(dish.seeds for dish in test.replicates.all())
            side["normal"] += sum(dish.normal for dish in test.replicates.all())

    assert young["normal"] / young["sown"] > old["normal"] / old["sown"] + 0.03


def test_notes_are_for_different_readers():
    assert set(SeasonNote.objects.values_list("readers", flat=True)) == {
        "me",
        "members",
        "everyone",
    }


def test_there_is_something_to_answer_today():
    assert Member.objects.waiting().count() == 3
    assert Invitation.objects.open().count() == 2
    assert Deposit.objects.waiting().count() == 3
    assert Return.objects.waiting().count() == 2


def test_loans_are_due_now_soon_and_next_year():
    soon = TODAY + dt.timedelta(days=30)

    assert Loan.objects.overdue(TODAY).count() >= 2
    assert Loan.objects.open().filter(due_on__range=(TODAY, soon)).exists()
    biennial = Loan.objects.open().filter(packet__lot__variety__crop__life_cycle="biennial")
    assert biennial.filter(due_on__year=F("lent_on__year") + 1, due_on__gt=TODAY).exists()


def test_lots_are_due_for_a_first_test_and_for_a_retest():
    due = set(TestDate.objects.due(TODAY).values_list("kind", flat=True))

    assert due == {"first", "retest"}


def _below(lot: Lot) -> set[int]:
    """The keys of everything grown or bulked from a lot."""
    found: set[int] = set()
    ring = {lot.pk}
    while ring:
        ring = set(
            Lot.objects.filter(parent_links__parent__in=ring).values_list("pk", flat=True)
        )
        found |= ring
    return found


def _depth(lot: Lot) -> int:
    """The longest run of generations below a lot."""
    below = [_depth(link.child) for link in lot.child_links.select_related("child")]
    return 1 + max(below) if below else 0
