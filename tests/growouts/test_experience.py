"""How likely somebody's grow-out is to give seed."""

from __future__ import annotations

import datetime as dt

import pytest
from scipy.stats import beta

from library.growouts.experience import estimate, experience_of
from library.growouts.models import Cause
from tests.growouts.conftest import TODAY

YESTERDAY = TODAY - dt.timedelta(days=1)
ENDED = {"closed_on": YESTERDAY}


@pytest.fixture
def grew(make_commitment, make_variety):
    """``grew(member, state, cause="")`` is a grow-out that ended yesterday."""

    def make(grower, state, *, cause="", on=YESTERDAY):
        return make_commitment(make_variety(), grower, state=state, cause=cause, closed_on=on)

    return make


def test_somebody_new_is_expected_what_the_rules_expect(valley, member):
    experience = experience_of([member.pk], on=TODAY)[member.pk]

    assert experience.mean == pytest.approx(0.7)
    assert (experience.gave_seed, experience.failed, experience.excused) == (0, 0, 0)
    assert (experience.low, experience.high) == pytest.approx(
        (beta(2.8, 1.2).ppf(0.05), beta(2.8, 1.2).ppf(0.95))
    )


def test_seed_that_came_back_counts_for_and_neglect_against(grew, member):
    for _n in range(3):
        grew(member, "fulfilled")
    grew(member, "failed", cause=Cause.NEGLECT)
    experience = experience_of([member.pk], on=TODAY)[member.pk]

    assert experience.mean == pytest.approx((2.8 + 3) / (4 + 4))
    assert (experience.gave_seed, experience.failed) == (3, 1)
    assert experience.inputs["expected_percent"] == 70


@pytest.mark.parametrize("cause", [c for c in Cause if c not in ("crossed", "neglect")])
def test_what_nobody_could_help_is_held_against_nobody(grew, member, cause):
    grew(member, "failed", cause=cause)
    experience = experience_of([member.pk], on=TODAY)[member.pk]

    assert experience.mean == pytest.approx(0.7)
    assert (experience.failed, experience.excused) == (0, 1)


@pytest.mark.parametrize("state", ["declined", "withdrawn", "lapsed"])
def test_saying_no_is_held_against_nobody(grew, member, state):
    grew(member, state)

    assert experience_of([member.pk], on=TODAY)[member.pk].mean == pytest.approx(0.7)


def test_what_ended_later_is_not_known_yet(grew, member):
    grew(member, "fulfilled", on=TODAY)

    assert experience_of([member.pk], on=YESTERDAY)[member.pk].gave_seed == 0
    assert experience_of([member.pk], on=TODAY)[member.pk].gave_seed == 1


def test_more_outcomes_make_it_surer():
    few, many = estimate(0.7, 3, 1), estimate(0.7, 30, 10)

    assert many.high - many.low < few.high - few.low


@pytest.mark.parametrize("expected", [0, 1, -0.1, 1.2])
def test_an_expectation_that_leaves_no_doubt_is_refused(expected):
    with pytest.raises(ValueError, match="between 0 and 1"):
        estimate(expected, 0, 0)


def test_many_growers_are_read_in_as_many_questions_as_one(
    grew, make_member, django_assert_num_queries
):
    growers = [make_member(f"grower {n}") for n in range(6)]
    for grower in growers:
        grew(grower, "fulfilled")

    experience_of([], on=TODAY)  # the one row of rules is there
    for several in (growers[:1], growers):
        with django_assert_num_queries(2):
            experience_of([grower.pk for grower in several], on=TODAY)
