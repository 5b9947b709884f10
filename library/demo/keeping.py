"""Winter work with the stock: freezing, bulking, counting, mending, and who holds what."""

from __future__ import annotations

import datetime as dt
from functools import partial

from library.demo import bench
from library.demo.world import SEASONS, World
from library.stock import services as stock
from library.stock.models import Lot, Packet

FROZEN = 60  # seeds put aside are at least so many
BULKED_EACH_WINTER = 2


def plan(world: World) -> None:
    for season in range(1, SEASONS + 1):
        for month, day, deed in ((2, 3, freeze_jars), (2, 6, bulk_some)):
            world.diary.on(world.day(season, month, day), partial(deed, world, season))
    once = (
        (2, 1, 9, wrong_jar),
        (2, 6, 18, into_the_cool),
        (3, 1, 16, count_tin),
        (4, 2, 4, on_into_the_freezer),
        (4, 11, 21, mouldy_packet),
        (5, 2, 12, amend_two),
        (5, 2, 20, gift_to_neighbours),
        (6, 1, 15, count_again),
        (6, 5, 9, up_to_the_loft),
        (7, 3, 1, recount_jar),
        (7, 5, 9, up_to_the_loft),
    )
    for season, month, day, deed in once:
        world.diary.on(world.day(season, month, day), partial(deed, world, season))
    for season, name in ((2, "Old Wether"), (4, "Bracken"), (6, "Sorrel")):
        world.diary.on(world.day(season, 11, 5), partial(kept_at_home, world, season, name))


def _jars(**wanted) -> list[Lot]:
    """Tested lots with seed in the jar, oldest first."""
    lots = Lot.objects.with_variety().filter(
        awaits_first_test=False, withheld_reason="", custodian=None, **wanted
    )
    return list(lots.filter(loose__gt=0).order_by("pk"))


def _fullest(lots: list[Lot]) -> Lot:
    return max(lots, key=lambda lot: (lot.loose, lot.pk))


# Every winter -----------------------------------------------------------------------------
def freeze_jars(world: World, season: int) -> None:
    """Last year's jars of rare varieties go into the freezer; their packets stay out."""
    on, reserve = world.day(season, 2, 3), world.places["reserve"]
    for lot in _jars(variety__is_rare=True, received_on__year=world.year(season - 1)):
        if lot.loose < FROZEN or lot.counted_as != "seed" or lot.storage_place == reserve:
            continue
        stock.move_lot(
            lot=lot, storage_place=reserve, by=world.bench, on=on,
            with_packets=False,
        )  # fmt: skip
        world.moved(lot, reserve, on)


def bulk_some(world: World, season: int) -> None:
    """Jars of one variety from two growers of the same year become one lot."""
    on = world.day(season, 2, 6)
    by_variety: dict[int, list[Lot]] = {}
    for lot in _jars(origin="return", harvest_year=world.year(season - 1)):
        by_variety.setdefault(lot.variety_id, []).append(lot)
    pairs = [lots[:3] for lots in by_variety.values() if len(lots) >= 2]
    for lots in pairs[:BULKED_EACH_WINTER]:
        parts = [(lot, max(1, round(lot.loose * 0.8))) for lot in lots]
        place = lots[0].storage_place
        mixed = stock.bulk_lots(lots=parts, on=on, by=world.bench, storage_place=place)
        share = sum(world.vigour[lot.pk].share(on) * seeds for lot, seeds in parts)
        mixed.variety = lots[0].variety
        world.remember(mixed, initial=share / sum(seeds for _lot, seeds in parts), harvest=on)
        bench.expect_first_test(world, mixed, on)


# Once -------------------------------------------------------------------------------------
TINS = ("legumes", "fruiting", "leaves", "grains")


def _move(world: World, lots: list[Lot], place: str, on: dt.date) -> None:
    """The jars go elsewhere; their packets stay in the cupboard."""
    for lot in lots:
        stock.move_lot(
            lot=lot, storage_place=world.places[place], by=world.bench, on=on,
            with_packets=False,
        )  # fmt: skip
        world.moved(lot, world.places[place], on)


def _in_tins(world: World) -> list[Lot]:
    """The fullest jars of the cupboard first."""
    tins = [world.places[key] for key in TINS]
    jars = _jars(storage_place__in=tins, counted_as="seed")
    return sorted(jars, key=lambda lot: (-lot.loose, lot.pk))


def into_the_cool(world: World, season: int) -> None:
    """A hot June: what there is room for goes from the cupboard into the refrigerator."""
    _move(world, _in_tins(world)[:5], "short", world.day(season, 6, 18))


def on_into_the_freezer(world: World, season: int) -> None:
    """What went into the cool that summer, and is left, is dried and frozen."""
    cool = _jars(storage_place=world.places["short"], counted_as="seed")
    grown_up = [lot for lot in cool if world.habit(lot.variety).place != "short"]
    _move(world, grown_up, "reserve", world.day(season, 2, 4))


