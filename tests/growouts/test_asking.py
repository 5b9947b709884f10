"""A coordinator asks for one variety without a plan: what a plan looks at is looked at too."""

from __future__ import annotations

import pytest

from library.errors import Conflict
from library.growouts.models import Commitment
from library.growouts.plans.single import doubts_about
from library.growouts.services.commitments import ask_grower
from tests.growouts.conftest import TODAY


@pytest.fixture
def courgette(make_variety, make_lot):
    """Varieties of one species that bees cross, with seed here."""

    def make(name):
        variety = make_variety(name, crop="courgette", days_to_maturity=60)
        make_lot(variety, seeds=3000, harvest_year=2025)
        return variety

    return make


@pytest.fixture
def doubts(season):
    def ask(variety, offer, technique="distance", plants=20):
        return doubts_about(
            season=season,
            variety=variety,
            garden=offer.garden,
            technique=technique,
            plants=plants,
            on=TODAY,
        )

    return ask


def test_nothing_speaks_against_what_a_plan_would_do(
    courgette, make_member, make_offer, doubts
):
    assert doubts(courgette("Tall Tom"), make_offer(make_member("ann"))) == []


def test_a_garden_that_is_not_offered_is_told(courgette, make_member, make_garden, doubts):
    class Bare:
        garden = make_garden(make_member("ann"))

    (doubt,) = doubts(courgette("Tall Tom"), Bare)

    assert "not offered for 2026" in doubt


def test_a_neighbours_crop_of_the_species_is_told_and_not_under_a_bag(
    courgette, make_member, make_offer, make_garden, make_planting, doubts
):
    make_planting(make_garden(make_member("bob"), north_m=90), courgette("Small Sue"))
    offer = make_offer(make_member("ann"), can_bag=True)
    variety = courgette("Tall Tom")

    assert "too near" in doubts(variety, offer)[0]
    assert doubts(variety, offer, "bag") == []
    assert doubts(variety, offer, "time") == []


def test_a_planting_beyond_the_distance_is_none(
    courgette, make_member, make_offer, make_garden, make_planting, doubts
):
    make_planting(make_garden(make_member("bob"), north_m=20_000), courgette("Small Sue"))

    assert doubts(courgette("Tall Tom"), make_offer(make_member("ann"))) == []


def test_what_is_promised_near_would_cross_unless_it_is_bagged_there(
    courgette, make_member, make_offer, make_garden, make_commitment, make_wanted, doubts
):
    bob, promised = make_member("bob"), courgette("Small Sue")
    make_wanted(promised)
    theirs = make_offer(bob, garden=make_garden(bob, north_m=90))
    make_commitment(promised, bob, state="accepted", garden=theirs.garden)
    offer, variety = make_offer(make_member("ann")), courgette("Tall Tom")

    assert "too near" in doubts(variety, offer)[0]

    theirs.can_bag = True
    theirs.save()

    assert doubts(variety, offer) == []


def test_a_technique_that_the_grower_did_not_name_is_told(
    courgette, make_member, make_offer, doubts
):
    (doubt,) = doubts(courgette("Tall Tom"), make_offer(make_member("ann")), "bag")

    assert "bagged flowers" in doubt


def test_room_that_something_promised_takes_is_gone(
    courgette, make_member, make_offer, make_commitment, make_wanted, doubts
):
    ann, first = make_member("ann"), courgette("Small Sue")
    make_wanted(first)
    offer = make_offer(ann, room_m2=25, most=3, can_bag=True)
    variety = courgette("Tall Tom")
    assert doubts(variety, offer, "bag") == []

    make_commitment(first, ann, state="accepted", garden=offer.garden, plants=60)

    assert "room" in doubts(variety, offer, "bag")[0]


def test_a_grower_who_has_as_many_as_they_want_is_told(
    courgette, make_member, make_offer, make_commitment, make_wanted, doubts
):
    ann, first = make_member("ann"), courgette("Small Sue")
    make_wanted(first)
    offer = make_offer(ann, room_m2=3000, most=1, can_bag=True)
    make_commitment(first, ann, state="accepted", garden=offer.garden)

    assert "as many varieties as they want" in doubts(courgette("Tall Tom"), offer, "bag")[0]


def test_a_doubt_is_a_refusal_until_the_coordinator_knows_better(
    season, courgette, make_member, make_offer, make_garden, make_planting, coordinator
):
    make_planting(make_garden(make_member("bob"), north_m=90), courgette("Small Sue"))
    asked = {
        "season": season,
        "variety": courgette("Tall Tom"),
        "garden": make_offer(make_member("ann")).garden,
        "technique": "distance",
        "plants": 20,
        "by": coordinator,
        "on": TODAY,
    }

    with pytest.raises(Conflict, match="too near") as refusal:
        ask_grower(**asked)

    assert refusal.value.field == "despite_doubts"
    assert not Commitment.objects.exists()
    assert ask_grower(**asked, despite_doubts=True).state == "offered"


def test_the_page_tells_the_doubt_keeps_the_form_and_takes_the_word(
    season,
    courgette,
    make_member,
    make_offer,
    make_garden,
    make_planting,
    make_wanted,
    as_coordinator,
):
    make_planting(make_garden(make_member("bob"), north_m=90), courgette("Small Sue"))
    variety, offer = courgette("Tall Tom"), make_offer(make_member("ann"))
    make_wanted(variety)
    sent = {"variety": variety.pk, "garden_offer": offer.pk, "technique": "distance"}
    page = f"/grow-outs/seasons/{season.year}/ask/"

    told = as_coordinator.post(page, sent)

    assert told.status_code == 409
    assert "too near" in told.content.decode()
    assert not Commitment.objects.exists()
    assert as_coordinator.post(page, sent | {"despite_doubts": "on"}).status_code == 302
    assert Commitment.objects.get().variety == variety
