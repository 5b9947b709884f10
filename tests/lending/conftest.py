"""A day in April, a bean to lend, and a loan that is out."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from accounts.models import Community, Garden
from library.lending import services
from library.lending.models import Deposit, Loan, LoanEvent, Return
from library.stock.models import Lot, Movement, Packet

TODAY = dt.date(2026, 4, 15)
AUTUMN = dt.date(2026, 10, 10)


@pytest.fixture(autouse=True)
def april():
    """Every test of this folder happens on the morning of 15 April 2026, or travels on."""
    with time_machine.travel(dt.datetime(2026, 4, 15, 9, tzinfo=dt.UTC), tick=False) as clock:
        yield clock


@pytest.fixture
def autumn(april):
    """The season is over: it is 10 October 2026."""
    april.move_to(dt.datetime(2026, 10, 10, 9, tzinfo=dt.UTC))
    return AUTUMN


@pytest.fixture
def as_(api):
    """``as_(member)`` is the API as that person sees it."""

    def person(who):
        api.force_authenticate(who)
        return api

    return person


@pytest.fixture
def valley(db) -> Community:
    """The community's frost dates: 10 May and 5 October."""
    community = Community.current()
    community.last_spring_frost, community.first_autumn_frost = "05-10", "10-05"
    community.save()
    return community


@pytest.fixture
def garden(member) -> Garden:
    return Garden.objects.create(
        member=member,
        name="Mill Lane plot",
        last_spring_frost="04-20",
        first_autumn_frost="10-20",
        is_default=True,
    )


@pytest.fixture
def packet(variety, make_packet) -> Packet:
    """Twenty seeds of a drying bean; 480 more are in the jar, far above the reserve."""
    return make_packet(variety)


@pytest.fixture
def lend(desk, member):
    """``lend(packet)`` hands a packet to the member over the desk."""

    def lend_it(packet: Packet, *, borrower=None, by=None, on=TODAY, **words) -> Loan:
        return services.lend_packet(
            packet=packet, borrower=borrower or member, by=by or desk, on=on, **words
        )

    return lend_it


@pytest.fixture
def loan(lend, packet) -> Loan:
    return lend(packet)


@pytest.fixture
def counts(db):
    """``counts()`` is how many rows there are of all that the desk writes."""

    def count() -> dict[str, int]:
        tables = (Loan, LoanEvent, Deposit, Return, Lot, Packet, Movement)
        return {table.__name__: table.objects.count() for table in tables}

    return count


@pytest.fixture
def deposit(member, variety):
    return services.propose_deposit(depositor=member, on=TODAY, variety=variety, seeds=300)


@pytest.fixture
def announced(loan, member, autumn):
    return services.announce_return(
        member=member, loans=[loan], on=autumn, by=member, harvest_year=2026, seeds=400
    )
