"""Whatever people do at the desk, in any order: ledger, packets, loans and chain agree.

Hypothesis makes up whole histories of a small library (deposits, packing, lending, returns,
tests, discards, stock-takings, mendings, bulking), right and wrong steps mixed. After each step
the database is added up again and compared with a second set of books that the test keeps in
plain integers. A step that is refused must have changed nothing.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable
from graphlib import TopologicalSorter
from typing import Any

import pytest
import time_machine
from django.db import connection, transaction
from django.db.models import Count, F, Q, Sum
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from accounts.models import Member
from accounts.roles import Role
from library.errors import Refused
from library.germination.models import BenchRules, GerminationTest, TestDate
from library.germination.services import record_test
from library.lending import services
from library.lending.models import Deposit, LendingRules, Loan, LoanEvent, Return
from library.lending.services import Packing
from library.stock import services as stock
from library.stock.checks import problems
from library.stock.models import Lot, LotParent, Movement, Packet, StockTake

# Mostly what people do; now and then what they should not.
SEEDS = st.integers(20, 400) | st.integers(20, 400) | st.integers(-2, 1000)
A_FEW = st.integers(1, 6) | st.integers(1, 6) | st.integers(-1, 60)
RARELY = st.sampled_from([False, False, False, True])
ANY = st.integers(0, 10_000)
LATE = st.sampled_from([0, 0, 0, 0, -1, 1])
WAITS = {"closed_on": None, "handed_over_on": None}
ON_SHELF = {"state": "on_shelf"}
MENDABLE = {"mends": None, "mended_by": None, "packed_change": 0, "loose_change__lt": 0}
IS_OUT = {"closed_on": None, "handed_over_on__isnull": False}
TABLES = (
    Lot,
    LotParent,
    Packet,
    Movement,
    Deposit,
    Loan,
    LoanEvent,
    Return,
    GerminationTest,
    TestDate,
    StockTake,
)


class Library(RuleBasedStateMachine):
    """A library with one bean, one desk and three members."""

    def __init__(self) -> None:
        super().__init__()
        self.transaction = transaction.atomic()
        self.transaction.__enter__()
        people = Member.objects.order_by("pk")
        self.desk = people.get(role=Role.COORDINATOR)
        self.members = list(people.filter(role=Role.MEMBER))
        self.variety = Lot._meta.get_field("variety").related_model.objects.get()
        self.on = dt.date(2026, 4, 1)
        self.jar: dict[int, int] = {}
        self.packets: dict[int, dict[int, int]] = defaultdict(dict)

    def teardown(self) -> None:
        """The library's own check finds nothing; then the history is forgotten."""
        found = list(problems())
        transaction.set_rollback(True)
        self.transaction.__exit__(None, None, None)
        assert found == []

    @initialize(seeds=st.integers(100, 400), each=st.integers(5, 15))
    def begin(self, seeds: int, each: int) -> None:
        """A lot with four packets, tested, so that there is something to lend."""
        lot = services.deposit_at_desk(
            depositor=self.members[0],
            variety=self.variety,
            seeds=seeds,
            harvest_year=2025,
            packing=Packing(4, each),
            on=self.on,
            by=self.desk,
        )
        dish = {"seeds": 10, "normal": 8, "dead": 2}
        record_test(
            lot=lot, replicates=[dish], started_on=self.on, closed_on=self.on, by=self.desk
        )
        self.jar[lot.pk] = seeds - 4 * each - 10
        self.note_packets(lot.packets.all())

    # Steps ----------------------------------------------------------------------------------

    @rule(days=st.integers(1, 100))
    def time_passes(self, days: int) -> None:
        self.on = min(self.on + dt.timedelta(days), dt.date(2034, 1, 1))

    @rule(
        seeds=SEEDS, packets=A_FEW, each=A_FEW, back=st.integers(-1, 6), at_once=st.booleans()
    )
    def deposit(self, seeds: int, packets: int, each: int, back: int, at_once: bool) -> None:
        lot = self.attempt(
            services.deposit_at_desk,
            depositor=self.members[0],
            variety=self.variety,
            seeds=seeds,
            harvest_year=self.on.year - back,
            packing=Packing(packets, each) if at_once else None,
        )
        if lot is not None:
            self.jar[lot.pk] = seeds
            if at_once:
                self.jar[lot.pk] -= packets * each
                self.note_packets(lot.packets.all())

    @precondition(lambda self: self.jar)
    @rule(lot=ANY, packets=A_FEW, each=A_FEW)
    def pack(self, lot: int, packets: int, each: int) -> None:
        lot = self.one(Lot, lot)
        made = self.attempt(stock.pack, lot=lot, packets=packets, seeds_each=each)
        if made is not None:
            self.jar[lot.pk] -= packets * each
            self.note_packets(made)

    @precondition(lambda self: Packet.objects.exists())
    @rule(packet=ANY, who=ANY, by_themselves=RARELY, why=st.sampled_from(["", "trial"]))
    def lend_one(self, packet: int, who: int, by_themselves: bool, why: str) -> None:
        packet = self.one(Packet, packet, likely=ON_SHELF)
        borrower = self.members[who % len(self.members)]
        loan = self.attempt(
            services.lend_packet,
            packet=packet,
            borrower=borrower,
            override_reason="" if by_themselves else why,
            by=borrower if by_themselves else self.desk,
        )
        if loan is not None:
            del self.packets[packet.lot_id][packet.pk]
            reserve = services.reserve_of(self.variety)
            assert reserve.have >= reserve.seeds

    @precondition(lambda self: Packet.objects.on_shelf().exists())
    @rule(packet=ANY, who=ANY)
    def lend_another(self, packet: int, who: int) -> None:
        self.lend_one(packet, who, by_themselves=False, why="trial")

    @precondition(lambda self: Loan.objects.to_hand_over().exists())
    @rule(loan=ANY)
    def hand_over(self, loan: int) -> None:
        self.attempt(services.hand_over, loan=self.one(Loan, loan, likely=WAITS))

    @precondition(lambda self: Loan.objects.open().exists())
    @rule(loan=ANY, collected=st.booleans())
    def put_back(self, loan: int, collected: bool) -> None:
        loan = self.one(Loan, loan, likely=IS_OUT if collected else WAITS)
        verb = services.take_back_unopened if collected else services.cancel_uncollected
        if self.attempt(verb, loan=loan) is not None:
            self.packets[loan.packet.lot_id][loan.packet_id] = loan.packet.seeds

    @precondition(lambda self: Loan.objects.exists())
    @rule(loan=ANY, outcome=st.sampled_from(["crop_failed", "nothing_to_return", "returned"]))
    def close(self, loan: int, outcome: str) -> None:
        loan = self.one(Loan, loan, likely={"closed_on": None})
        words = {"loan": loan, "outcome": outcome, "note": "drought", "by": loan.borrower}
        self.attempt(services.close_loan, **words)

    @precondition(lambda self: Loan.objects.open().collected().exists())
    @rule(first=ANY, second=ANY, seeds=SEEDS, late=LATE, more=st.booleans())
    def bring_back(self, first: int, second: int, seeds: int, late: int, more: bool) -> None:
        loan = self.one(Loan, first, likely=IS_OUT)
        loans = {loan, self.one(Loan, second, likely=IS_OUT | {"borrower": loan.borrower})}
        lot = self.attempt(
            services.return_at_desk,
            loans=sorted(loans, key=lambda loan: loan.pk),
            harvest_year=self.on.year + late,
            seeds=seeds,
            more_to_come=more,
        )
        if lot is not None:
            self.jar[lot.pk] = seeds
            lent = {loan.packet.lot_id for loan in loans}
            assert set(lot.parent_links.values_list("parent", flat=True)) == lent

    @precondition(lambda self: self.jar)
    @rule(lot=ANY, sown=st.integers(1, 30), sprouted=st.integers(0, 31))
    def test(self, lot: int, sown: int, sprouted: int) -> None:
        lot = self.one(Lot, lot)
        normal = sprouted if sprouted > 30 else min(sprouted, sown)
        dish = {"seeds": sown, "normal": normal, "dead": max(sown - normal, 0)}
        when = {"started_on": self.on, "closed_on": self.on}
        tested = self.attempt(record_test, on=None, lot=lot, replicates=[dish], **when)
        if tested is not None:
            self.open_packets_for(lot, sown)
            self.jar[lot.pk] -= sown

    @precondition(lambda self: self.jar)
    @rule(lot=ANY, seeds=SEEDS, how=st.sampled_from(["discard", "give_away"]))
    def remove_seed(self, lot: int, seeds: int, how: str) -> None:
        lot = self.one(Lot, lot)
        seeds = self.likely_there(lot, seeds)
        verb = getattr(stock, how)
        if self.attempt(verb, lot=lot, seeds=seeds, reason="mouldy") is not None:
            self.jar[lot.pk] -= seeds

    @precondition(lambda self: Packet.objects.exists())
    @rule(packet=ANY, how=st.sampled_from(["discard", "give_away", "unpack"]))
    def remove_packet(self, packet: int, how: str) -> None:
        packet = self.one(Packet, packet, likely=ON_SHELF)
        words = {} if how == "unpack" else {"lot": packet.lot}
        verb = getattr(stock, how)
        if self.attempt(verb, packet=packet, reason="mice", **words) is not None:
            seeds = self.packets[packet.lot_id].pop(packet.pk)
            self.jar[packet.lot_id] += seeds if how == "unpack" else 0

    @precondition(lambda self: self.jar)
    @rule(lot=ANY, loose=SEEDS, missing=st.integers(0, 2))
    def take_stock(self, lot: int, loose: int, missing: int) -> None:
        lot = self.one(Lot, lot)
        gone = list(lot.packets.on_shelf()[:missing])

        def count(*, on: dt.date, by: Member) -> StockTake:
            take = stock.start_stock_take(storage_place=None, by=by)
            stock.count_lot(stock_take=take, lot=lot, loose=loose, missing_packets=gone, by=by)
            stock.close_stock_take(stock_take=take, by=by, on=on)
            return take

        if self.attempt(count) is not None:
            self.jar[lot.pk] = loose
            for packet in gone:
                del self.packets[lot.pk][packet.pk]

    @precondition(lambda self: self.jar)
    @rule(movement=ANY)
    def mend(self, movement: int) -> None:
        movement = self.one(Movement, movement, likely=MENDABLE)
        mended = self.attempt(stock.mend_movement, movement=movement, reason="a mistake")
        if mended is not None:
            self.jar[movement.lot_id] -= movement.loose_change
            if movement.packet_id is not None:
                self.packets[movement.lot_id][movement.packet_id] = movement.packet.seeds

    @precondition(lambda self: len(self.jar) > 1)
    @rule(first=ANY, second=ANY, some=SEEDS, others=SEEDS)
    def bulk(self, first: int, second: int, some: int, others: int) -> None:
        lots = [self.one(Lot, first), self.one(Lot, second)]
        parts = [(lots[0], self.likely_there(lots[0], some))]
        parts += [(lots[1], self.likely_there(lots[1], others))]
        lot = self.attempt(stock.bulk_lots, lots=parts)
        if lot is not None:
            for part, seeds in parts:
                self.jar[part.pk] -= seeds
            self.jar[lot.pk] = sum(seeds for _part, seeds in parts)

    # What must always be true -----------------------------------------------------------------

    @invariant()
    def the_books_agree(self) -> None:
        kept = {lot.pk: (lot.loose, lot.packed) for lot in Lot.objects.all()}
        ours = {pk: (self.jar[pk], sum(self.packets[pk].values())) for pk in self.jar}
        assert kept == ours
        assert kept == by_the_ledger()
        assert min((min(pair) for pair in kept.values()), default=0) >= 0

    @invariant()
    def packets_on_the_shelf_are_those_we_know(self) -> None:
        shelf: dict[int, dict[int, int]] = defaultdict(dict)
        for packet in Packet.objects.on_shelf():
            shelf[packet.lot_id][packet.pk] = packet.seeds
        assert shelf == {pk: known for pk, known in self.packets.items() if known}

    @invariant()
    def a_packet_is_in_one_place(self) -> None:
        lent = Packet.objects.annotate(out=Count("loans", filter=Q(loans__closed_on=None)))
        assert not lent.filter(out__gt=1).exists()
        assert not lent.filter(out=1).exclude(state="lent").exists()

    @invariant()
    def the_chain_has_one_direction(self) -> None:
        parents: dict[int, list[int]] = defaultdict(list)
        for link in LotParent.objects.all():
            parents[link.child_id].append(link.parent_id)
        TopologicalSorter(parents).prepare()  # raises CycleError
        backwards = Q(parent__harvest_year__gt=F("child__harvest_year"))
        assert not LotParent.objects.filter(backwards).exists()
        shares = LotParent.objects.values("child").annotate(sum=Sum("share"))
        assert all(row["sum"] == 1 for row in shares)

    # How ------------------------------------------------------------------------------------

    def attempt(self, verb: Callable[..., Any], **words: Any) -> Any:
        """What the service gave, or None when it refused; then nothing may have changed."""
        words = {"on": self.on, "by": self.desk} | words
        words = {name: value for name, value in words.items() if value is not None}
        before = rows()
        try:
            with transaction.atomic():
                answer = verb(**words)
        except Refused:
            assert rows() == before
            return None
        return True if answer is None else answer

    def one(self, model: type, number: int, *, likely: dict | None = None) -> Any:
        """One of the rows; nine times of ten one of the likely, if there are."""
        keys = model.objects.order_by("pk").values_list("pk", flat=True)
        chosen = list(keys.filter(**likely)) if likely and number % 10 else []
        chosen = chosen or list(keys)
        return model.objects.get(pk=chosen[number % len(chosen)])

    def likely_there(self, lot: Lot, seeds: int) -> int:
        """So many, or what the jar holds; the wilder numbers stay as they are."""
        return min(seeds, self.jar[lot.pk] // 2) if 20 <= seeds <= 400 else seeds

    def note_packets(self, made) -> None:
        for packet in made:
            self.packets[packet.lot_id][packet.pk] = packet.seeds

    def open_packets_for(self, lot: Lot, seeds: int) -> None:
        """Pour packets into the jar as the bench does, oldest first, until it is enough."""
        for pk in sorted(self.packets[lot.pk]):
            if self.jar[lot.pk] >= seeds:
                break
            self.jar[lot.pk] += self.packets[lot.pk].pop(pk)


def by_the_ledger() -> dict[int, tuple[int, int]]:
    sums = Movement.objects.values("lot").annotate(
        loose=Sum("loose_change"), packed=Sum("packed_change")
    )
    return {row["lot"]: (row["loose"], row["packed"]) for row in sums.order_by()}


def rows() -> tuple[int, ...]:
    """How many rows each table has, in one question: it is asked before every step."""
    counts = [f'(SELECT COUNT(*) FROM "{table._meta.db_table}")' for table in TABLES]  # noqa: S608
    with connection.cursor() as cursor:
        cursor.execute("SELECT " + ", ".join(counts))
        return cursor.fetchone()


@pytest.mark.long
@pytest.mark.parametrize("held_until_tested", [False, True])
def test_any_history_of_the_desk_adds_up(
    make_variety, make_member, coordinator, held_until_tested
):
    make_variety(crop="drying bean", min_population=20)
    for name in ("wren", "rook", "jay"):
        make_member(name)
    Member.objects.filter(role=Role.DESK).update(role=Role.MEMBER)  # who wrote the card
    BenchRules.objects.update_or_create(pk=1, defaults={"hold_until_tested": held_until_tested})
    LendingRules.objects.update_or_create(
        pk=1, defaults={"max_packets_of_variety": 4, "reserve_sowings": 1}
    )
    # Many histories, each short enough that a wrong one can be read.
    often = settings(
        max_examples=20,
        stateful_step_count=40,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )

    with time_machine.travel(dt.datetime(2034, 6, 1, tzinfo=dt.UTC), tick=False):
        run_state_machine_as_test(Library, settings=often)
