"""What a plan says of itself: each remedy is tried, and each number worked out again."""

from __future__ import annotations

import dataclasses
import random

import pytest

from library.science.assignment import (
    Clash,
    Grower,
    Kind,
    Obstacle,
    Planting,
    Sheet,
    applied,
    everyone_first,
    explain,
    possible_pairs,
    rarest_first,
)
from library.science.isolation import Technique
from tests.science.test_assignment import (
    broken_rules,
    garden,
    random_season,
    season,
    value,
    wanted,
)


def fits(instance, chosen) -> bool:
    pairs = possible_pairs(instance)
    try:
        Sheet(pairs, chosen)
    except ValueError:
        return False
    return chosen <= pairs.possible


def by_hand(seed):
    instance = random_season(random.Random(seed), varieties=9, gardens=7, spread=3000)
    way = (rarest_first, everyone_first)[seed % 2]
    pairs = possible_pairs(instance)
    return instance, pairs, way(pairs).chosen


@pytest.mark.parametrize("seed", range(120))
def test_every_remedy_works(seed):
    instance, pairs, chosen = by_hand(seed)

    for missing in explain(pairs, chosen).missing:
        order = [list(Kind).index(remedy.kind) for remedy in missing.remedies]
        assert order == sorted(set(order))
        for remedy in missing.remedies:
            changed, after = applied(instance, chosen, remedy)
            assert remedy.pair[0] == missing.variety
            assert remedy.pair in after - chosen
            assert len(after) == len(chosen) + 1
            assert not fits(instance, chosen | {remedy.pair})
            assert fits(changed, after)
            assert broken_rules(changed, after) == []


@pytest.mark.parametrize("seed", range(40))
def test_less_ground_would_not_do(seed):
    instance, pairs, chosen = by_hand(seed)
    for missing in explain(pairs, chosen).missing:
        for remedy in missing.remedies:
            if remedy.kind is Kind.MORE_ROOM:
                less = dataclasses.replace(
                    remedy,
                    more_m2=max(0.0, remedy.more_m2 - 0.01),
                    more_next_m2=max(0.0, remedy.more_next_m2 - 0.01),
                )
                assert not fits(*applied(instance, chosen, less))


@pytest.mark.parametrize("seed", range(40))
def test_where_one_more_wish_would_do_it_is_said(seed):
    instance, pairs, chosen = by_hand(seed)
    for missing in explain(pairs, chosen).missing:
        kinds = {remedy.kind for remedy in missing.remedies}
        would_do = False
        for grower in instance.growers:
            more = dataclasses.replace(grower, most=grower.most + 1)
            growers = tuple(more if g is grower else g for g in instance.growers)
            willing = dataclasses.replace(instance, growers=growers)
            would_do = would_do or any(
                fits(willing, chosen | {(missing.variety, place.key)})
                for place in instance.gardens
                if (missing.variety, place.key) not in chosen and place.grower == grower.key
            )
        assert would_do == (Kind.WANT_ONE_MORE in kinds)


@pytest.mark.parametrize("seed", range(40))
def test_what_is_in_the_way_is_counted_for_every_garden(seed):
    instance, pairs, chosen = by_hand(seed)
    for missing in explain(pairs, chosen).missing:
        assert missing.growers == sum(v == missing.variety for v, _g in chosen)
        assert sum(missing.in_the_way.values()) == len(instance.gardens) - missing.growers


@pytest.mark.parametrize("seed", range(40))
def test_reasons_count_the_loss_as_the_design_does(seed):
    instance, pairs, chosen = by_hand(seed)
    unfair = dataclasses.replace(instance, fairness=0.0)

    for pair, reason in explain(pairs, chosen).reasons.items():
        assert reason.loss == pytest.approx(value(unfair, chosen)[1])
        assert reason.loss_without == pytest.approx(value(unfair, chosen - {pair})[1])
        for other in reason.alternatives:
            instead = chosen - {pair} | {(pair[0], other.garden)}
            assert other.loss == pytest.approx(value(unfair, instead)[1])
            assert (other.clash is None) == fits(instance, instead)
        assert reason.room_m2 <= reason.room_taken_m2 <= reason.garden_m2 + 1e-6
        assert reason.spare_days >= 0


def one_garden(**facts):
    return season([wanted("a"), wanted("b", loss=0.2)], [garden("here", **facts)])


def test_a_variety_that_would_cross_asks_for_a_bag():
    pairs = possible_pairs(one_garden())

    (missing,) = explain(pairs, frozenset({("a", "here")})).missing[:1]

    assert (missing.variety, missing.in_the_way) == ("b", {Clash.WOULD_CROSS: 1})
    assert missing.cheapest is not None
    assert missing.cheapest.kind is Kind.LEARN_A_TECHNIQUE
    assert Technique.BAG in missing.cheapest.techniques


def test_no_cage_is_offered_against_the_wind():
    own = Planting(species="beet", variety="mine", latitude=54.0, longitude=-3.0)
    pairs = possible_pairs(season([wanted("a", "beet")], [garden("here")], plantings=(own,)))

    (missing,) = explain(pairs, frozenset()).missing

    assert [remedy.kind for remedy in missing.remedies] == [
        Kind.LEARN_A_TECHNIQUE,
        Kind.KEEP_FROM_FLOWERING,
    ]
    assert missing.remedies[0].techniques == (Technique.BAG, Technique.HAND_POLLINATION)
    assert missing.remedies[1].plantings == (0,)


def test_there_is_no_remedy_for_a_short_season():
    pairs = possible_pairs(one_garden(days=80))

    missing = explain(pairs, frozenset()).missing

    assert [m.in_the_way for m in missing] == [{Obstacle.SEASON_TOO_SHORT: 1}] * 2
    assert all(m.cheapest is None for m in missing)


def test_what_stands_in_the_way_may_move():
    """The bean could stand in either garden, the squash in one: it has the day for it."""
    kinds = [wanted("bean", "bean", most_growers=1), wanted("squash", days=140, most_growers=1)]
    places = [garden("long"), garden("short", "bob", east=5000, days=120)]
    growers = [Grower(key=key, most=1, success=0.7) for key in ("ann", "bob")]
    instance = season(kinds, places, growers)
    pairs = possible_pairs(instance)

    (missing,) = explain(pairs, frozenset({("bean", "long")})).missing

    assert missing.cheapest is not None
    assert missing.cheapest.moved == (("bean", "long"), "short")
    pinned = dataclasses.replace(instance, pinned=frozenset({("bean", "long")}))
    (missing,) = explain(possible_pairs(pinned), frozenset({("bean", "long")})).missing
    assert [remedy.kind for remedy in missing.remedies] == [Kind.WANT_ONE_MORE]


def test_the_nearest_of_its_species_is_told():
    own = Planting(
        species="squash", variety="mine", latitude=54.0 + 3000 / 111_320, longitude=-3.0
    )
    places = [garden("here"), garden("there", "bob", east=1500)]
    kinds = [wanted("a"), wanted("b")]
    pairs = possible_pairs(season(kinds, places, plantings=(own,)))

    reason = explain(pairs, frozenset({("a", "here"), ("b", "there")})).reasons["a", "here"]

    assert reason.nearest_own is not None
    assert reason.nearest_own.variety == "mine"
    assert reason.nearest_own.metres == pytest.approx(3000, rel=0.01)
    assert reason.nearest_chosen is not None
    assert (reason.nearest_chosen.variety, reason.nearest_chosen.garden) == ("b", "there")
    assert reason.nearest_chosen.metres == pytest.approx(1500, rel=0.01)
    assert reason.technique is None
    assert reason.spare_days == 50
