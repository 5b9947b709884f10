"""Stored plans keep every rule, as somebody finds who reads only the rows; and they look."""

from __future__ import annotations

import random

import pytest
from django.utils import timezone

from library.growouts.models import LeftOut, Pin, Plan, PlannedPair, Season
from library.growouts.plans.running import claim_next, work_on
from library.growouts.services.plans import ask_plan, pin
from tests.growouts.checking import check_plan
from tests.growouts.conftest import TODAY

pytestmark = pytest.mark.django_db


# The checker itself: each rule broken once ------------------------------------------------
@pytest.fixture
def varieties(make_variety):
    return {
        "round": make_variety("Round", crop="courgette", days_to_maturity=60),
        "long": make_variety("Long", crop="courgette", days_to_maturity=60),
        "bean": make_variety("Tarn Kettle", crop="drying bean", days_to_maturity=80),
        "late": make_variety("Late", crop="drying bean", days_to_maturity=150),
        "carrot": make_variety("Scar Red", crop="carrot"),
    }


@pytest.fixture
def offers(varieties, make_member, make_wanted, make_offer, make_garden):
    """Three growers, three kilometres apart, one of them with a second garden beside it."""
    for variety in varieties.values():
        make_wanted(variety)
    one, two, three = (make_member(f"grower {n}") for n in range(3))
    return {
        "one": make_offer(one, most=2, room_m2=400),
        "two": make_offer(two, garden=make_garden(two, north_m=3000), most=2, room_m2=400),
        "small": make_offer(three, garden=make_garden(three, north_m=6000), room_m2=1),
        "beside": make_offer(two, garden=make_garden(two, north_m=3050), room_m2=400),
    }


@pytest.fixture
def planned(season, varieties, offers):
    """``planned(("round", "one"), …)`` is a plan by hand; what is not in it is left out."""

    def make(*pairs) -> Plan:
        plan = Plan.objects.create(
            season=season, state="done", seconds=1, finished_at=timezone.now(),
            covered=len({pair[0] for pair in pairs}),
        )  # fmt: skip
        for variety, garden, *technique in pairs:
            PlannedPair.objects.create(
                plan=plan, variety=varieties[variety], garden=offers[garden].garden,
                technique=technique[0] if technique else "distance",
            )  # fmt: skip
        for name in set(varieties) - {pair[0] for pair in pairs}:
            LeftOut.objects.create(plan=plan, variety=varieties[name])
        return plan

    return make


GOOD = [("round", "one"), ("bean", "one"), ("bean", "two"), ("carrot", "two")]


def test_a_good_plan_breaks_nothing(planned):
    assert check_plan(planned(*GOOD)) == []


@pytest.mark.parametrize(
    ("pairs", "said"),
    [
        ([*GOOD, ("carrot", "one")], "has 3 of at most 2"),
        ([*GOOD[:3], ("late", "two")], "the season is too short"),
        ([("carrot", "small")], "of 1 square metres this season"),
        ([("round", "one"), ("long", "one")], "is nearer than"),
        ([("bean", "two"), ("bean", "beside")], "twice with one grower"),
        ([("round", "one", "bag")], "offers no bag"),
    ],
)
def test_a_plan_by_hand_that_breaks_a_rule_is_found(pairs, said, planned):
    assert any(said in line for line in check_plan(planned(*pairs)))


def test_a_bag_makes_distance_needless(planned, offers):
    offers["one"].can_bag = True
    offers["one"].save()
    assert check_plan(planned(("round", "one", "bag"), ("long", "one", "bag"))) == []


def test_a_place_that_is_not_exact_vouches_for_nothing(planned, offers):
    garden = offers["one"].garden
    garden.placed = "grid"
    garden.save()
    assert any("vouch" in line for line in check_plan(planned(("round", "one"))))


def test_a_neighbours_own_flowers_count(planned, offers, varieties, make_planting, make_garden,
                                        other_member):  # fmt: skip
    make_planting(make_garden(other_member, north_m=40), varieties["long"])
    assert any("nearer than" in line for line in check_plan(planned(("round", "one"))))


def test_growers_of_one_variety_beside_each_other_are_found(
    planned, offers, make_offer, make_garden, make_member
):
    four = make_member("grower 4")
    offers["near"] = make_offer(four, garden=make_garden(four, north_m=500), room_m2=400)
    said = check_plan(planned(("bean", "one"), ("bean", "near")))
    assert any("in two gardens nearer than 1000 m" in line for line in said)


def test_more_growers_than_wanted_are_found(planned, season, varieties):
    season.wanted.filter(variety=varieties["bean"]).update(most_growers=1)
    assert any("has 2 growers" in line for line in check_plan(planned(*GOOD)))


def test_the_second_season_of_a_biennial_needs_its_room(planned, offers):
    offers["two"].room_next_m2 = 1
    offers["two"].save()
    assert any("of 1 square metres next" in line for line in check_plan(planned(*GOOD)))


