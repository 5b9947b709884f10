"""Gardens with a place, and chains of lots grown in them."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
import time_machine

from accounts import services as people
from library.stock import services as stock
from library.stock.models import Growing, Lot, LotParent

NORTH_M = 1 / 111_320  # degrees for a metre, near enough for a test that measures again


@pytest.fixture
def november():
    """It is the morning of 20 November 2026."""
    with time_machine.travel(dt.datetime(2026, 11, 20, 9, tzinfo=dt.UTC), tick=False) as clock:
        yield clock


@pytest.fixture
def make_garden(make_member):
    """``make_garden("mill", north_m=80)``: a member's garden, so far north of the first."""

    def make(name: str, *, north_m: float = 0, placed: str = "exact", owner=None, **place):
        owner = owner or make_member(f"grower of {name}")
        place = {"latitude": 54.4 + north_m * NORTH_M, "longitude": -3.1} | place
        return people.add_garden(member=owner, by=owner, name=name, placed=placed, **place)

    return make


@pytest.fixture
def grow(make_lot):
    """``grow(parent, 2023, isolation="cage")``: a lot grown from another and brought back."""

    def make(*parents: Lot, year: int, variety=None, **growing) -> Lot:
        links = [(parent, 1 / len(parents)) for parent in parents]
        return make_lot(
            variety or parents[0].variety,
            origin="return",
            parents=links,
            harvest_year=year,
            on=dt.date(year, 11, 1),
            growing=growing,
        )

    return make


@pytest.fixture
def start(make_lot):
    """``start(variety, 2020)``: a lot brought in from outside."""

    def make(variety=None, year: int = 2020, **facts) -> Lot:
        return make_lot(variety, harvest_year=year, on=dt.date(year, 11, 1), **facts)

    return make


@pytest.fixture
def bulk(desk):
    def make(*lots: Lot, on=dt.date(2025, 11, 1)) -> Lot:
        return stock.bulk_lots(lots=[(lot, 100) for lot in lots], on=on, by=desk)

    return make


@pytest.fixture
def note_lot(variety):
    """``note_lot("B", {"A": 1}, plants=20)``: a lot returned from lot A, of which 20 gave seed.

    Without parents it is a deposit. ``of`` is its variety; ``origin`` may be ``bulk``;
    ``males`` and ``stood`` are plants too; other words are facts of the lot.
    """
    lots: dict[str, Lot] = {}

    def make(number, parents=None, *, plants=None, males=None, stood=None, of=None, **facts):
        facts = {"origin": "return" if parents else "deposit"} | facts
        lot = Lot.objects.create(
            number=number, variety=of or variety, received_on=dt.date(2020, 1, 1), **facts
        )
        for parent, share in (parents or {}).items():
            LotParent.objects.create(child=lot, parent=lots[parent], share=Decimal(str(share)))
        if any(count is not None for count in (plants, males, stood)):
            Growing.objects.create(
                lot=lot, plants_gave_seed=plants, pollen_plants=males, plants_stood=stood
            )
        lots[number] = lot
        return lot

    return make


@pytest.fixture
def squash(make_variety):
    """Home gardens keep 805 m: a handout whose publisher is not shown (species.csv)."""
    return make_variety("Tarn Crookneck", crop="crookneck squash")


@pytest.fixture
def crowded(squash, start, grow, make_garden, make_variety):
    """Two kinds of one species in gardens 80 m apart, both harvested in 2022, and which is
    looked at: ``crowded(placed="grid")`` and so on.
    """

    def make(*, north_m=80, year=2022, here=None, there=None, other=None, **noted):
        noted = noted or {"isolation": "distance", "isolation_distance_m": 900}
        garden = make_garden("Upper Beck plot", **(here or {}))
        neighbour = make_garden("Lower Beck plot", north_m=north_m, **(there or {}))
        other = other or make_variety("Ford Pumpkin", crop="pumpkin")
        grow(start(other), year=year, garden=neighbour)
        return grow(start(squash), year=2022, garden=garden, **noted)

    return make
