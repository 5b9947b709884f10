"""The chance of loss against hand-worked sums, and against living through it many times."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.science.risk import Help, Holding, Situation, chance_of_loss, what_would_help

CHANCE = st.floats(0, 1)


def jar(alive, custodian="the library", key="a"):
    return Holding(key=key, custodian=custodian, alive=alive)


situations = st.builds(
    Situation,
    holdings=st.lists(
        st.builds(
            Holding, key=st.text(max_size=2), custodian=st.sampled_from("xyz"), alive=CHANCE
        ),
        max_size=5,
    ).map(tuple),
    growing=st.lists(CHANCE, max_size=3).map(tuple),
    elsewhere=CHANCE,
    hazard=CHANCE,
    years=st.floats(0.1, 20),
)


def test_worked_by_hand():
    """Kept 0.9^2 = 0.81. Library: 1 - 0.81 (1 - 0.5 * 0.2) = 0.271; a member: 1 - 0.81 * 0.6 =
    0.514; a grow-out: 1 - 0.81 * 0.7 = 0.433; elsewhere 0.75: 0.271 * 0.514 * 0.433 * 0.75.
    """
    risk = chance_of_loss(
        Situation(
            holdings=(jar(0.5), jar(0.8, key="b"), jar(0.6, "a member")),
            growing=(0.7,),
            elsewhere=0.25,
            hazard=0.1,
            years=2,
        )
    )

    assert risk.custodians == pytest.approx({"the library": 0.271, "a member": 0.514})
    assert risk.lost == pytest.approx(0.04523547, abs=1e-6)


def test_lived_through_many_times_it_is_lost_as_often():
    situation = Situation(
        holdings=(jar(0.7), jar(0.5, key="b"), jar(0.4, "a member")),
        growing=(0.6,),
        elsewhere=0.2,
        hazard=0.08,
        years=3,
    )
    chance, times, lost = random.Random(5), 40_000, 0
    for _life in range(times):
        standing = {c: all(chance.random() > 0.08 for _year in range(3)) for c in (0, 1, 2)}
        saved = (
            (standing[0] and (chance.random() < 0.7 or chance.random() < 0.5))
            or (standing[1] and chance.random() < 0.4)
            or (standing[2] and chance.random() < 0.6)
            or chance.random() < 0.2
        )
        lost += not saved

    expected = chance_of_loss(situation).lost
    assert lost / times == pytest.approx(
        expected, abs=4 * (expected * (1 - expected) / times) ** 0.5
    )


def test_nothing_anywhere_is_lost_for_certain():
    assert chance_of_loss(Situation()).lost == 1


@given(situations, CHANCE)
def test_it_is_a_chance_and_nobody_makes_it_worse_by_helping(situation, success):
    lost = chance_of_loss(situation).lost

    assert 0 <= lost <= 1
    for helped in what_would_help(situation, success=success):
        assert helped.lost <= lost + 1e-12
        assert helped.saves == pytest.approx(lost - helped.lost)


@given(situations, CHANCE)
def test_two_growers_help_at_least_as_much_as_one(situation, success):
    now = chance_of_loss(situation).lost
    lost = {h.deed: h.lost for h in what_would_help(situation, success=success)}

    # What saves nothing is not named.
    assert lost.get(Help.TWO_GROWERS, now) <= lost.get(Help.ONE_GROWER, now) + 1e-12


def test_a_second_place_helps_more_than_a_second_jar_beside_the_first():
    one = Situation(holdings=(jar(0.9),), hazard=0.1)
    beside = Situation(holdings=(jar(0.9), jar(0.9, key="b")), hazard=0.1)

    apart = {h.deed: h.lost for h in what_would_help(one, success=0.5)}[Help.DUPLICATE]

    assert apart < chance_of_loss(beside).lost


def test_the_best_deed_comes_first():
    helped = what_would_help(Situation(holdings=(jar(0.05),)), success=0.8)

    assert [h.deed for h in helped] == [Help.TWO_GROWERS, Help.ONE_GROWER, Help.DUPLICATE]


def test_a_test_helps_by_what_is_done_about_it():
    """Alive or dead, nobody knows: a good outcome changes nothing, a bad one sends a grower.

    Kept 1: now 0.5; after the test 0.5 * 0.02 + 0.5 * 1 * (1 - 0.8) = 0.11.
    """
    unknown = Situation(holdings=(jar(0.5),), hazard=0, years=1)

    helped = what_would_help(unknown, success=0.8, tested=[(0.5, 0.98), (0.5, 0.0)])

    lost = {h.deed: h.lost for h in helped}
    assert lost[Help.TEST] == pytest.approx(0.11)


def test_outcomes_that_do_not_sum_to_one_are_refused():
    with pytest.raises(ValueError, match="sum to 1"):
        what_would_help(Situation(holdings=(jar(0.5),)), success=0.8, tested=[(0.5, 1.0)])


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: jar(1.2), "alive"),
        (lambda: Situation(elsewhere=-1), "elsewhere"),
        (lambda: Situation(hazard=2), "loses everything"),
        (lambda: Situation(growing=(1.5,)), "succeeds"),
        (lambda: Situation(years=0), "more than 0"),
    ],
)
def test_what_cannot_be_is_refused(make, says):
    with pytest.raises(ValueError, match=says):
        make()
