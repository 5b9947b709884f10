"""Which generation of a line a lot is, when chain and card agree and when they do not."""

from __future__ import annotations

import pytest

from library.catalogue.models import Variety
from library.provenance.chain import chain_up
from library.provenance.line import line_of


@pytest.fixture
def hybrid(make_variety):
    return make_variety("Ashelm", crop="tomato", breeding_status="f1")


@pytest.fixture
def card(make_variety) -> Variety:
    return make_variety(
        "Ashelm line", crop="tomato", breeding_status="segregating", generation=3
    )


def line(lot):
    return line_of(chain_up(lot))


def test_an_old_variety_is_no_line_in_the_making(note_lot):
    assert line(note_lot("A")) is None


def test_a_stabilised_variety_is_counted_from_its_f1_and_unknown_without_one(
    note_lot, hybrid, make_variety
):
    settled = make_variety("Elmash", crop="tomato", breeding_status="stabilised")
    note_lot("F1", of=hybrid)

    assert line(note_lot("F2", {"F1": 1}, of=settled)).generation == 2
    assert line(note_lot("X", of=settled)) is None


def test_dividing_and_pouring_together_are_no_generations(note_lot, hybrid, card):
    note_lot("F1", of=hybrid)
    note_lot("part", {"F1": 1}, origin="deposit", of=hybrid)
    note_lot("F2", {"part": 1}, of=card)
    note_lot("other F2", {"F1": 1}, of=card)

    bulk = line(note_lot("bulk", {"F2": 0.5, "other F2": 0.5}, origin="bulk", of=card))

    assert (bulk.generation, bulk.counted) == (2, True)


def test_of_ways_of_different_length_the_shortest_counts_and_both_are_said(
    note_lot, hybrid, card
):
    note_lot("F1", of=hybrid)
    note_lot("F2", {"F1": 1}, of=card)
    note_lot("F3", {"F2": 1}, of=card)

    mixed = line(note_lot("mixed", {"F2": 0.5, "F3": 0.5}, origin="bulk", of=card))

    assert mixed.generation == 2
    assert mixed.remarks == (
        "It descends from the F1 by ways of different length: F2 to F3. It is counted as F2, "
        "of which most is still to settle.",
    )


def test_a_card_that_says_another_generation_is_named(note_lot, hybrid, card):
    note_lot("F1", of=hybrid)

    told = line(note_lot("F2", {"F1": 1}, of=card))

    assert told.generation == 2
    assert told.remarks[0].startswith("The variety's card says F3, and counted from the F1")


def test_seed_that_comes_from_no_f1_is_named(note_lot, hybrid, card):
    note_lot("F1", of=hybrid)
    note_lot("F2", {"F1": 1}, of=card)
    note_lot("brought", of=card)
    note_lot("mixed", {"F2": 0.5, "brought": 0.5}, origin="bulk", of=card)

    told = line(note_lot("F3", {"mixed": 1}, of=card))

    assert told.generation == 3
    assert told.remarks == ("Some of it comes from seed of which no F1 is in the chain.",)


def test_without_an_f1_the_card_is_believed_while_it_can_be(note_lot, card):
    note_lot("A", of=card)
    as_told = line(note_lot("B", {"A": 1}, of=card))
    note_lot("C", {"B": 1}, of=card)
    too_far = line(note_lot("D", {"C": 1}, of=card))

    assert (as_told.generation, as_told.counted) == (3, False)
    assert "No F1 is in the chain" in as_told.remarks[0]
    assert too_far.generation == 5
    assert "grown on 3 times since it was brought" in too_far.remarks[0]


@pytest.mark.parametrize(
    ("crop", "rate", "at_last"),
    [("tomato", 1, 0), ("broad bean", 0.8, 1 / 6), ("sweetcorn", 0, 0.5)],
)
def test_a_line_settles_by_how_its_crop_pollinates(note_lot, make_variety, crop, rate, at_last):
    told = line(note_lot("F1", of=make_variety("Cross", crop=crop, breeding_status="f1")))

    assert (told.generation, told.selfing_rate) == (1, rate)
    assert told.at_last == pytest.approx(at_last)
    assert (told.true_to(0.95) is None) == (at_last > 0.05)
