"""Which pairs would cross: each pair worked by hand, and rules that hold for any garden."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.science.crossing import Outcome, Stand, meeting, meetings, ways_apart
from library.science.isolation import Pollination, Technique


def stand(key: str, **facts) -> Stand:
    given = {
        "species": "pepo",
        "variety": key,
        "place": "g1",
        "flowers_in": 2027,
        "pollination": Pollination.INSECT,
        "required_m": 400.0,
    }
    return Stand(key=key, **given | facts)


def outcome(one: Stand, other: Stand, metres: float | None) -> Outcome:
    return meeting(one, other, metres).outcome


@pytest.mark.parametrize(
    ("metres", "due"),
    [(0, "crosses"), (399.9, "crosses"), (400, "apart"), (5000, "apart"), (None, "unknown")],
)
def test_distance_decides_where_nothing_else_keeps_them_apart(metres, due):
    assert outcome(stand("round"), stand("long"), metres) == due


@pytest.mark.parametrize("technique", ["bag", "cage", "hand_pollination"])
def test_one_that_is_covered_is_safe_and_the_other_only_if_no_flower_is_left(technique):
    covered = stand("round", technique=Technique(technique))

    found = meeting(covered, stand("long"), 0)

    assert [half.outcome for half in found.halves] == ["apart", "apart_if"]
    assert found.outcome == Outcome.APART_IF
    assert outcome(covered, stand("long", technique=Technique.BAG), 0) == Outcome.APART
    assert outcome(covered, stand("marrow", for_seed=False), 0) == Outcome.APART


def test_a_cage_does_not_hold_what_the_wind_carries():
    maize = {"species": "maize", "pollination": Pollination.WIND, "technique": Technique.CAGE}

    assert outcome(stand("flint", **maize), stand("flour", **maize), 0) == Outcome.CROSSES
    assert Technique.CAGE not in ways_apart(Pollination.WIND)


def test_another_time_of_flowering_keeps_both_apart():
    early = stand("early", technique=Technique.TIME)

    assert outcome(early, stand("late"), 0) == Outcome.APART
    assert outcome(early, stand("late"), None) == Outcome.APART


def test_what_pollinates_itself_and_has_no_distance_needs_none():
    bean = {"pollination": Pollination.SELF, "required_m": None}

    assert outcome(stand("a", **bean), stand("b", **bean), 0) == Outcome.APART
    assert outcome(stand("a", **bean), stand("b", **bean), None) == Outcome.APART
    unknown = {"pollination": Pollination.INSECT, "required_m": None}
    assert outcome(stand("a", **unknown), stand("b", **unknown), 0) == Outcome.UNKNOWN


def test_only_what_can_meet_is_told_the_worst_first():
    stands = [
        stand("one", technique=Technique.BAG),
        stand("same again", variety="one"),
        stand("another species", species="maxima"),
        stand("next year", flowers_in=2028),
        stand("two", technique=Technique.BAG),
        stand("three"),
        stand("eaten", for_seed=False),
        stand("eaten too", for_seed=False),
    ]

    found = meetings(stands, lambda one, other: 0.0)

    pairs = {(m.one.key, m.other.key) for m in found}
    assert ("one", "same again") not in pairs
    assert ("eaten", "eaten too") not in pairs
    assert {"another species", "next year"} & {key for pair in pairs for key in pair} == set()
    order = [list(Outcome).index(m.outcome) for m in found]
    assert order == sorted(order)
    assert found[0].outcome == Outcome.CROSSES


def test_clones_never_meet():
    potato = {"pollination": Pollination.CLONAL, "required_m": None}

    assert meetings([stand("a", **potato), stand("b", **potato)], lambda a, b: 0.0) == []


def test_a_distance_below_nothing_is_refused():
    with pytest.raises(ValueError, match="0 metres or more"):
        stand("a", required_m=-1)
    with pytest.raises(ValueError, match="0 metres or more"):
        meeting(stand("a"), stand("b"), -1)


@given(
    pollination=st.sampled_from(["self", "mostly-self", "insect", "wind"]),
    required=st.none() | st.floats(0, 3000),
    metres=st.none() | st.floats(0, 5000),
    techniques=st.tuples(*[st.sampled_from(list(Technique))] * 2),
)
def test_nothing_that_a_grower_does_makes_a_pair_worse(
    pollination, required, metres, techniques
):
    """Whatever is done about either, and every metre more, leaves a pair as safe or safer."""
    facts = {"pollination": Pollination(pollination), "required_m": required}
    bare = [stand("a", **facts), stand("b", **facts)]
    done = [
        stand(key, technique=how, **facts) for key, how in zip("ab", techniques, strict=True)
    ]
    rank = list(Outcome).index
    if Technique.UNKNOWN not in techniques:
        assert rank(outcome(*done, metres)) >= rank(outcome(*bare, metres))
    if metres is not None:
        assert rank(outcome(*done, metres + 100)) >= rank(outcome(*done, metres))
    mirrored = [outcome(*pair, metres) for pair in itertools.permutations(done)]
    assert mirrored[0] == mirrored[1]
