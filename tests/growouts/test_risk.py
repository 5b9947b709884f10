"""What is at risk: read from the shelf, set-based, and by hand."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from accounts.models import Member
from library.catalogue.models import Variety
from library.growouts.experience import estimate, experience_of
from library.growouts.models import Elsewhere
from library.growouts.risk import at_risk, chances_of_loss, situations
from library.growouts.risk.testing import with_tests
from library.science.risk import Help
from library.stock.services import add_storage_place
from tests.growouts.conftest import TODAY

pytestmark = pytest.mark.django_db

KEPT = (1 - 0.03) ** 3  # a place keeps what it holds for three years


@pytest.fixture
def bean(make_variety) -> Variety:
    return make_variety("Tarn Kettle", crop="drying bean", is_rare=True)


def only(variety: Variety, **how):
    (one,) = at_risk(on=TODAY, varieties=[variety], **how)
    return one


def test_a_variety_of_which_there_is_nothing_is_lost(bean):
    one = only(bean)

    assert (one.lost, one.custodians, one.living_seeds) == (1.0, [], (0, 0, 0))


def test_fresh_seed_in_one_place_is_as_safe_as_the_place(bean, make_lot, desk):
    place = add_storage_place(name="Freezer", kind="freezer", temperature_c=-18, by=desk)
    make_lot(bean, seeds=2000, harvest_year=2025, storage_place=place)

    one = only(bean)

    assert one.custodians == ["Freezer"]
    assert one.lots[0].alive > 0.97
    assert math.isclose(one.lost, 1 - KEPT * one.lots[0].alive, rel_tol=1e-12)


def test_a_second_place_halves_nothing_but_multiplies(bean, make_lot, desk):
    hall = add_storage_place(name="Hall", kind="room", by=desk)
    freezer = add_storage_place(name="Freezer", kind="freezer", inside=hall, by=desk)
    barn = add_storage_place(name="Barn", kind="room", by=desk)
    first = make_lot(bean, seeds=2000, harvest_year=2025, storage_place=freezer)
    in_one_house = only(bean).lost
    make_lot(bean, seeds=2000, harvest_year=2025, storage_place=hall)
    still_one_house = only(bean)
    make_lot(bean, seeds=2000, harvest_year=2025, storage_place=barn)
    in_two = only(bean)

    alive = {one.lot.pk: one.alive for one in in_two.lots}
    assert still_one_house.custodians == ["Hall"]
    assert in_two.custodians == ["Barn", "Hall"]
    assert in_two.lost < still_one_house.lost <= in_one_house
    assert in_one_house == pytest.approx(1 - KEPT * alive[first.pk])


def test_seed_at_a_members_home_is_another_keeper(bean, make_lot, member):
    make_lot(bean, seeds=2000, harvest_year=2025)
    alone = only(bean).lost
    make_lot(bean, seeds=2000, harvest_year=2025, custodian=member)

    assert only(bean).lost < alone


def test_too_few_seeds_are_not_enough_to_start_again(bean, make_lot):
    make_lot(bean, seeds=5, harvest_year=2025)

    one = only(bean)

    assert one.population.plants > 5
    assert (one.lots[0].alive, one.lost) == (0.0, 1.0)


def test_old_seed_is_less_sure_than_new(bean, make_lot):
    make_lot(bean, seeds=2000, harvest_year=2025)
    new = only(bean)
    for lot in new.lots:
        type(lot.lot).objects.filter(pk=lot.lot.pk).update(harvest_year=2010)

    old = situations(on=TODAY + dt.timedelta(days=14), varieties=[bean])[bean.pk]

    assert old.lots[0].alive < new.lots[0].alive


def test_looking_further_ahead_never_lowers_the_chance(bean, make_lot):
    make_lot(bean, seeds=2000, harvest_year=2025)

    chances = [only(bean, years=years).lost for years in (1, 3, 10, 30)]

    assert chances == sorted(chances)
    assert chances[0] < chances[-1]


def test_what_can_be_had_elsewhere_lowers_it_and_old_news_by_half(bean, make_lot, member):
    def told(ease: str, on: dt.date) -> float:
        Elsewhere.objects.create(variety=bean, ease=ease, known_on=on, recorded_by=member)
        return only(bean).lost

    make_lot(bean, seeds=2000, harvest_year=2025)
    alone = only(bean).lost
    long_ago = told("easily", TODAY - dt.timedelta(days=6 * 365))
    lately = told("easily", TODAY - dt.timedelta(days=9))
    corrected = told("not_found", TODAY)

    assert long_ago == pytest.approx(alone * (1 - 0.45))
    assert lately == pytest.approx(alone * (1 - 0.9))
    assert corrected == pytest.approx(alone)


def test_a_promise_counts_with_its_growers_chance(bean, make_lot, member, make_commitment):
    make_lot(bean, seeds=2000, harvest_year=2025)
    alone = only(bean).lost
    make_commitment(bean, member, state="accepted")

    one = only(bean)
    without = situations(
        on=TODAY, varieties=[bean], without_season=one.growing[0].commitment.season_id
    )[bean.pk]

    assert one.growing[0].success == pytest.approx(0.7)
    assert one.lost == pytest.approx(alone * (1 - KEPT * 0.7))
    assert without.lost == pytest.approx(alone)


def test_an_offer_that_nobody_answered_is_no_promise(bean, make_lot, member, make_commitment):
    make_lot(bean, seeds=2000, harvest_year=2025)
    alone = only(bean).lost
    make_commitment(bean, member)

    assert only(bean).lost == alone


def test_the_likeliest_comes_first_and_a_hybrid_is_not_asked_about(
    bean, make_variety, make_lot
):
    safe = make_variety("Mill Loft", crop="drying bean")
    make_lot(safe, seeds=3000, harvest_year=2025)
    hybrid = make_variety("Quick Red", crop="tomato", breeding_status="f1")
    make_lot(hybrid, seeds=30)

    ranked = at_risk(on=TODAY)

    assert [one.variety.name for one in ranked] == ["Tarn Kettle", "Mill Loft"]


def test_what_would_help_most_comes_first(bean, make_lot):
    make_lot(bean, seeds=2000, harvest_year=2025)

    saves = [helped.saves for helped in only(bean).help]

    assert saves == sorted(saves, reverse=True)
    assert saves[0] > 0


@pytest.mark.parametrize("how_many", [1, 6])
def test_many_varieties_cost_as_few_queries_as_one(
    how_many,
    make_variety,
    make_lot,
    make_commitment,
    make_member,
    django_assert_num_queries,
):
    for number in range(how_many):
        variety = make_variety(crop="drying bean", is_rare=True)
        make_lot(variety, seeds=900, harvest_year=2025)
        make_lot(variety, seeds=900, harvest_year=2024)
        make_commitment(variety, make_member(f"grower {number}"), state="accepted")

    # Rules, places and species are read whole, since nothing is remembered yet.
    with django_assert_num_queries(33):
        found = chances_of_loss(on=TODAY)
    with django_assert_num_queries(17):
        again = chances_of_loss(on=TODAY)

    assert again == found
    assert len(found) == how_many


# Experience -------------------------------------------------------------------------------
def test_somebody_new_is_expected_to_do_as_the_library_says():
    new = estimate(0.7, 0, 0)

    assert new.mean == pytest.approx(0.7)
    assert new.low < 0.35 < 0.95 < new.high


def test_seed_that_came_back_raises_it_and_narrows_it():
    new, tried = estimate(0.7, 0, 0), estimate(0.7, 6, 0)

    assert tried.mean == pytest.approx((0.7 * 4 + 6) / 10)
    assert tried.high - tried.low < new.high - new.low


def test_hail_is_held_against_nobody_and_neglect_is(
    bean, make_variety, member: Member, make_commitment
):
    def failed(cause: str) -> float:
        make_commitment(make_variety(), member, state="failed", cause=cause, closed_on=TODAY)
        return experience_of([member.pk], on=TODAY)[member.pk].mean

    assert failed("hail") == pytest.approx(0.7)
    assert failed("neglect") == pytest.approx(0.7 * 4 / 5)
    assert experience_of([member.pk], on=TODAY)[member.pk].excused == 1
    assert experience_of([member.pk], on=TODAY - dt.timedelta(days=1))[member.pk].mean == 0.7


# Who helps, and who never harms -------------------------------------------------------------
def test_one_more_keeper_grower_or_good_word_never_raises_the_chance(
    bean, make_lot, make_member, make_commitment, desk
):
    make_lot(bean, seeds=60, harvest_year=2015)
    chances = [only(bean).lost]
    place = add_storage_place(name="Barn", kind="room", by=desk)
    steps = [
        lambda: make_lot(bean, seeds=400, harvest_year=2019, storage_place=place),
        lambda: make_lot(bean, seeds=40, harvest_year=2024, custodian=make_member("Reed")),
        lambda: make_commitment(bean, make_member("Rush"), state="accepted"),
        lambda: make_commitment(bean, make_member("Moss"), state="accepted"),
        lambda: Elsewhere.objects.create(variety=bean, ease="doubtful", known_on=TODAY),
    ]
    for step in steps:
        step()
        chances.append(only(bean).lost)

    assert chances == sorted(chances, reverse=True)
    assert chances[0] > chances[-1]


def test_a_lot_of_which_nobody_noted_the_place_is_no_second_place(bean, make_lot, desk):
    barn = add_storage_place(name="Barn", kind="room", by=desk)
    make_lot(bean, seeds=2000, harvest_year=2025, storage_place=barn)
    make_lot(bean, seeds=2000, harvest_year=2025)

    one = only(bean)

    assert one.custodians == ["Barn"]
    assert sorted(lot.place_noted for lot in one.lots) == [False, True]
    assert one.lost == pytest.approx(1 - KEPT * (1 - (1 - one.lots[0].alive) ** 2))


def test_a_test_is_named_where_it_would_tell_something(bean, make_lot):
    make_lot(bean, seeds=600, harvest_year=2021)
    (one,) = with_tests([only(bean)], on=TODAY)

    deeds = {helped.deed: helped for helped in one.help}

    assert len(one.tested) == 2
    assert sum(chance for chance, _alive in one.tested) == pytest.approx(1)
    good, bad = one.tested
    assert good[1] > one.lots[0].alive > bad[1]
    assert 0 < deeds[Help.TEST].saves < deeds[Help.ONE_GROWER].saves


def test_a_test_that_would_use_up_what_is_needed_is_not_named(bean, make_lot):
    make_lot(bean, seeds=only(bean).population.plants, harvest_year=2025)
    (one,) = with_tests([only(bean)], on=TODAY)

    assert 0 < one.lots[0].alive < 1
    assert Help.TEST not in {helped.deed for helped in one.help}


def test_no_grower_helps_where_nothing_lives(bean, make_lot):
    empty = only(bean)
    make_lot(bean, seeds=500, harvest_year=2025)

    assert empty.help == []
    assert Help.ONE_GROWER in {helped.deed for helped in only(bean).help}


def test_tubers_are_good_by_what_is_assumed_of_them(make_variety, make_lot):
    potato = make_variety("Dale Blue", crop="potato", breeding_status="clone")
    make_lot(potato, seeds=60, harvest_year=2025, counted_as="tuber")

    one = only(potato, years=2)

    assert one.lots[0].unpredicted == "unpredicted_clonal"
    assert one.lots[0].alive == pytest.approx(0.3**2)
    assert one.lost == pytest.approx(1 - (1 - 0.03) ** 2 * 0.09)


def test_what_is_remembered_of_a_lot_is_forgotten_when_it_changes(bean, make_lot, desk):
    lot = make_lot(bean, seeds=2000, harvest_year=2025)
    whole = only(bean)
    remove_seed(lot, whole.population.plants - 1)

    assert only(bean).lots[0].alive == 0.0


def remove_seed(lot, left: int) -> None:
    type(lot).objects.filter(pk=lot.pk).update(loose=left, packed=0)
