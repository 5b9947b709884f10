"""A chain with everything in it, a library that has a name; and another library's file."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
import time_machine

from accounts import services as people
from accounts.services import save_community
from library.stock import services as stock
from tests.exchange.files import File

EMAIL = "ada.rook@example.org"
STORY = (
    "My aunt kept it from 1962 to 2019, 2.5 kg in all. Write to ada.rook@example.org, look at "
    "54.40123, -3.10045 or 54°24'04\" N 3°06'02\" W, or ring 020 7946 0958."
)


@pytest.fixture
def community(administrator):
    return save_community(
        by=administrator, name="Tarn Hollow Seed Library", place="Tarn Hollow"
    )


@pytest.fixture
def grower(make_member):
    """She chose the name Rook; the garden is where she lives."""
    person = make_member("Rook")
    people.add_garden(
        member=person,
        by=person,
        name="Behind the mill",
        placed="exact",
        latitude=54.40123,
        longitude=-3.10045,
    )
    return person


@pytest.fixture
def chain_of_all(make_lot, variety, grower, desk, make_member, community):
    """A deposit, two lots grown of it and of a lot elsewhere, and their bulk: the bulk."""
    giver = make_member("Giver who would not be named")
    deposit = make_lot(
        variety,
        on=dt.date(2019, 11, 1),
        harvest_year=2019,
        grower=giver,
        origin_story=STORY,
        origin_region="Lower Beck, near 54.4012 N 3.1003 W",
        growing={"plants_gave_seed": 12, "notes": "over my fence at Mill Lane"},
    )
    elsewhere = stock.record_lot_elsewhere(
        identifier=uuid.UUID("0b6d2b6e-6f7e-4c0b-9a58-111111111111"),
        library="Ford Common Seeds",
        number="FC-7",
        variety=variety,
        origin_there="deposit",
        on=dt.date(2018, 10, 1),
        place="Ford",
        harvest_year=2018,
    )
    part = make_lot(
        variety,
        origin="deposit",
        part_of=elsewhere,
        harvest_year=2018,
        on=dt.date(2019, 11, 2),
        source_name="Old Tam",
    )
    grown = [
        make_lot(
            variety,
            origin="return",
            parents=[(parent, 1)],
            harvest_year=2021,
            on=dt.date(2021, 10, 9),
            grower=grower,
            growing={
                "garden": grower.gardens.get(),
                "plants_sown": 40,
                "plants_stood": 32,
                "plants_gave_seed": 30,
                "isolation": "distance",
                "isolation_distance_m": 120,
                "crossing_neighbour": "beans of the Lower Beck plot",
                "selection": "early; ask ada.rook@example.org",
                "notes": "key under the pot",
            },
        )
        for parent in (deposit, part)
    ]
    return stock.bulk_lots(
        lots=[(lot, seeds) for lot, seeds in zip(grown, (100, 200), strict=True)],
        on=dt.date(2022, 1, 5),
        by=desk,
    )


@pytest.fixture
def file(variety) -> File:
    """Three generations of the variety: F-1, grown to F-2, grown to F-3."""
    made = File(variety.name, variety.crop.name, variety.crop.species.botanical_name)
    made.lot("F-1", year=2019, region="the fens", story="from a neighbour")
    made.lot("F-2", {"F-1": "1"}, year=2021, growing={"plantsStood": 30, "plantsGaveSeed": 24})
    made.lot("F-3", {"F-2": "1.000000"}, year=2023, growing={"isolation": "cage"})
    return made


@pytest.fixture
def november():
    """It is the morning of 20 November 2026."""
    with time_machine.travel(dt.datetime(2026, 11, 20, 9, tzinfo=dt.UTC), tick=True) as clock:
        yield clock
