"""What must always be true (design, section 3), counted again from the rows of the demo."""

from __future__ import annotations

from collections import Counter, defaultdict
from decimal import Decimal

import pytest

from accounts.models import Member
from library.errors import NotEnough
from library.growouts.models import CommitmentLoan
from library.lending.models import LendingRules, Loan, Return
from library.lending.services import lend_packet, reserve_of
from library.lending.services.reserve import figures_of, population_of
from library.stock.checks import problems
from library.stock.models import Lot, LotParent, Movement, Packet

pytestmark = pytest.mark.usefixtures("demo")


def test_every_balance_is_the_sum_of_its_movements_and_was_never_negative():
    loose, packed = Counter(), Counter()
    lowest = 0

    for lot, in_jar, in_packets in Movement.objects.order_by("pk").values_list(
        "lot", "loose_change", "packed_change"
    ):
        loose[lot] += in_jar
        packed[lot] += in_packets
        lowest = min(lowest, loose[lot], packed[lot])

    kept = list(Lot.objects.values_list("pk", "loose", "packed"))
    assert kept == [(pk, loose[pk], packed[pk]) for pk, _loose, _packed in kept]
    assert lowest == 0


def test_the_seeds_in_packets_are_those_of_the_packets_on_the_shelf():
    on_shelf = Counter()
    for lot, seeds in Packet.objects.on_shelf().values_list("lot", "seeds"):
        on_shelf[lot] += seeds

    packed = dict(Lot.objects.filter(packed__gt=0).values_list("pk", "packed"))

    assert packed == dict(on_shelf)


def test_the_librarys_own_check_finds_nothing():
    assert list(problems()) == []


def test_a_packet_that_is_out_is_out_once():
    open_loans = Counter(Loan.objects.open().values_list("packet", flat=True))
    lent = set(Packet.objects.filter(state="lent").values_list("pk", flat=True))

    assert set(open_loans.values()) == {1}
    assert set(open_loans) <= lent


def test_a_packet_that_was_sown_never_came_back_to_the_shelf():
    sown = Loan.objects.filter(outcome__in=["returned", "crop_failed", "nothing_to_return"])

    assert set(sown.values_list("packet__state", flat=True)) == {"lent"}


def test_the_chain_has_no_cycle():
    parents = defaultdict(set)
    for child, parent in LotParent.objects.values_list("child", "parent"):
        parents[child].add(parent)

    settled: set[int] = set()
    lots = set(Lot.objects.values_list("pk", flat=True))
    while ready := {lot for lot in lots - settled if parents[lot] <= settled}:
        settled |= ready

    assert settled == lots


def test_no_parent_was_harvested_after_its_child():
    links = LotParent.objects.values_list("parent__harvest_year", "child__harvest_year")
    known = [(parent, child) for parent, child in links if parent and child]

    assert len(known) > 200
    assert [pair for pair in known if pair[0] > pair[1]] == []


def test_a_childs_shares_sum_to_one():
    shares = defaultdict(Decimal)
    for child, share in LotParent.objects.values_list("child", "share"):
        shares[child] += share

    assert set(shares.values()) == {Decimal(1)}


def test_the_parents_of_returned_seed_are_the_lots_that_were_lent():
    received = Return.objects.filter(state="received").prefetch_related(
        "loan_links__loan__packet", "lot__parent_links"
    )

    for seed_return in received:
        lent = {link.loan.packet.lot_id for link in seed_return.loan_links.all()}
        assert {link.parent_id for link in seed_return.lot.parent_links.all()} == lent


def test_only_deposits_are_without_parents():
    without = Lot.objects.kept_here().filter(parent_links=None)
    with_parents = Lot.objects.filter(origin="deposit", parent_links__isnull=False)

    assert set(without.values_list("origin", flat=True)) == {"deposit"}
    # But for what came out of another library's jar.
    assert {link.parent.origin for lot in with_parents for link in lot.parent_links.all()} == {
        "elsewhere"
    }


def test_no_loan_left_fewer_seeds_than_the_reserves_plants():
    """Each reserve is at least so many seeds as plants are wanted, were all to sprout."""
    sowings = LendingRules.current().reserve_sowings
    movements = Movement.objects.order_by("pk").select_related("lot__variety__crop__species")
    have: Counter = Counter()
    least: dict[int, int] = {}
    short = []
    granted = set(CommitmentLoan.objects.values_list("loan__packet", flat=True))
    assert granted

    for movement in movements:
        variety = movement.lot.variety
        have[variety.pk] += movement.loose_change + movement.packed_change
        if movement.kind != "lent" or variety.breeding_status == "f1":
            continue
        if movement.packet_id in granted:  # a coordinator's grow-out may use the reserve
            continue
        if variety.pk not in least:
            least[variety.pk] = sowings * population_of(variety, figures_of(variety)).plants
        if have[variety.pk] < least[variety.pk]:
            short.append((variety.name, movement.on, have[variety.pk]))

    assert len(least) > 80
    assert short == []


def test_a_variety_at_its_reserve_is_not_lent_even_against_the_rules():
    packets = Packet.objects.on_shelf().with_lot().filter(lot__withheld_reason="")
    at_reserve = [
        packet
        for packet in packets.order_by("lot__variety_id", "pk").distinct()
        if not reserve_of(packet.lot.variety).allows(packet)
    ][:3]
    coordinator = Member.objects.get(display_name="Yarrow")

    assert at_reserve
    for packet in at_reserve:
        with pytest.raises(NotEnough):
            lend_packet(
                packet=packet,
                borrower=coordinator,
                on=packet.sealed_on,
                by=coordinator,
                override_reason="we would like to see",
            )


def test_every_due_date_says_why():
    loans = Loan.objects.values_list("due_rule", "due_inputs")

    assert [rule for rule, inputs in loans if not rule or not inputs] == []


def test_every_test_day_says_why():
    lots = Lot.objects.filter(test_date__isnull=False).select_related("test_date")

    assert [
        lot.number for lot in lots if not (lot.test_date.rule and lot.test_date.inputs)
    ] == []
