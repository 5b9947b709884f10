"""How sure a stand is, and which of a chain's stands is the least sure.

The rules are common practice, no source. The distances in ``tests/standards/test_purity.py``
are published.
"""

from __future__ import annotations

import pytest

from library.science.isolation import Neighbour, Pollination, Technique
from library.science.purity import ChainStand, Grade, judge_stand, weakest_of


def stand(technique=Technique.DISTANCE, *, required_m=400, **facts):
    facts = {"pollination": Pollination.INSECT} | facts
    return judge_stand(required_m=required_m, technique=technique, **facts)


def test_far_enough_is_safe_and_nearer_is_weak_by_the_part_that_is_missing():
    assert stand(noted_m=400).grade is Grade.SAFE

    near = stand(noted_m=100, noted_neighbour="kale at the mill")

    assert near.grade is Grade.WEAK
    assert near.shortfall == pytest.approx(0.75)
    assert near.verdict.nearest == Neighbour("kale at the mill", 100)


@pytest.mark.parametrize("technique", [Technique.UNKNOWN, Technique.NONE, Technique.DISTANCE])
def test_metres_that_were_noted_count_whatever_the_technique(technique):
    assert stand(technique, noted_m=500).grade is Grade.SAFE
    assert stand(technique, noted_m=399).grade is Grade.WEAK


@pytest.mark.parametrize(
    ("technique", "reason"),
    [
        (Technique.UNKNOWN, "isolation_unrecorded"),
        (Technique.DISTANCE, "purity_distance_without_metres"),
        (Technique.NONE, "purity_nothing_without_metres"),
    ],
)
def test_without_metres_nobody_can_say(technique, reason):
    judged = stand(technique)

    assert judged.grade is Grade.UNKNOWN
    assert judged.verdict.reason == reason


@pytest.mark.parametrize("technique", [Technique.DISTANCE, Technique.NONE])
def test_a_species_that_needs_no_distance_needs_no_metres(technique):
    assert stand(technique, required_m=0).grade is Grade.SAFE


def test_a_species_whose_distance_nobody_published_cannot_be_judged_by_distance():
    assert stand(required_m=None, noted_m=2000).grade is Grade.UNKNOWN
    assert stand(Technique.BAG, required_m=None).grade is Grade.SAFE


@pytest.mark.parametrize("technique", [Technique.BAG, Technique.HAND_POLLINATION])
def test_bags_and_hands_replace_distance(technique):
    assert stand(technique, noted_m=1, known=[Neighbour("", 5)]).grade is Grade.SAFE


def test_a_cage_does_not_stop_the_wind():
    assert stand(Technique.CAGE, noted_m=10).grade is Grade.SAFE
    assert stand(Technique.CAGE, noted_m=10, pollination=Pollination.WIND).grade is Grade.WEAK


def test_another_planting_that_is_known_counts_beside_what_was_noted():
    judged = stand(noted_m=900, known=[Neighbour("", 80)])

    assert judged.grade is Grade.WEAK
    assert judged.shortfall == pytest.approx(0.8)


def test_time_answers_for_the_neighbour_that_was_noted_and_for_no_other():
    assert stand(Technique.TIME, noted_m=10).grade is Grade.SAFE
    assert stand(Technique.TIME, noted_m=10, known=[Neighbour("", 80)]).grade is Grade.UNKNOWN


@pytest.mark.parametrize("metres", [-1, float("inf"), float("nan")])
def test_a_distance_that_cannot_be_is_refused(metres):
    with pytest.raises(ValueError, match="distance"):
        stand(noted_m=metres)
    with pytest.raises(ValueError, match="distance"):
        stand(required_m=metres)


def test_weak_comes_before_unknown_and_unknown_before_safe():
    stands = [
        ChainStand("safe", Grade.SAFE, 0, 1),
        ChainStand("unknown", Grade.UNKNOWN, 0, 0.1),
        ChainStand("bulk", Grade.NOTHING_GREW, 0, 1),
        ChainStand("weak", Grade.WEAK, 0.01, 0.01),
    ]

    assert weakest_of(stands).key == "weak"
    assert weakest_of(stands[:3]).key == "unknown"
    assert weakest_of([stands[0], stands[2]]).key == "safe"
    assert weakest_of([stands[2]]) is None
    assert weakest_of([]) is None


def test_of_weak_stands_the_shortest_and_of_equals_the_greater_share_and_then_the_first():
    stands = [
        ChainStand("a", Grade.WEAK, 0.5, 1.0),
        ChainStand("b", Grade.WEAK, 0.9, 0.2),
        ChainStand("c", Grade.WEAK, 0.9, 0.4),
        ChainStand("d", Grade.WEAK, 0.9, 0.4),
    ]

    assert weakest_of(stands).key == "c"
