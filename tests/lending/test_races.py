"""Many people at once, on PostgreSQL with real threads; each beside a control that must fail.

A control takes away the one line that guards the rule and asks the same question: were it to
pass, the test beside it would show nothing.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from unittest import mock

import pytest
from django.db import connection, connections
from django.db.models import QuerySet

from accounts.models import Member
from library.catalogue.models import Variety
from library.errors import Conflict, Refused
from library.lending import services
from library.lending.models import Deposit, LendingRules, Loan, Return
from library.lending.services import loans as lending
from library.stock.models import Lot, Movement, Packet
from library.stock.querysets import PacketQuerySet
from library.stock.services import pack
from tests.lending.conftest import TODAY

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.postgres,
    pytest.mark.skipif(connection.vendor != "postgresql", reason="needs PostgreSQL"),
]

THREADS = 16


def at_once(*works: Callable[[], object]) -> list[object]:
    """Run the works in threads that start together; what each gave, or what it was refused."""
    gate = threading.Barrier(len(works))
    answers: list[object] = [None] * len(works)

    def run(place: int) -> None:
        try:
            gate.wait()
            answers[place] = works[place]()
        except Refused as refusal:
            answers[place] = refusal
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(place,)) for place in range(len(works))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return answers


@contextmanager
def meeting(owner: object, name: str, parties: int) -> Iterator[None]:
    """Let ``parties`` threads come through a function before any of them goes on.

    It makes sure that all have read before one writes, so that a control fails always and not
    now and then. With the guard in place they cannot all come in: they wait a moment, and go.
    """
    gate = threading.Barrier(parties)
    real = getattr(owner, name)

    def slowly(*args, **kwargs):
        answer = real(*args, **kwargs)
        with suppress(threading.BrokenBarrierError):
            gate.wait(timeout=1)
        return answer

    with mock.patch.object(owner, name, slowly):
        yield


@contextmanager
def without_locking(model: type) -> Iterator[None]:
    """The control: rows of ``model`` are read without being locked."""
    real = QuerySet.select_for_update

    def unlocked(self, *args, **kwargs):
        return self if self.model is model else real(self, *args, **kwargs)

    with mock.patch.object(QuerySet, "select_for_update", unlocked):
        yield


def lend(packet: Packet, borrower: Member) -> Callable[[], Loan]:
    return lambda: services.lend_packet(
        packet=Packet.objects.with_lot().get(pk=packet.pk),
        borrower=borrower,
        on=TODAY,
        by=borrower,
    )


def is_lent(answer: object) -> bool:
    return isinstance(answer, Loan)


@pytest.fixture
def crowd(make_member) -> list[Member]:
    return [make_member(f"person {number}") for number in range(THREADS)]


def test_of_sixteen_who_reach_for_the_last_packet_one_gets_it(packet, crowd):
    answers = at_once(*[lend(packet, person) for person in crowd])

    assert sum(is_lent(answer) for answer in answers) == 1
    assert sum(isinstance(answer, Conflict) for answer in answers) == THREADS - 1
    assert Loan.objects.count() == 1
    assert Movement.objects.filter(kind="lent").count() == 1


def test_the_shelf_decides_even_where_nothing_else_is_locked(packet, crowd):
    """Without the variety's lock all read the packet as free; the stock's UPDATE still lends
    it once.
    """
    with without_locking(Variety), meeting(lending, "_still_on_shelf", THREADS):
        answers = at_once(*[lend(packet, person) for person in crowd])

    assert sum(is_lent(answer) for answer in answers) == 1


def test_control_without_the_conditional_update_the_ledger_lies(packet, crowd):
    """Reading, deciding and then writing lends it more than once; only the constraint on open
    loans, and the balance, stand behind it, and they answer with an error, not a sentence.
    """

    def take_anyway(self, pk, *, from_state, to_state):
        self.filter(pk=pk).update(state=to_state)
        return True

    with (
        without_locking(Variety),
        meeting(lending, "_still_on_shelf", THREADS),
        mock.patch.object(PacketQuerySet, "move", take_anyway),
        mock.patch("library.stock.services.ledger.record"),
        mock.patch.object(Loan.objects, "create", side_effect=fake_loan),
        mock.patch.object(lending, "note_of_loan"),
    ):
        answers = at_once(*[lend(packet, person) for person in crowd])

    assert sum(is_lent(answer) for answer in answers) > 1


def fake_loan(**facts) -> Loan:
    """A loan that the database was never asked about."""
    return Loan(**facts)


def test_a_member_at_every_door_still_keeps_to_the_limit(make_packet, make_variety, member):
    LendingRules.objects.update_or_create(pk=1, defaults={"max_open_loans": 3})
    packets = [make_packet(make_variety(crop="drying bean")) for _ in range(8)]

    answers = at_once(*[lend(packet, member) for packet in packets])

    assert sum(is_lent(answer) for answer in answers) == 3
    assert Loan.objects.open().of(member).count() == 3


def test_control_without_the_members_lock_the_limit_breaks(make_packet, make_variety, member):
    LendingRules.objects.update_or_create(pk=1, defaults={"max_open_loans": 3})
    packets = [make_packet(make_variety(crop="drying bean")) for _ in range(8)]

    with without_locking(Member), meeting(lending, "_check_limits", 8):
        answers = at_once(*[lend(packet, member) for packet in packets])

    assert sum(is_lent(answer) for answer in answers) > 3


@pytest.fixture
def three_above_the_reserve(variety, make_lot) -> list[Packet]:
    """Seven packets of ten, of which three could go before the reserve is touched."""
    kept = services.reserve_of(variety).seeds
    lot = make_lot(variety, seeds=kept + 35)
    return pack(lot=lot, packets=7, seeds_each=10, on=TODAY, by=None)


def test_the_reserve_holds_when_many_borrow_at_once(three_above_the_reserve, variety, crowd):
    packets = three_above_the_reserve

    answers = at_once(*[lend(p, who) for p, who in zip(packets, crowd, strict=False)])

    lot = Lot.objects.get()
    assert sum(is_lent(answer) for answer in answers) == 3
    assert lot.balance >= services.reserve_of(variety).seeds


def test_control_without_the_varietys_lock_the_reserve_is_lent(
    three_above_the_reserve, variety, crowd
):
    packets = three_above_the_reserve

    with without_locking(Variety), meeting(lending, "_check_reserve", len(packets)):
        at_once(*[lend(p, who) for p, who in zip(packets, crowd, strict=False)])

    assert Lot.objects.get().balance < services.reserve_of(variety).seeds


def test_an_offer_is_received_once_by_two_at_the_desk(member, variety, desk):
    deposit = services.propose_deposit(depositor=member, on=TODAY, variety=variety, seeds=90)

    answers = at_once(
        *[lambda: services.receive_deposit(deposit=deposit, on=TODAY, by=desk)] * 4
    )

    assert sum(isinstance(answer, Lot) for answer in answers) == 1
    assert Lot.objects.count() == 1


def test_control_without_the_deposits_lock_it_would_be_two_lots(member, variety, desk):
    from library.lending.services import deposits

    deposit = services.propose_deposit(depositor=member, on=TODAY, variety=variety, seeds=90)

    with without_locking(Deposit), meeting(deposits, "_locked_waiting", 4):
        at_once(*[lambda: services.receive_deposit(deposit=deposit, on=TODAY, by=desk)] * 4)

    assert Lot.objects.count() > 1


def test_a_return_is_received_once_by_two_at_the_desk(loan, member, desk):
    announced = services.announce_return(
        member=member, loans=[loan], on=TODAY, by=member, harvest_year=2026, seeds=50
    )

    answers = at_once(
        *[lambda: services.receive_return(seed_return=announced, on=TODAY, by=desk)] * 4
    )

    assert sum(isinstance(answer, Lot) for answer in answers) == 1
    assert Lot.objects.filter(origin="return").count() == 1


def test_a_loan_is_announced_once_from_two_windows(loan, member):
    tell = {"member": member, "loans": [loan], "on": TODAY, "by": member, "harvest_year": 2026}

    answers = at_once(*[lambda: services.announce_return(**tell)] * 4)

    assert sum(isinstance(answer, Return) for answer in answers) == 1
    assert Return.objects.count() == 1


def test_closing_and_receiving_at_once_end_a_loan_one_way(loan, member, desk):
    announced = services.announce_return(
        member=member, loans=[loan], on=TODAY, by=member, harvest_year=2026, seeds=50
    )

    at_once(
        lambda: services.receive_return(seed_return=announced, on=TODAY, by=desk),
        lambda: services.close_loan(
            loan=loan, outcome="nothing_to_return", on=TODAY, by=member
        ),
        lambda: services.take_back_unopened(loan=loan, on=TODAY, by=desk),
    )

    loan.refresh_from_db()
    assert loan.outcome == "returned"
    assert loan.events.filter(what="closed").count() == 1


def test_lending_and_taking_back_cross_without_a_deadlock(variety, make_lot, crowd, desk):
    """Everybody borrows and brings back packets of one lot, all at the same time."""
    LendingRules.objects.update_or_create(pk=1, defaults={"max_packets_of_variety": 50})
    packets = list(make_lot(variety, seeds=2000, packets=4).packets.all())

    def there_and_back(person: Member) -> Callable[[], None]:
        def do() -> None:
            for packet in packets:
                try:
                    loan = lend(packet, person)()
                    services.take_back_unopened(loan=loan, on=TODAY, by=desk)
                except Refused:
                    continue

        return do

    answers = at_once(*[there_and_back(person) for person in crowd[:8]])

    lot = Lot.objects.get()
    assert answers == [None] * 8
    assert Loan.objects.open().count() == 0
    assert (lot.packed, lot.packets.on_shelf().count()) == (80, 4)
