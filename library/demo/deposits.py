"""Seed brought in from outside: the founders' boxes, and what members bring later."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Any

from accounts.models import Member
from library.catalogue.models import BreedingStatus, Crop, Variety
from library.catalogue.services import add_variety
from library.demo import bench, source
from library.demo.clones import AUTUMN_CROPS
from library.demo.world import World
from library.lending import services as lending
from library.stock.models import Lot

AGAIN = 0.12  # the share of cards of which somebody else brings seed in a later year
NOT_TOLD = 0.08  # the share of deposits whose harvest year nobody knew
NAMED = 0.7  # the share of givers who let the lot's page name them
PROPOSED = 0.5  # the share that is proposed from home first


def plan(world: World) -> None:
    """Write every card's first deposit into the diary, and some later ones."""
    crops = {crop.name: crop for crop in Crop.objects.select_related("species")}
    for card in source.cards():
        season = card.get("year", -1)
        day = _first_day(world, season, card["crop"])
        world.diary.on(day, partial(bring_new, world, card, crops[card["crop"]], day))
        if world.rng.random() < AGAIN and season <= 4 and card["crop"] not in AUTUMN_CROPS:
            later = _first_day(world, world.rng.randint(season + 2, 7), card["crop"])
            world.diary.on(later, partial(bring_again, world, card["name"], later))


def _first_day(world: World, season: int, crop: str) -> dt.date:
    """The founders brought theirs in autumn; what came later came in the winter."""
    if crop in AUTUMN_CROPS:
        return world.between(world.day(season, 10, 1), world.day(season, 10, 9))
    if season < 0:
        return world.between(world.day(-1, 10, 1), world.day(-1, 12, 12))
    return world.between(world.day(season, 1, 4), world.day(season, 1, 30))


def bring_new(world: World, card: dict[str, Any], crop: Crop, on: dt.date) -> None:
    """The card is written and the seed received on the same day."""
    variety = write_card(world, card, crop)
    world.cards_written[variety.pk] = on
    if card.get("key") in STORIES_OF_THEIR_OWN:
        return
    bring(
        world,
        variety,
        on,
        giver=world.people.get(card.get("by", "")),
        source_name=card.get("source", ""),
        story=_told(card),
    )


# These begin with another deposit than the usual one; ``stories`` makes it.
KEPT_APART = {"line"}  # lent to nobody but who works on it
STORIES_OF_THEIR_OWN = {"nearly_lost", "hybrid", "line"}


def _told(card: dict[str, Any]) -> str:
    return str(card["story"]) if "source" in card else ""


def write_card(world: World, card: dict[str, Any], crop: Crop) -> Variety:
    variety = add_variety(
        crop=crop,
        name=card["name"],
        breeding_status=card.get("status", _usual_status(crop)),
        generation=card.get("generation"),
        synonyms=card.get("also", ()),
        description=card["text"],
        origin_story=card["story"],
        days_to_maturity=card["days"],
        is_rare=card.get("rare", False),
        min_population=card.get("pop"),
        by=world.coordinator,
    )
    variety.crop = crop
    world.varieties[variety.name] = variety
    if "key" in card:
        world.keys[card["key"]] = variety.name
        if card["key"] in KEPT_APART:
            world.kept_apart.add(variety.pk)
    return variety


def _usual_status(crop: Crop) -> str:
    clonal = crop.life_cycle == "clonal"
    return BreedingStatus.CLONE if clonal else BreedingStatus.OPEN_POLLINATED


def bring_again(world: World, name: str, on: dt.date) -> None:
    """Somebody else in the valley had it too."""
    season = world.season(on)
    giver = world.people[world.rng.choice(world.present(season))]
    bring(world, world.varieties[name], on, giver=giver)


def bring(
    world: World,
    variety: Variety,
    on: dt.date,
    *,
    giver: Member | None = None,
    source_name: str = "",
    story: str = "",
    seeds: int | None = None,
    harvest_year: int | None = None,
    initial: float | None = None,
    tested: bool = True,
) -> Lot:
    """Receive a deposit: proposed some days before by a member, or at the desk at once."""
    habit = world.habit(variety)
    seeds = seeds or habit.deposited.pick(world.rng)
    year = harvest_year or _harvest_year(world, on)
    told = None if world.rng.random() < NOT_TOLD else year
    seed: dict[str, Any] = {
        "variety": variety,
        "seeds": seeds,
        "harvest_year": told,
        "origin_region": world.say("regions"),
        "origin_story": story,
        "growing": _growing(world, variety) if giver else {},
    }
    place = world.place_for(variety)
    desk = world.at_desk(on)
    if giver:
        seed["may_be_named"] = world.rng.random() < NAMED
    if giver and world.rng.random() < PROPOSED:
        before = max(world.after(on, -9, -1), dt.date(on.year, 1, 1))
        deposit = lending.propose_deposit(depositor=giver, on=before, **seed)
        lot = lending.receive_deposit(deposit=deposit, on=on, by=desk, storage_place=place)
    else:
        lot = lending.deposit_at_desk(
            depositor=giver,
            source_name=source_name,
            on=on,
            by=desk,
            storage_place=place,
            **seed,
        )
    lot.variety = variety
    world.remember(lot, initial=initial, harvest=dt.date(year, 9, 20))
    if tested:
        bench.expect_first_test(world, lot, on)
    return lot


def _harvest_year(world: World, on: dt.date) -> int:
    """Last autumn's, mostly; sometimes a jar that stood a while."""
    latest = on.year if on.month >= 10 else on.year - 1
    return latest - world.rng.choices((0, 1, 2, 3), (70, 18, 8, 4))[0]


def _growing(world: World, variety: Variety) -> dict[str, Any]:
    habit = world.habit(variety)
    stood = habit.plants.pick(world.rng)
    way = world.rng.choice(habit.isolation)
    return {
        "plants_stood": stood,
        "plants_gave_seed": stood - world.rng.randint(0, stood // 8),
        "isolation": way.technique,
        "isolation_distance_m": way.metres.pick(world.rng) if way.metres else None,
    }
