"""What goes into a plan of a season, read from the database."""

from __future__ import annotations

import datetime as dt

import pytest

from library.growouts.plans.given import days_needed, given_of
from library.growouts.plans.reading import PlanReading
from library.growouts.services.plans import ask_plan, pin
from library.science.isolation import Technique
from tests.growouts.conftest import TODAY
from tests.growouts.plans.conftest import given

pytestmark = pytest.mark.django_db


def test_everything_that_is_known_arrives(season, offered, varieties):
    year = given(season)

    carrot = year.variety[f"v{varieties['carrot'].pk}"]
    courgette = year.variety[f"v{varieties['round'].pk}"]
    assert len(year.varieties) == 4
    assert (carrot.seasons, courgette.seasons) == (2, 1)
    assert courgette.days == 60 + 45
    assert courgette.species == year.variety[f"v{varieties['long'].pk}"].species
    assert courgette.isolation_m > 100
    assert 0 < courgette.loss < 1
    assert year.garden[f"g{offered[1].garden_id}"].latitude == pytest.approx(54.218, abs=0.001)
    assert {g.days for g in year.gardens} == {148}  # 10 May to 5 October
    assert all(g.most == 3 and g.success == pytest.approx(0.7) for g in year.growers)


def test_a_garden_on_the_grid_vouches_for_no_distance(
    season, offered, growers, make_offer, make_garden
):
    coarse = make_garden(growers[0], placed="grid")
    make_offer(growers[0], garden=coarse, can_bag=True)

    found = given_of(season, on=TODAY)

    place = found.season.garden[f"g{coarse.pk}"]
    assert not place.place_known
    assert (place.latitude, place.longitude) == (0.0, 0.0)
    assert place.techniques == {Technique.BAG}
    assert found.without_place == [coarse]


def test_only_what_flowers_counts_as_a_planting(
    season, offered, varieties, make_planting, make_garden, other_member
):
    there = make_garden(other_member, north_m=100)
    make_planting(there, varieties["long"])
    make_planting(there, varieties["round"], flowers=False)
    make_planting(there, varieties["round"], year=TODAY.year - 1)

    plantings = given(season).plantings

    assert [p.variety for p in plantings] == [f"v{varieties['long'].pk}"]


def test_what_was_promised_is_pinned_and_what_was_declined_is_forbidden(
    season, offered, varieties, growers, make_commitment
):
    first, second = offered[0].garden, offered[1].garden
    make_commitment(varieties["bean"], growers[0], garden=first, state="accepted")
    make_commitment(
        varieties["round"], growers[1], garden=second, state="declined", closed_on=TODAY
    )

    year = given(season)

    assert year.pinned == {(f"v{varieties['bean'].pk}", f"g{first.pk}")}
    assert year.forbidden == {(f"v{varieties['round'].pk}", f"g{second.pk}")}


def test_last_years_biennials_take_room_and_flower_now(
    season, offered, varieties, growers, make_commitment
):
    from library.growouts.models import Season

    before = Season.objects.create(year=season.year - 1)
    make_commitment(
        varieties["carrot"],
        growers[0],
        season=before,
        garden=offered[0].garden,
        state="accepted",
        plants=80,
    )

    year = given(season)

    place = year.garden[f"g{offered[0].garden_id}"]
    assert place.room_m2 == pytest.approx(400 - 80 / 8)  # 50 x 25 cm each
    assert f"v{varieties['carrot'].pk}" in {p.variety for p in year.plantings}


def test_what_is_planted_in_autumn_needs_only_the_warm_months(make_variety):
    garlic = make_variety("Priory Wall", crop="garlic", days_to_maturity=270)
    potato = make_variety("Coal Hole", crop="potato", days_to_maturity=130)

    assert (days_needed(garlic), days_needed(potato)) == (90, 130)


