"""Seed that came with its history from a library over the moor, and what was learned later."""

from __future__ import annotations

import datetime as dt
from functools import partial

from library.demo import bench, source
from library.demo.world import World
from library.exchange.services import preview_chain, receive_chain
from library.provenance.services import report_off_types
from library.stock import services as stock
from library.stock.models import Lot

FILE = "chain_from_longmoor.json"  # invented, like the library that wrote it
VARIETY = "Slate Roof"
SEEDS = 240


def plan(world: World) -> None:
    """A bean comes over the moor with its papers in the seventh autumn."""
    came = world.day(7, 11, 8)
    world.diary.on(came, partial(_over_the_moor, world, came))


def _over_the_moor(world: World, on: dt.date) -> None:
    content = (source.FOLDER / FILE).read_bytes()
    desk = world.at_desk(on)
    brought, _seen = preview_chain(content=content, file_name=FILE, by=desk, on=on)
    variety = world.varieties[VARIETY]
    lot = receive_chain(
        chain_import=brought,
        by=desk,
        on=on,
        seeds=SEEDS,
        source_name="the Longmoor Seed Circle",
        origin_region="over the moor",
        storage_place=world.place_for(variety),
    )
    lot.variety = variety
    world.remember(lot, initial=0.94, harvest=dt.date(2015, 9, 20))
    bench.expect_first_test(world, lot, on)
    told = world.after(on, 20, 40)
    world.diary.on(told, partial(_put_right, world, lot.pk))


def _put_right(world: World, pk: int) -> None:
    """A letter says more of where it grew than the file did."""
    stock.amend_lot(
        lot=bench.fresh(pk),
        field="origin_region",
        value="Quarry Row, over the moor",
        reason="The Longmoor circle wrote: it never left Quarry Row before it came to them.",
        by=world.coordinator,
    )


def tell_of_bitter_fruit(world: World, lot: Lot, on: dt.date) -> None:
    """The crossed courgette, as who grew it reported it."""
    report_off_types(
        lot=lot,
        seen_on=on,
        what="Striped round fruit on three of eight plants, one of them bitter.",
        plants_seen=3,
        plants_looked_at=8,
        by=world.people["Betony"],
        on=on,
    )
