"""Lots that another library kept: links of the chain that hold no seed."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.db import IntegrityError, transaction

from library.errors import Conflict, Refused
from library.stock import services as stock
from library.stock.models import Growing, Lot, LotParent

THERE = {
    "library": "Fen Edge Seed Library",
    "origin_there": "return",
    "on": dt.date(2021, 10, 1),
}


@pytest.fixture
def record(db):
    def make(variety, **facts):
        facts = THERE | {"identifier": uuid.uuid4(), "number": "F-7"} | facts
        if not facts.get("parents"):
            facts["origin_there"] = "deposit"
        return stock.record_lot_elsewhere(variety=variety, **facts)

    return make


def test_it_is_a_link_of_the_chain_and_holds_no_seed(record, variety):
    older = record(variety, harvest_year=2019, on=dt.date(2019, 10, 1))
    told = {"plants_gave_seed": 14, "isolation": "distance"}

    lot = record(variety, harvest_year=2021, parents=[(older, 1)], growing=told)

    assert lot.is_elsewhere
    assert lot.balance == 0
    assert lot.movements.count() == 0
    assert LotParent.objects.get(child=lot).parent == older
    assert lot.growing.plants_gave_seed == 14
    assert lot.foreign.library == "Fen Edge Seed Library"
    assert Lot.objects.kept_here().count() == 0


def test_seed_that_was_part_of_it_goes_on_here(record, variety, make_lot):
    there = record(variety, harvest_year=2021)

    here = make_lot(variety, part_of=there)

    assert here.origin == "deposit"
    assert here.harvest_year == 2021
    link = LotParent.objects.get(child=here)
    assert (link.parent, link.share) == (there, 1)


def test_part_of_a_lot_has_that_lots_harvest_year(record, variety, make_lot):
    there = record(variety, harvest_year=2021)

    with pytest.raises(Refused, match="harvested in 2021") as refusal:
        make_lot(variety, part_of=there, harvest_year=2022)

    assert refusal.value.field == "harvest_year"


def test_only_a_deposit_can_be_part_of_one(record, variety, make_lot):
    there, ours = record(variety), make_lot(variety)

    with pytest.raises(Refused, match="Only a deposit"):
        make_lot(variety, origin="return", parents=[(ours, 1)], part_of=there)


def test_part_of_a_lot_of_another_variety_is_refused(record, make_variety, make_lot):
    there = record(make_variety())

    with pytest.raises(Refused, match="same variety"):
        make_lot(make_variety(), part_of=there)


def test_the_same_lot_is_written_down_once(record, variety):
    known = record(variety)

    with pytest.raises(Conflict, match="known here already"):
        record(variety, identifier=known.identifier)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"on": dt.date(2099, 1, 1)}, "still to come"),
        ({"harvest_year": 2022, "on": dt.date(2021, 10, 1)}, "cannot have been received"),
        ({"harvest_year": 1700}, "Harvest year"),
        ({"library": " "}, "Say which library"),
        ({"number": ""}, "Say which library"),
        ({"growing": {"plants_stood": 2, "plants_gave_seed": 3}}, "only 2 stood"),
    ],
)
def test_what_cannot_be_is_refused_and_leaves_nothing(record, variety, change, says):
    with pytest.raises(Refused, match=says):
        record(variety, **change)

    assert not Lot.objects.exists()
    assert not Growing.objects.exists()


def test_a_child_harvested_before_its_parent_is_refused(record, variety):
    older = record(variety, harvest_year=2021)

    with pytest.raises(Refused, match="before its parent"):
        record(variety, harvest_year=2020, parents=[(older, 1)])


@pytest.mark.parametrize("column", ["loose", "packed"])
def test_the_database_lets_it_hold_no_seed(record, variety, column):
    lot = record(variety)

    with pytest.raises(IntegrityError), transaction.atomic():
        Lot.objects.filter(pk=lot.pk).update(**{column: 1})