def test_a_gardens_own_frosts_and_techniques_arrive(
    season, offered, growers, make_offer, make_garden
):
    high = make_garden(
        growers[0], north_m=9000, last_spring_frost="06-01", first_autumn_frost="09-01"
    )
    make_offer(
        growers[0], garden=high, room_m2=12.5, room_next_m2=7, can_cage=True,
        can_pollinate_by_hand=True,
    )  # fmt: skip

    found = given_of(season, on=TODAY)

    place = found.season.garden[f"g{high.pk}"]
    assert (place.days, place.room_in(1), place.room_in(2)) == (92, 12.5, 7)
    assert place.techniques == {Technique.CAGE, Technique.HAND_POLLINATION}
    assert high not in found.without_frosts
    assert offered[0].garden in found.without_frosts


def test_what_flowers_next_year_matters_to_biennials_only(
    season, offered, varieties, make_planting, make_garden, make_variety, other_member
):
    there = make_garden(other_member, north_m=100)
    make_planting(there, make_variety("Other", crop="carrot"), year=season.year + 1)
    make_planting(there, varieties["long"], year=season.year + 1)

    carrots = {v.crop.species_id for v in varieties.values() if v.crop.name == "carrot"}
    assert {p.species for p in given(season).plantings} == {f"s{pk}" for pk in carrots}


def test_a_promise_in_a_garden_that_is_not_offered_counts_for_what_it_saves(
    season, offered, varieties, growers, make_commitment, make_garden
):
    variety = varieties["round"]
    before = given(season).variety[f"v{variety.pk}"]
    own = make_garden(growers[0], north_m=100)
    make_commitment(variety, growers[0], garden=own, state="accepted")

    year = given(season)

    after = year.variety[f"v{variety.pk}"]
    assert after.loss == pytest.approx(before.loss * (1 - 0.7))
    assert (before.most_growers, after.most_growers) == (2, 1)
    assert year.forbidden == {(f"v{variety.pk}", f"g{offered[0].garden_id}")}
    assert year.pinned == frozenset()
    assert f"v{variety.pk}" in {p.variety for p in year.plantings}


def test_experience_arrives(season, offered, growers, varieties, make_commitment):
    from library.growouts.models import Season

    before = Season.objects.create(year=season.year - 1)
    for name in ("round", "long"):
        make_commitment(
            varieties[name], growers[0], season=before, state="fulfilled",
            closed_on=TODAY - dt.timedelta(days=90),
        )  # fmt: skip

    year = given(season)

    assert year.grower[f"m{growers[0].pk}"].success == pytest.approx((0.7 * 4 + 2) / 6)
    assert year.grower[f"m{growers[1].pk}"].success == pytest.approx(0.7)


def test_what_could_not_be_known_is_kept_with_the_plan(
    season, offered, varieties, growers, coordinator, make_garden, make_offer, make_planting,
    other_member,
):  # fmt: skip
    coarse = make_garden(growers[0], placed="grid")
    make_offer(growers[0], garden=coarse)
    make_planting(make_garden(other_member, placed="grid"), varieties["long"])
    pin(season=season, variety=varieties["bean"], garden=coarse, kind="keep", by=coordinator)
    season.wanted.filter(variety=varieties["bean"]).delete()

    plan = ask_plan(season=season, on=TODAY, by=coordinator)

    notes = plan.given["notes"]
    assert notes["without_place"] == [coarse.pk]
    assert (notes["plantings_without_place"], notes["lost_pins"]) == (1, 1)
    said = " ".join(PlanReading(plan).unknown)
    assert f"{coarse.name} (grower 0) has no exact place" in said
    assert "1 planting of a member" in said
    assert "1 decision was left aside" in said


@pytest.mark.parametrize("how_many", [1, 6])
def test_reading_a_season_costs_the_same_however_large(
    how_many, season, make_member, make_offer, make_wanted, make_variety, make_garden,
    make_planting, make_commitment, django_assert_max_num_queries,
):  # fmt: skip
    for n in range(how_many):
        member = make_member(f"grower {n}")
        variety = make_variety(crop="courgette")
        make_wanted(variety)
        there = make_garden(member, north_m=3000 * n)
        make_offer(member, garden=there)
        make_planting(there, variety)
        make_commitment(variety, member, garden=there)

    with django_assert_max_num_queries(40):
        given(season)
