"""What is true of the demo's seed follows the equation, the place and the lot."""

from __future__ import annotations

import datetime as dt

import pytest

from library.demo import source
from library.demo.seed import Ageing, Vigour

HARVESTED = dt.date(2020, 10, 1)
LATER = dt.date(2024, 10, 1)


@pytest.fixture
def ageing(make_variety) -> Ageing:
    return Ageing(make_variety().crop.species)


def test_it_ages_faster_the_warmer_and_damper_it_lies(ageing):
    rates = [ageing.in_place(key) for key in ("reserve", "short", "leaves", "loft")]

    assert rates == sorted(rates)
    assert rates[0] < rates[-1] / 10


def test_a_tin_has_the_air_of_its_cupboard():
    assert source.climate("leaves") == source.climate("cupboard")


def test_a_place_that_nobody_measured_has_a_climate_all_the_same():
    loft = next(place for place in source.places() if place["key"] == "loft")

    assert "temperature" not in loft
    assert source.climate("loft") == (22.0, 55.0)


def test_fresh_seed_is_as_alive_as_it_was_harvested():
    vigour = Vigour(0.9, [(HARVESTED, 0.5)])

    assert vigour.share(HARVESTED) == pytest.approx(0.9)


def test_it_loses_in_each_place_by_the_time_it_lay_there():
    moved = Vigour(0.9, [(HARVESTED, 0.5)])
    moved.moved(dt.date(2022, 10, 1), 0.1)
    stayed = Vigour(0.9, [(HARVESTED, 0.3)])

    assert moved.share(LATER) == pytest.approx(stayed.share(LATER), abs=0.001)


def test_a_lot_that_ages_at_twice_the_pace_loses_twice_as_much():
    quick = Vigour(0.9, [(HARVESTED, 0.2)], pace=2)
    slow = Vigour(0.9, [(HARVESTED, 0.4)])

    assert quick.share(LATER) == pytest.approx(slow.share(LATER))


def test_before_it_was_moved_it_had_lost_nothing_there():
    vigour = Vigour(0.9, [(HARVESTED, 0.2), (LATER, 5.0)])

    assert vigour.share(LATER) == Vigour(0.9, [(HARVESTED, 0.2)]).share(LATER)
