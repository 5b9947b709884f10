"""Which neighbour a planting may cross with, and by how much it is too near."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.science.isolation import (
    Neighbour,
    Pollination,
    Status,
    Technique,
    distance_m,
    verdict,
)

NEAR = Neighbour("a planting nearby", 300)
FAR = Neighbour("a planting far off", 900)


def judged(
    *neighbours, required_m=402, technique=Technique.DISTANCE, pollination=Pollination.INSECT
):
    return verdict(
        required_m=required_m,
        neighbours=neighbours,
        technique=technique,
        pollination=pollination,
    )


def test_the_nearest_neighbour_is_named_with_what_is_missing():
    found = judged(FAR, NEAR)

    assert found.status is Status.TOO_CLOSE
    assert not found.isolated
    assert (found.nearest, found.shortfall_m) == (NEAR, 102)
    assert found.sentence == (
        "a planting nearby is 300 m away, and 402 m are needed: 102 m short."
    )


def test_a_neighbour_far_enough_away_does_not_cross():
    found = judged(FAR)

    assert found.isolated
    assert (found.status, found.nearest) == (Status.ISOLATED, FAR)


def test_exactly_the_distance_is_enough():
    assert judged(Neighbour("a planting", 402)).isolated


def test_no_neighbour_known_is_said_to_be_only_that():
    found = judged()

    assert found.status is Status.ISOLATED
    assert found.sentence.endswith("Gardens that the library does not know may hold one.")


def test_a_neighbour_that_flowers_at_another_time_does_not_count():
    later = Neighbour("a late planting", 10, flowers_together=False)

    assert judged(later, technique=Technique.TIME).isolated
    assert judged(later, FAR).nearest == FAR


def test_isolation_by_time_needs_to_know_when_the_neighbour_flowers():
    unknown = judged(Neighbour("a planting", 10), technique=Technique.TIME)
    together = judged(
        Neighbour("a planting", 10, flowers_together=True), technique=Technique.TIME
    )

    assert (unknown.status, unknown.reason) == (Status.UNKNOWN, "isolation_flowering_unknown")
    assert together.status is Status.TOO_CLOSE


@pytest.mark.parametrize("technique", [Technique.BAG, Technique.HAND_POLLINATION])
@pytest.mark.parametrize("pollination", [Pollination.INSECT, Pollination.WIND])
def test_bags_and_hands_replace_distance(technique, pollination):
    assert judged(NEAR, technique=technique, pollination=pollination).isolated


def test_a_cage_keeps_insects_out_but_not_the_wind():
    insects = judged(NEAR, technique=Technique.CAGE)
    wind = judged(NEAR, technique=Technique.CAGE, pollination=Pollination.WIND)

    assert insects.status is Status.ISOLATED
    assert wind.status is Status.TOO_CLOSE


def test_a_clonal_crop_needs_no_isolation():
    found = judged(NEAR, required_m=None, pollination=Pollination.CLONAL)

    assert (found.status, found.reason) == (Status.NOT_NEEDED, "isolation_clonal")


def test_a_self_pollinating_crop_is_held_to_its_distance_when_there_is_one():
    next_row = Neighbour("the next row", 2)

    held = judged(next_row, required_m=6, pollination=Pollination.SELF)
    free = judged(next_row, required_m=None, pollination=Pollination.SELF)

    assert (held.status, held.shortfall_m) == (Status.TOO_CLOSE, 4)
    assert (free.status, free.reason) == (Status.NOT_NEEDED, "isolation_self")


def test_a_distance_of_nothing_is_always_kept():
    assert judged(Neighbour("the next row", 0), required_m=0).isolated


def test_a_crossing_species_without_a_known_distance_is_not_called_isolated():
    alone = judged(required_m=None)
    accompanied = judged(NEAR, required_m=None)

    assert (alone.status, alone.nearest) == (Status.UNKNOWN, None)
    assert (accompanied.status, accompanied.nearest) == (Status.UNKNOWN, NEAR)


def test_an_unrecorded_technique_is_not_called_isolated():
    assert judged(FAR, technique=Technique.UNKNOWN).status is Status.UNKNOWN
    assert judged(NEAR, technique=Technique.UNKNOWN).status is Status.TOO_CLOSE


def test_doing_nothing_is_judged_by_the_distance_there_happens_to_be():
    assert judged(FAR, technique=Technique.NONE).status is Status.ISOLATED
    assert judged(NEAR, technique=Technique.NONE).status is Status.TOO_CLOSE


@given(
    st.one_of(st.none(), st.floats(0, 5000)),
    st.lists(
        st.builds(
            Neighbour, st.text(), st.floats(0, 9000), st.sampled_from([None, True, False])
        )
    ),
    st.sampled_from(Technique),
    st.sampled_from(Pollination),
)
def test_a_neighbour_more_never_makes_a_planting_safer(required, neighbours, technique, how):
    order = [Status.NOT_NEEDED, Status.ISOLATED, Status.UNKNOWN, Status.TOO_CLOSE]
    facts = {"required_m": required, "technique": technique, "pollination": how}
    closer = Neighbour("another", 0, flowers_together=True)

    before = verdict(neighbours=neighbours, **facts)
    after = verdict(neighbours=[*neighbours, closer], **facts)

    assert order.index(before.status) <= order.index(after.status)
    assert before.sentence
    assert 0 <= before.shortfall_m <= after.shortfall_m


def test_distance_is_nothing_to_oneself_and_the_same_both_ways():
    there = distance_m(lat1=54.4, lon1=-3.0, lat2=54.5, lon2=-2.9)
    back = distance_m(lat1=54.5, lon1=-2.9, lat2=54.4, lon2=-3.0)

    assert distance_m(lat1=54.4, lon1=-3.0, lat2=54.4, lon2=-3.0) == 0
    assert there == pytest.approx(back)


def test_distance_crosses_the_date_line():
    across = distance_m(lat1=0, lon1=179.999, lat2=0, lon2=-179.999)

    assert across == pytest.approx(222.6, abs=0.1)


@pytest.mark.parametrize(
    ("place", "sentence"),
    [
        ({"lat1": 91}, "A latitude lies from -90 to 90 degrees, not 91."),
        ({"lon2": -181}, "A longitude lies from -180 to 180 degrees, not -181."),
        ({"lat2": math.nan}, "A latitude lies from -90 to 90 degrees, not nan."),
    ],
)
def test_a_place_not_on_earth_is_refused(place, sentence):
    with pytest.raises(ValueError) as refusal:  # noqa: PT011 - the sentence is compared whole
        distance_m(**{"lat1": 0, "lon1": 0, "lat2": 0, "lon2": 0} | place)

    assert str(refusal.value) == sentence


@pytest.mark.parametrize("metres", [-1, math.inf, math.nan])
def test_a_distance_that_cannot_be_is_refused(metres):
    with pytest.raises(ValueError, match="A distance is 0 metres or more"):
        Neighbour("a planting", metres)
    with pytest.raises(ValueError, match="An isolation distance is 0 metres or more"):
        judged(required_m=metres)
