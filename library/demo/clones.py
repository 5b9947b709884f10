"""Potatoes, garlic and shallots: no jar keeps them, so somebody replants them every year."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Any

from library.catalogue.models import Variety
from library.demo import loans, returns, source
from library.demo.world import SEASONS, World
from library.stock import services as stock
from library.stock.models import Lot

AUTUMN_CROPS = {"garlic", "shallot"}
SHARED = 0.15  # the share of years in which a second person grows it
CLONAL_CROPS = AUTUMN_CROPS | {"potato"}


def plan(world: World) -> None:
    """From the autumn in which it came, every clone is replanted, lifted and cleared out."""
    for card in source.cards():
        if card["crop"] in CLONAL_CROPS:
            for season in range(max(0, card.get("year", -1)), SEASONS + 1):
                _plan_season(world, card, season)


def _plan_season(world: World, card: dict[str, Any], season: int) -> None:
    if card["crop"] in AUTUMN_CROPS:
        planted, cleared = world.day(season, 10, 25), world.day(season, 11, 12)
    else:
        planted, cleared = world.day(season, 3, 20), world.day(season, 6, 10)
    world.diary.on(planted, partial(plant, world, card, planted))
    world.diary.on(cleared, partial(clear_out, world, card["name"], cleared))


def plant(world: World, card: dict[str, Any], on: dt.date) -> None:
    """Who brought it takes some, and so may one other; both lift it in their own time."""
    variety = world.varieties[card["name"]]
    others = [name for name in world.present(world.season(on)) if name != card["by"]]
    second = [world.rng.choice(others)] if world.rng.random() < SHARED else []
    for name in (card["by"], *second):
        who = loans.borrower(world, name)
        loan = loans.lend(world, variety, who, on, ending=loans.IN_A_STORY)
        if loan is not None:
            lifted = _lifted(world, card, on)
            world.diary.on(lifted, partial(lift, world, loan.pk, lifted))


def _lifted(world: World, card: dict[str, Any], planted: dt.date) -> dt.date:
    if card["crop"] in AUTUMN_CROPS:
        return dt.date(planted.year + 1, 8, world.rng.randint(8, 28))
    return dt.date(planted.year, 9, world.rng.randint(3, 27))


def lift(world: World, pk: int, on: dt.date) -> None:
    loan = returns.loan_of(pk)
    if loan.is_open:  # a mover's loans are closed by now
        returns.bring_back(world, loan, on)


def clear_out(world: World, name: str, on: dt.date) -> None:
    """What was not planted by now has sprouted; the newest is kept where there is no other."""
    variety: Variety = world.varieties[name]
    half_a_year_ago = on - dt.timedelta(days=150)
    old = Lot.objects.with_seed().filter(variety=variety, received_on__lt=half_a_year_ago)
    for lot in old.order_by("pk"):
        stock.discard_rest(lot=lot, on=on, by=world.bench, reason="sprouted; past planting")
