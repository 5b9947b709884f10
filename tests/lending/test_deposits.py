"""Seed brought in from outside."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError
from django.db.transaction import atomic

from accounts.models import Membership
from library.catalogue.models import Crop, Variety
from library.errors import Conflict, NotAllowed, Refused
from library.germination.models import BenchRules, TestDate
from library.lending import services
from library.lending.models import Deposit
from library.lending.services import NewCard, Packing
from library.outbox.models import Message
from library.stock.models import Lot
from tests.lending.conftest import TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def propose(member, variety):
    def offer(**words) -> Deposit:
        return services.propose_deposit(
            **({"depositor": member, "on": TODAY, "variety": variety} | words)
        )

    return offer


@pytest.fixture
def deposit(propose) -> Deposit:
    return propose(
        seeds=300,
        harvest_year=2025,
        origin_region="the upper valley",
        origin_story="Kept by one family.",
        growing={"plants_gave_seed": 30, "isolation": "distance"},
    )


def test_an_offer_waits_and_makes_no_lot(deposit):
    assert (deposit.state, Lot.objects.count()) == ("proposed", 0)


def test_an_offer_without_a_quantity_is_welcome(propose):
    assert propose().seeds is None


def test_only_an_approved_member_offers_seed(propose, applicant, counts):
    before = counts()

    with pytest.raises(Refused, match="not an approved member"):
        propose(depositor=applicant)

    assert counts() == before


def test_what_is_received_becomes_a_lot_with_all_that_was_told(deposit, desk):
    lot = services.receive_deposit(deposit=deposit, on=TODAY, by=desk)

    deposit.refresh_from_db()
    assert (deposit.state, deposit.lot, deposit.decided_by) == ("received", lot, desk)
    assert (lot.origin, lot.balance, lot.harvest_year) == ("deposit", 300, 2025)
    assert (lot.origin_region, lot.origin_story) == ("the upper valley", "Kept by one family.")
    assert (lot.growing.plants_gave_seed, lot.growing.isolation) == (30, "distance")
    assert lot.movements.get().kind == "received"


def test_a_received_lot_gets_a_first_test_and_is_held_for_it(deposit, desk):
    lot = services.receive_deposit(deposit=deposit, on=TODAY, by=desk)

    assert lot.awaits_first_test
    assert TestDate.objects.get(lot=lot).due_on == TODAY + dt.timedelta(days=90)


def test_a_lot_is_not_held_where_the_bench_does_not_want_it(deposit, desk):
    BenchRules.objects.update_or_create(pk=1, defaults={"hold_until_tested": False})

    lot = services.receive_deposit(deposit=deposit, on=TODAY, by=desk)

    assert not lot.awaits_first_test


def test_a_depositor_is_named_only_if_they_agreed(propose, desk, member):
    silent = propose(seeds=10, growing={"plants_gave_seed": 3})
    named = propose(seeds=10, growing={"plants_gave_seed": 3}, may_be_named=True)

    lots = [
        services.receive_deposit(deposit=each, on=TODAY, by=desk) for each in (silent, named)
    ]

    assert [lot.source_name for lot in lots] == ["", "wren"]
    assert [lot.grower for lot in lots] == [None, member]


def test_the_count_at_the_desk_is_the_one_that_counts(deposit, desk):
    lot = services.receive_deposit(deposit=deposit, on=TODAY, by=desk, seeds=280)

    assert lot.balance == 280


def test_weighed_seed_is_counted_by_its_own_thousand_seed_weight(deposit, desk):
    lot = services.receive_deposit(
        deposit=deposit,
        on=TODAY,
        by=desk,
        grams=Decimal("100"),
        thousand_seed_weight_g=Decimal("400"),
    )

    assert (lot.balance, lot.thousand_seed_weight_g) == (250, Decimal("400"))


def test_weighed_seed_is_else_counted_by_the_species_figure(propose, desk):
    """307 g for a thousand (Kew Seed Information Database): 100 g are 325 seeds."""
    lot = services.receive_deposit(deposit=propose(grams=Decimal("100")), on=TODAY, by=desk)

    assert (lot.balance, lot.thousand_seed_weight_g) == (325, None)


def test_seed_without_a_count_or_a_weight_is_not_received(propose, desk, counts):
    deposit = propose()
    before = counts()

    with pytest.raises(Refused, match="Count the seeds, or weigh them") as refusal:
        services.receive_deposit(deposit=deposit, on=TODAY, by=desk)

    assert refusal.value.field == "seeds"
    assert counts() == before


def test_cloves_are_counted_and_not_weighed(propose, make_variety, desk):
    garlic = propose(variety=make_variety(crop="garlic"), grams=Decimal("100"))

    with pytest.raises(Refused, match="not weighed"):
        services.receive_deposit(deposit=garlic, on=TODAY, by=desk)


def test_the_desk_corrects_what_the_depositor_took_it_for(deposit, desk, make_variety):
    other = make_variety("Fell Kettle", crop="drying bean")

    lot = services.receive_deposit(deposit=deposit, on=TODAY, by=desk, variety=other)

    deposit.refresh_from_db()
    assert (lot.variety, deposit.variety) == (other, other)


def test_a_name_without_a_card_needs_one_first(propose, desk, variety, counts):
    deposit = propose(variety=None, crop=variety.crop, new_variety_name="Grey Fell", seeds=90)
    before = counts()

    with pytest.raises(Refused, match="write a card for “Grey Fell” first"):
        services.receive_deposit(deposit=deposit, on=TODAY, by=desk)

    assert counts() == before


def test_a_card_is_written_while_receiving(propose, desk, variety):
    crop = variety.crop
    deposit = propose(variety=None, crop=crop, new_variety_name="Grey Fell", seeds=90)

    lot = services.receive_deposit(
        deposit=deposit, on=TODAY, by=desk, new_card=NewCard(crop=crop, name="Grey Fell")
    )

    assert (lot.variety.name, lot.variety.crop) == ("Grey Fell", crop)


def test_a_card_is_not_written_when_the_receiving_fails(propose, desk, variety):
    crop = variety.crop
    deposit = propose(variety=None, crop=crop, new_variety_name="Grey Fell")

    with pytest.raises(Refused, match="Count the seeds"):
        services.receive_deposit(
            deposit=deposit, on=TODAY, by=desk, new_card=NewCard(crop=crop, name="Grey Fell")
        )

    assert not Variety.objects.filter(name="Grey Fell").exists()


def test_packets_are_filled_at_once(deposit, desk):
    lot = services.receive_deposit(
        deposit=deposit, on=TODAY, by=desk, packing=Packing(packets=4, seeds_each=25)
    )

    assert (lot.loose, lot.packed) == (200, 100)
    assert [packet.seeds for packet in lot.packets.all()] == [25] * 4


@pytest.mark.parametrize(
    "packing", [(7, 50), (0, 5), (2, 0), (-1, 5), (2, None), (None, 2), (10**30, 1), (1001, 1)]
)
def test_packets_that_cannot_be_filled_leave_nothing_behind(deposit, desk, counts, packing):
    before = counts()

    with pytest.raises(Refused):
        services.receive_deposit(deposit=deposit, on=TODAY, by=desk, packing=Packing(*packing))

    deposit.refresh_from_db()
    assert deposit.state == "proposed"
    assert counts() == before


@pytest.mark.parametrize(
    ("fact", "value"),
    [
        ("seeds", 0),
        ("seeds", -5),
        ("seeds", 2.5),
        ("seeds", True),
        ("seeds", 2**31),
        ("seeds", 10**30),
        ("grams", Decimal("0")),
        ("grams", Decimal("-1")),
        ("grams", Decimal("NaN")),
        ("grams", Decimal("1e30")),
        ("harvest_year", 2027),
        ("harvest_year", 1492),
        ("harvest_year", -1),
        ("harvest_year", 10**30),
        ("new_variety_name", "Another name"),
        ("origin_region", "x" * 121),
        ("origin_story", "x" * 8001),
        ("growing", {"plants_gave_seed": -1}),
        ("growing", {"plants_gave_seed": 10**30}),
        ("growing", {"plants_gave_seed": 1.5}),
        ("growing", {"plants_gave_seed": 5, "plants_stood": 4}),
        ("growing", {"isolation": "prayer"}),
        ("growing", {"moon": "waxing"}),
        ("on", TODAY + dt.timedelta(days=2)),
    ],
)
def test_an_offer_that_cannot_be_is_refused_in_one_sentence(propose, counts, fact, value):
    before = counts()

    with pytest.raises(Refused) as refusal:
        propose(**{fact: value})

    assert refusal.value.field
    assert str(refusal.value).endswith(".")
    assert counts() == before


def test_a_name_needs_its_crop(propose):
    with pytest.raises(Refused, match="Say which crop “Grey Fell” is") as refusal:
        propose(variety=None, new_variety_name="Grey Fell")

    assert refusal.value.field == "crop"


def test_nothing_is_no_offer(propose):
    with pytest.raises(Refused, match="Choose a variety"):
        propose(variety=None)


def test_an_offer_is_received_once(deposit, desk, counts):
    services.receive_deposit(deposit=deposit, on=TODAY, by=desk)
    before = counts()

    with pytest.raises(Conflict, match="answered already: it is received"):
        services.receive_deposit(deposit=deposit, on=TODAY, by=desk)

    assert counts() == before


def test_a_member_receives_nothing(deposit, member, counts):
    before = counts()

    with pytest.raises(NotAllowed):
        services.receive_deposit(deposit=deposit, on=TODAY, by=member)

    assert counts() == before


def test_seed_is_taken_in_at_once_from_somebody_who_is_no_member(desk, variety):
    lot = services.deposit_at_desk(
        on=TODAY, by=desk, variety=variety, seeds=40, source_name="a neighbour"
    )

    assert lot.source_name == "a neighbour"
    assert lot.deposit.depositor is None


def test_seed_is_taken_in_at_once_for_a_card_that_is_new(desk, variety):
    lot = services.deposit_at_desk(
        on=TODAY, by=desk, seeds=40, new_card=NewCard(crop=variety.crop, name="Grey Fell")
    )

    assert lot.variety.name == "Grey Fell"


def test_a_refused_deposit_at_the_desk_leaves_no_offer_behind(desk, variety, counts):
    before = counts()

    with pytest.raises(Refused):
        services.deposit_at_desk(on=TODAY, by=desk, variety=variety)

    assert counts() == before


def test_declining_tells_the_depositor_why(deposit, desk, member):
    services.decline_deposit(deposit=deposit, on=TODAY, by=desk, reason="It is treated seed.")

    mail = Message.objects.get()
    assert mail.to == member.email
    assert "It is treated seed." in mail.text


def test_declining_needs_a_reason(deposit, desk):
    with pytest.raises(Refused):
        services.decline_deposit(deposit=deposit, on=TODAY, by=desk, reason=" ")

    assert Message.objects.count() == 0


def test_somebody_who_left_gets_no_mail(deposit, desk, member):
    member.is_active, member.membership = False, Membership.LEFT
    member.save()

    services.decline_deposit(deposit=deposit, on=TODAY, by=desk, reason="It is treated seed.")

    assert Message.objects.count() == 0


def test_a_declined_offer_is_not_received(deposit, desk):
    services.decline_deposit(deposit=deposit, on=TODAY, by=desk, reason="It is treated seed.")

    with pytest.raises(Conflict, match="it is declined"):
        services.receive_deposit(deposit=deposit, on=TODAY, by=desk)


def test_a_member_withdraws_their_own_offer_only(deposit, member, other_member):
    with pytest.raises(NotAllowed):
        services.withdraw_deposit(deposit=deposit, on=TODAY, by=other_member)

    deposit = services.withdraw_deposit(deposit=deposit, on=TODAY, by=member)

    assert deposit.state == "withdrawn"


def test_the_database_keeps_a_received_deposit_to_its_lot(deposit):
    with pytest.raises(IntegrityError, match="deposit_received_has_a_lot"), atomic():
        Deposit.objects.filter(pk=deposit.pk).update(state="received")


def test_a_deposit_may_be_known_by_another_name(variety, desk):
    from library.catalogue.services import add_synonym

    add_synonym(variety=variety, name="Grandmother's Bean", by=desk)

    assert services.known_as("grandmothers bean", variety.crop) == variety
    assert services.known_as("grandmothers bean", Crop.objects.get(name="carrot")) is None
