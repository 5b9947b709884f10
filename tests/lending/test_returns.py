"""Seed brought back: its own links, its honest limits."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError
from django.db.transaction import atomic

from accounts.models import Garden
from library.errors import Conflict, NotAllowed, Refused
from library.germination.models import TestDate
from library.lending import services
from library.lending.models import LendingRules, Return
from library.lending.services import NewCard
from library.stock.models import Lot, LotParent
from tests.lending.conftest import AUTUMN, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def announce(loan, member, autumn):
    def tell(**words) -> Return:
        facts = {"member": member, "loans": [loan], "on": autumn, "by": member}
        return services.announce_return(**(facts | {"harvest_year": 2026} | words))

    return tell


@pytest.fixture
def bring(desk, autumn):
    """``bring([loan], seeds=300)`` receives seed over the desk."""

    def receive(loans, **words) -> Lot:
        facts = {"on": autumn, "by": desk, "harvest_year": 2026, "seeds": 300}
        return services.return_at_desk(loans=loans, **(facts | words))

    return receive


def links(lot) -> list[tuple[int, Decimal]]:
    return list(lot.parent_links.order_by("parent").values_list("parent", "share"))


def test_a_return_makes_its_own_link(loan, bring):
    lot = bring([loan])

    assert links(lot) == [(loan.packet.lot_id, Decimal(1))]


def test_the_new_lot_is_the_borrowers_harvest_and_the_librarys_seed(loan, bring, member):
    lot = bring([loan])

    assert (lot.origin, lot.grower, lot.custodian) == ("return", member, None)
    assert (lot.harvest_year, lot.balance, lot.variety) == (2026, 300, loan.packet.lot.variety)
    assert lot.movements.get().kind == "returned"


def test_the_loan_is_closed_by_what_came_back(loan, bring):
    bring([loan])

    loan.refresh_from_db()
    assert (loan.closed_on, loan.outcome) == (AUTUMN, "returned")


def test_a_returned_lot_gets_a_first_test(loan, bring):
    lot = bring([loan])

    assert lot.awaits_first_test
    assert TestDate.objects.filter(lot=lot).count() == 1


def test_how_it_was_grown_goes_with_the_lot(announce, desk, garden, autumn):
    told = {
        "plants_sown": 40,
        "plants_stood": 30,
        "plants_gave_seed": 22,
        "isolation": "distance",
        "isolation_distance_m": 80,
        "roguing": "two with purple",
    }
    announced = announce(seeds=300, garden=garden, growing=told)

    lot = services.receive_return(seed_return=announced, on=autumn, by=desk)

    assert {name: getattr(lot.growing, name) for name in told} == told
    assert lot.growing.garden == garden


def test_the_shares_of_several_lots_follow_the_seeds_lent(variety, make_packet, lend, bring):
    thirty = lend(make_packet(variety, seeds_each=30))
    ten = lend(make_packet(variety, seeds_each=10))

    lot = bring([thirty, ten])

    assert links(lot) == [
        (thirty.packet.lot_id, Decimal("0.75")),
        (ten.packet.lot_id, Decimal("0.25")),
    ]


def test_shares_that_do_not_divide_still_sum_to_one(variety, make_packet, lend, bring):
    LendingRules.objects.update_or_create(pk=1, defaults={"max_packets_of_variety": 9})
    loans = [lend(make_packet(variety, seeds_each=seeds)) for seeds in (20, 20, 20)]

    lot = bring(loans)

    assert sum(share for _parent, share in links(lot)) == Decimal(1)


def test_two_packets_of_one_lot_make_one_link(variety, make_lot, lend, bring):
    loans = [lend(packet) for packet in make_lot(variety, packets=2).packets.all()]

    lot = bring(loans)

    assert links(lot) == [(loans[0].packet.lot_id, Decimal(1))]


def test_a_partial_return_leaves_the_loan_open_for_the_rest(loan, bring):
    first = bring([loan], more_to_come=True, seeds=100)
    loan.refresh_from_db()
    was_open = loan.is_open

    second = bring([loan], seeds=250)

    loan.refresh_from_db()
    assert (was_open, loan.is_open) == (True, False)
    assert links(first) == links(second)
    assert [event.what for event in loan.events.all()] == ["lent", "part_returned", "closed"]


def test_seed_that_was_announced_is_received_as_counted(announce, desk, autumn):
    announced = announce(seeds=400)

    lot = services.receive_return(seed_return=announced, on=autumn, by=desk, seeds=385)

    announced.refresh_from_db()
    assert (announced.state, announced.lot, announced.received_by) == ("received", lot, desk)
    assert lot.balance == 385


def test_a_return_is_received_once(announce, desk, autumn, counts):
    announced = announce(seeds=400)
    services.receive_return(seed_return=announced, on=autumn, by=desk)
    before = counts()

    with pytest.raises(Conflict, match="answered already: it is received"):
        services.receive_return(seed_return=announced, on=autumn, by=desk)

    assert counts() == before


def test_a_loan_is_announced_once(announce, counts):
    announce()
    before = counts()

    with pytest.raises(Conflict, match="announced already"):
        announce()

    assert counts() == before


def test_a_withdrawn_announcement_makes_room_for_another(announce, member):
    services.withdraw_return(seed_return=announce(), by=member)

    assert announce().is_waiting


def test_a_loan_closed_meanwhile_is_not_returned(announce, desk, autumn, loan, counts):
    announced = announce(seeds=400)
    type(loan).objects.filter(pk=loan.pk).update(closed_on=autumn, outcome="crop_failed")
    before = counts()

    with pytest.raises(Conflict, match="was closed on 10 October 2026: crop failed"):
        services.receive_return(seed_return=announced, on=autumn, by=desk)

    assert counts() == before


def test_a_loan_is_not_closed_while_its_seed_is_announced(announce, member, loan, autumn):
    announce()

    with pytest.raises(Conflict, match="announced as coming back"):
        services.close_loan(loan=loan, outcome="nothing_to_return", on=autumn, by=member)


def test_nobody_returns_seed_of_another_members_loan(announce, other_member, counts):
    before = counts()

    with pytest.raises(Refused, match="was lent to somebody else"):
        announce(member=other_member, by=other_member)

    assert counts() == before


def test_another_member_announces_nothing_for_somebody(announce, other_member):
    with pytest.raises(NotAllowed):
        announce(by=other_member)


def test_a_packet_that_was_never_handed_over_grew_nothing(packet, member, lend, counts):
    loan = lend(packet, by=member)
    before = counts()

    with pytest.raises(Conflict, match="not handed over yet"):
        services.announce_return(
            member=member, loans=[loan], on=TODAY, by=member, harvest_year=2026
        )

    assert counts() == before


def test_loans_of_two_varieties_are_two_returns(make_variety, make_packet, lend, bring, counts):
    loans = [lend(make_packet(make_variety(crop="drying bean"))) for _ in range(2)]
    before = counts()

    with pytest.raises(Refused, match="different varieties"):
        bring(loans)

    assert counts() == before


def test_a_return_of_nothing_says_which_loan_is_missing(bring):
    with pytest.raises(Refused, match="Say which loan"):
        bring([])


@pytest.mark.parametrize(
    ("year", "sentence"),
    [
        (2025, r"lent in 2026; its seed cannot be of 2025\."),
        (2027, r"A harvest of 2027 cannot be; give a year from 1900 to 2026\."),
        (1492, "cannot be"),
        (-1, "cannot be"),
        (2026.0, "is not a whole number"),
        (10**30, "out of range"),
    ],
)
def test_a_harvest_year_that_cannot_be_is_refused(loan, bring, counts, year, sentence):
    before = counts()

    with pytest.raises(Refused, match=sentence) as refusal:
        bring([loan], harvest_year=year)

    assert refusal.value.field == "harvest_year"
    assert counts() == before


def test_seed_is_not_older_than_the_lot_it_grew_from(variety, make_packet, lend, desk, april):
    """Lent in January of the year after a harvest that is dated later than the loan."""
    april.move_to(dt.datetime(2027, 1, 10, 9, tzinfo=dt.UTC))
    packet = make_packet(variety, harvest_year=2026, on=dt.date(2026, 12, 1))
    loan = lend(packet, on=dt.date(2026, 12, 5))
    Lot.objects.filter(pk=packet.lot_id).update(harvest_year=2027)

    with pytest.raises(Refused, match="was itself harvested in 2027, after 2026"):
        services.return_at_desk(
            loans=[loan], on=dt.date(2027, 1, 10), by=desk, harvest_year=2026, seeds=10
        )


@pytest.mark.parametrize(
    ("fact", "value"),
    [
        ("seeds", 0),
        ("seeds", -1),
        ("seeds", 0.5),
        ("seeds", 2**31),
        ("seeds", 10**30),
        ("seeds", None),
        ("growing", {"plants_gave_seed": -1}),
        ("growing", {"plants_gave_seed": 9, "plants_stood": 3}),
        ("growing", {"isolation_distance_m": 10**9}),
        ("thousand_seed_weight_g", Decimal(-3)),
        ("on", dt.date(2026, 10, 12)),
        ("on", dt.date(2025, 1, 1)),
    ],
)
def test_a_return_that_cannot_be_leaves_nothing_behind(loan, bring, counts, fact, value):
    before = counts()

    with pytest.raises(Refused):
        bring([loan], **{fact: value})

    loan.refresh_from_db()
    assert loan.is_open
    assert (counts(), LotParent.objects.count()) == (before, 0)


def test_another_members_garden_is_refused(announce, other_member):
    theirs = Garden.objects.create(member=other_member, name="Elsewhere")

    with pytest.raises(Refused, match="not a garden of this member"):
        announce(garden=theirs)


class TestHybrids:
    """Seed of an F1 is an F2: it is never filed as the F1."""

    @pytest.fixture
    def hybrid_loan(self, make_variety, make_packet, lend, april):
        loan = lend(make_packet(make_variety("Fell Star", breeding_status="f1")))
        april.move_to(dt.datetime(2026, 10, 10, 9, tzinfo=dt.UTC))
        return loan

    def test_it_is_refused_without_a_line(self, hybrid_loan, bring, counts):
        before = counts()

        with pytest.raises(Refused, match="Fell Star is an F1 hybrid") as refusal:
            bring([hybrid_loan])

        assert refusal.value.field == "variety"
        assert counts() == before

    def test_naming_the_hybrid_itself_does_not_help(self, hybrid_loan, bring):
        with pytest.raises(Refused, match="is an F1 hybrid"):
            bring([hybrid_loan], variety=hybrid_loan.packet.lot.variety)

    def test_it_is_kept_under_a_segregating_line(self, hybrid_loan, bring, make_variety):
        line = make_variety("Star line", breeding_status="segregating", generation=2)

        lot = bring([hybrid_loan], variety=line)

        assert lot.variety == line
        assert links(lot) == [(hybrid_loan.packet.lot_id, Decimal(1))]

    def test_a_line_is_written_at_the_desk(self, hybrid_loan, bring):
        card = NewCard(
            crop=hybrid_loan.packet.lot.variety.crop,
            name="Star line",
            breeding_status="segregating",
            generation=2,
        )

        lot = bring([hybrid_loan], new_card=card)

        assert (lot.variety.name, lot.variety.generation) == ("Star line", 2)

    @pytest.mark.parametrize(
        "card",
        [
            {"breeding_status": "open-pollinated"},
            {"breeding_status": "f1"},
            {"breeding_status": "segregating", "generation": 2, "crop": "carrot"},
        ],
    )
    def test_another_card_is_no_line_of_it(
        self, hybrid_loan, bring, make_variety, card, counts
    ):
        other = make_variety("Something else", **card)
        before = counts()

        with pytest.raises(Refused, match="no segregating or stabilised line of tomato"):
            bring([hybrid_loan], variety=other)

        assert counts() == before

    def test_seed_of_a_segregating_line_may_stay_in_it(
        self, make_variety, make_packet, lend, april, desk
    ):
        line = make_variety("Star line", breeding_status="segregating", generation=3)
        loan = lend(make_packet(line))
        april.move_to(dt.datetime(2026, 10, 10, 9, tzinfo=dt.UTC))

        lot = services.return_at_desk(
            loans=[loan], on=AUTUMN, by=desk, harvest_year=2026, seeds=10
        )

        assert lot.variety == line

    def test_what_breeds_true_stays_what_it_is(self, loan, bring, make_variety):
        line = make_variety(crop="drying bean", breeding_status="segregating", generation=2)

        with pytest.raises(Refused, match="Tarn Kettle breeds true"):
            bring([loan], variety=line)


def test_the_database_keeps_a_received_return_to_its_lot(announce):
    announced = announce()

    with pytest.raises(IntegrityError, match="return_received_has_a_lot"), atomic():
        Return.objects.filter(pk=announced.pk).update(state="received")