def test_last_years_biennials_keep_their_room_and_flower(
    planned, season, offers, varieties, make_commitment, make_variety
):
    before = Season.objects.create(year=season.year - 1)
    make_commitment(
        make_variety("Old Scar", crop="carrot"), offers["two"].garden.member, season=before,
        garden=offers["two"].garden, state="accepted", plants=6000,
    )  # fmt: skip

    said = check_plan(planned(*GOOD))

    assert any("of 400 square metres this season" in line for line in said)
    assert any("nearer than" in line for line in said)


@pytest.mark.parametrize(("kind", "garden"), [("keep", "beside"), ("never", "one")])
def test_a_decision_that_is_not_kept_is_found(kind, garden, planned, season, offers, varieties):
    Pin.objects.create(
        season=season, variety=varieties["bean"], garden=offers[garden].garden, kind=kind
    )
    assert any("is not kept" in line for line in check_plan(planned(*GOOD)))


def test_promises_that_are_forgotten_are_found(planned, offers, varieties, make_commitment):
    place = offers["one"].garden
    make_commitment(varieties["bean"], place.member, garden=place, state="accepted")
    assert any("is not in the plan" in line for line in check_plan(planned(("round", "one"))))


def test_asking_again_who_declined_is_found(planned, offers, varieties, make_commitment):
    place = offers["one"].garden
    make_commitment(
        varieties["bean"], place.member, garden=place, state="declined", closed_on=TODAY
    )
    assert any("was declined by" in line for line in check_plan(planned(*GOOD)))


def test_a_count_that_is_wrong_is_found(planned):
    plan = planned(*GOOD)
    plan.covered = 5
    assert any("the plan says 5" in line for line in check_plan(plan))


# Seasons of all sorts, worked out and read again ------------------------------------------
CROPS = ["courgette", "carrot", "drying bean", "kale", "beetroot", "sweetcorn"]


@pytest.fixture
def valley_of(
    season, make_member, make_variety, make_lot, make_wanted, make_offer, make_garden,
    make_planting, make_commitment,
):  # fmt: skip
    """``valley_of(seed)`` fills the season by chance: crowded, and with everything in it."""

    def make(seed: int) -> None:
        chance = random.Random(seed)
        varieties = [
            make_variety(crop=chance.choice(CROPS), days_to_maturity=chance.randint(50, 110))
            for _n in range(12)
        ]
        for variety in varieties:
            make_lot(variety, seeds=chance.choice([200, 2000]), harvest_year=2024)
            make_wanted(variety, most_growers=chance.randint(1, 3), weight=chance.randint(1, 3))
        members = [make_member(f"grower {n}") for n in range(8)]
        gardens = [
            make_garden(
                member,
                north_m=chance.uniform(-2500, 2500),
                east_m=chance.uniform(-2500, 2500),
                placed=chance.choice(["exact", "exact", "exact", "grid"]),
            )
            for member in members
        ]
        for member, garden in zip(members, gardens, strict=True):
            make_offer(
                member, garden=garden, most=chance.randint(1, 3),
                room_m2=chance.choice([5, 40, 400]), room_next_m2=chance.choice([None, 0, 100]),
                can_bag=chance.random() < 0.3, can_cage=chance.random() < 0.3,
                can_pollinate_by_hand=chance.random() < 0.2,
            )  # fmt: skip
            if chance.random() < 0.5:
                make_planting(garden, chance.choice(varieties), flowers=chance.random() < 0.7)
        before = Season.objects.create(year=season.year - 1)
        two_years = [v for v in varieties if v.crop.life_cycle == "biennial"]
        if two_years:
            make_commitment(
                two_years[0], members[0], season=before, garden=gardens[0], state="accepted"
            )
        make_commitment(
            varieties[0], members[1], garden=gardens[1], state="declined", closed_on=TODAY
        )

    return make


def worked_out(season, coordinator) -> Plan:
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=4)
    work_on(claim_next(worker="w"))
    plan = season.plans.first()
    assert plan.state == Plan.State.DONE, plan.trouble
    return plan


@pytest.mark.parametrize("seed", range(4))
def test_a_plan_keeps_every_rule_also_after_decisions_and_offers(
    seed, season, valley_of, coordinator, make_commitment
):
    valley_of(seed)
    first = worked_out(season, coordinator)
    assert check_plan(first) == []
    kept, dropped, promised = first.pairs.order_by("pk")[:3]
    for pair, kind in ((kept, "keep"), (dropped, "never")):
        pin(season=season, variety=pair.variety, garden=pair.garden, kind=kind, by=coordinator)
    make_commitment(
        promised.variety, promised.garden.member, garden=promised.garden, state="accepted"
    )

    second = worked_out(season, coordinator)

    assert check_plan(second) == []
    assert second.pairs.get(variety=kept.variety, garden=kept.garden).pinned
    assert second.covered <= first.most_covered
    if second.covered == first.covered and first.bound is not None:
        assert second.cost >= first.bound - 1e-9