def up_to_the_loft(world: World, season: int) -> None:
    """The cupboard is full: three jars stand in Sorrel's loft, where nobody has measured."""
    _move(world, _in_tins(world)[:3], "loft", world.day(season, 5, 9))


def wrong_jar(world: World, season: int) -> None:
    """Seed written off from the wrong lot, noticed the next week."""
    on = world.day(season, 1, 9)
    lot = _fullest(_jars(variety__crop__species__common_name="lettuce"))
    wrong = stock.discard(
        lot=lot, seeds=lot.loose // 3, on=on, by=world.people["Tansy"], reason="spilt"
    )
    stock.mend_movement(
        movement=wrong,
        on=on + dt.timedelta(days=6),
        by=world.coordinator,
        reason="written against the wrong lot: what was spilt was radish",
    )


def count_tin(world: World, season: int) -> None:
    """The first stock-taking: a packet is missing and a jar is short."""
    _count(world, "legumes", world.day(season, 1, 16), short=7, missing=1)


def count_again(world: World, season: int) -> None:
    """The second: one jar holds more than the ledger says."""
    _count(world, "fruiting", world.day(season, 1, 15), short=-12, missing=0)


def _count(world: World, place: str, on: dt.date, *, short: int, missing: int) -> None:
    box = world.places[place]
    take = stock.start_stock_take(
        storage_place=box, by=world.people["Tansy"], note="Counted by two, one aloud."
    )
    lots = list(Lot.objects.with_seed().filter(storage_place=box).order_by("pk")[:14])
    odd = world.rng.randrange(len(lots))
    for number, lot in enumerate(lots):
        gone: list[Packet] = []
        loose = lot.loose
        if number == odd:
            gone = list(lot.packets.on_shelf().order_by("pk")[:missing])
            loose = max(0, loose - short)
        stock.count_lot(
            stock_take=take,
            lot=lot,
            loose=loose,
            missing_packets=gone,
            by=world.people["Tansy"],
        )
    stock.close_stock_take(stock_take=take, by=world.coordinator, on=on)
    world.counted_on[take.pk] = on


def mouldy_packet(world: World, season: int) -> None:
    on = world.day(season, 11, 21)
    packet = (
        Packet.objects.on_shelf().with_lot()
        .filter(lot__variety__crop__name="climbing bean", lot__received_on__lt=on)
        .order_by("pk").first()
    )  # fmt: skip
    if packet is not None:
        stock.discard(
            lot=packet.lot,
            packet=packet,
            on=on,
            by=world.people["Tansy"],
            reason="mouldy: the window above the cupboard was left open",
        )


def amend_two(world: World, season: int) -> None:
    """Two things that were written down wrongly when the seed came in."""
    on = world.day(season, 2, 12)
    lots = Lot.objects.filter(origin="deposit", received_on__year__lt=on.year).order_by("pk")
    lot = lots.filter(harvest_year__isnull=False, child_links=None).last()
    if lot is not None and lot.harvest_year is not None:
        stock.amend_lot(
            lot=lot,
            field="harvest_year",
            value=lot.harvest_year - 1,
            reason="the giver found the envelope: it was the year before",
            by=world.coordinator,
        )
    first = lots.exclude(origin_region="").first()
    if first is not None:
        stock.amend_lot(
            lot=first,
            field="origin_region",
            value="Long Ing, the valley floor, Tarn Hollow",
            reason="told more exactly by the giver's sister",
            by=world.coordinator,
        )


def gift_to_neighbours(world: World, season: int) -> None:
    """A box of plenty for the library of the next valley."""
    on = world.day(season, 2, 20)
    for lot in sorted(_jars(), key=lambda lot: -lot.loose)[:3]:
        stock.give_away(
            lot=lot, seeds=lot.loose // 6, on=on, by=world.coordinator,
            reason="to the seed swap of the next valley",
        )  # fmt: skip


def recount_jar(world: World, season: int) -> None:
    on = world.day(season, 3, 1)
    lot = _fullest(_jars(variety__crop__name="kale"))
    stock.correct_count(
        lot=lot,
        loose=lot.loose + 45,
        on=on,
        by=world.people["Corbie"],
        reason="weighed again with the better scales",
    )


def kept_at_home(world: World, season: int, name: str) -> None:
    """A member keeps part of the library's seed at home, so that one fire cannot take all."""
    on = world.day(season, 11, 5)
    grown = [lot for lot in _jars(grower=world.people[name]) if not lot.packed]
    known = [lot for lot in _jars(grower=world.people[name]) if lot.packed]
    if lots := grown or known:
        stock.hand_to_custodian(
            lot=lots[-1], custodian=world.people[name], by=world.coordinator, on=on
        )
        world.moved(lots[-1], None, on)
