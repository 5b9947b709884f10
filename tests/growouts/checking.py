"""Reads a stored plan again and looks at every rule, from the models alone.

Nothing of the solver, and nothing of what prepares a season for it, is used: distances come
from geographiclib, room, days and limits from the rows, by rules that are written down anew.
"""

from __future__ import annotations

import csv
import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from functools import cache
from itertools import combinations

from geographiclib.geodesic import Geodesic

from accounts.models import Community
from library.catalogue.models import SpeciesFigure
from library.catalogue.reference import DIRECTORY
from library.growouts.models import Commitment, GardenOffer, GrowOutRules, OwnPlanting, Plan
from library.lending.services.reserve import ASSUMED_POPULATION

TWO_YEARS = {"biennial", "perennial"}
CAN = {"cage": "can_cage", "bag": "can_bag", "hand_pollination": "can_pollinate_by_hand"}
CRUMB = 1e-6


@dataclass(frozen=True)
class Grown:
    """A variety in a garden: planned, promised elsewhere, or somebody's own."""

    variety: object
    species: int
    garden: object
    open_ground: bool


def metres(one, other) -> float:
    line = Geodesic.WGS84.Inverse(
        float(one.latitude), float(one.longitude), float(other.latitude), float(other.longitude)
    )
    return line["s12"]


def check_plan(plan: Plan) -> list[str]:
    """Every rule that the plan breaks, in words; empty for a good one."""
    pairs = list(plan.pairs.select_related("variety__crop__species", "garden__member"))
    offers = {
        offer.garden_id: offer
        for offer in GardenOffer.objects.standing(plan.season).select_related("offer")
    }
    foreign = [p for p in pairs if p.garden_id not in offers]
    if foreign:
        return [f"{pair}: the garden is not offered" for pair in foreign]
    return [
        *_limits(plan, pairs, offers),
        *_room(plan, pairs, offers),
        *_season(pairs),
        *_techniques(pairs, offers),
        *_crossing(plan, pairs),
        *_decisions(plan, pairs),
        *_promises(plan, pairs, offers),
        *_totals(plan, pairs),
    ]


# What a variety needs ---------------------------------------------------------------------
def plants_of(variety) -> int:
    species = variety.crop.species
    figure = SpeciesFigure.objects.filter(species=species, quantity="min_population").first()
    if variety.min_population:
        return variety.min_population
    if figure is not None and figure.number is not None:
        return -int(-figure.number // 1)  # rounded up
    return ASSUMED_POPULATION[species.pollination][0]


@cache
def spacings() -> dict[str, int]:
    """Square centimetres of a plant, by crop."""
    with (DIRECTORY / "plant_spacing.csv").open(encoding="utf-8", newline="") as lines:
        return {
            row["crop"]: int(row["between_rows_cm"]) * int(row["in_row_cm"])
            for row in csv.DictReader(lines)
        }


def square_metres(variety, plants: int) -> float:
    return plants * spacings().get(variety.crop.name, 50 * 40) / 10_000


def days_of(variety) -> int:
    """From the last frost to ripe seed, in the longer of its years."""
    if variety.crop.life_cycle in TWO_YEARS:
        return 120
    eaten = variety.days_to_maturity or 75
    if variety.crop.life_cycle == "clonal":
        return 90 if eaten >= 200 else eaten  # planted in the autumn before
    return eaten + 45


def days_in(garden) -> int:
    for place in (garden, Community.current()):
        if place.last_spring_frost and place.first_autumn_frost:
            spring, autumn = (
                dt.date.fromisoformat(f"2001-{day}")
                for day in (place.last_spring_frost, place.first_autumn_frost)
            )
            return (autumn - spring).days
    return 365


def distance_of(species) -> float:
    if species.pollination == "clonal":
        return 0.0
    figure = SpeciesFigure.objects.filter(species=species, quantity="isolation_home_m").first()
    number = float(figure.number) if figure and figure.number else 0.0
    return number if number > 10 else 0.0


def is_placed(garden) -> bool:
    return garden.placed == "exact" and garden.latitude is not None


# The rules --------------------------------------------------------------------------------
def _limits(plan, pairs, offers):
    most = {w.variety_id: w.most_growers for w in plan.season.wanted.all()}
    apart = GrowOutRules.current().apart_m
    load, growing = defaultdict(int), defaultdict(list)
    for pair in pairs:
        load[pair.garden.member_id] += 1
        growing[pair.variety_id].append(pair.garden)
    for member, number in load.items():
        wanted = max(o.offer.most for o in offers.values() if o.offer.member_id == member)
        if number > wanted:
            yield f"member {member} has {number} of at most {wanted}"
    for variety, gardens in growing.items():
        if len(gardens) > most.get(variety, 1):
            yield f"variety {variety} has {len(gardens)} growers"
        for one, other in combinations(gardens, 2):
            if one.member_id == other.member_id:
                yield f"variety {variety} twice with one grower"
            elif is_placed(one) and is_placed(other) and metres(one, other) < apart:
                yield f"variety {variety} in two gardens nearer than {apart} m"


def last_years_biennials(season):
    return Commitment.objects.filter(
        season__year=season.year - 1, state="accepted", variety__crop__life_cycle__in=TWO_YEARS
    ).select_related("variety__crop__species", "garden")


def _room(plan, pairs, offers):
    used = defaultdict(float)
    for pair in pairs:
        needs = square_metres(pair.variety, plants_of(pair.variety))
        used[pair.garden_id, "this"] += needs
        if pair.variety.crop.life_cycle in TWO_YEARS:
            used[pair.garden_id, "next"] += needs
    for row in last_years_biennials(plan.season):
        if (row.garden_id, "this") in used:
            used[row.garden_id, "this"] += square_metres(row.variety, row.plants)
    for (garden, season), room in used.items():
        offer = offers[garden]
        later = offer.room_m2 if offer.room_next_m2 is None else offer.room_next_m2
        there = float(offer.room_m2 if season == "this" else later)
        if room > there + CRUMB:
            yield f"garden {garden}: {room:g} of {there:g} square metres {season} season"


def _season(pairs):
    for pair in pairs:
        if days_in(pair.garden) < days_of(pair.variety):
            yield f"{pair}: the season is too short"


def _techniques(pairs, offers):
    for pair in pairs:
        able = CAN.get(pair.technique)
        if able and not getattr(offers[pair.garden_id], able):
            yield f"{pair}: its grower offers no {pair.technique}"


def _is_open(pair) -> bool:
    caged_wind = pair.technique == "cage" and pair.variety.crop.species.pollination == "wind"
    return pair.technique not in CAN or caged_wind


def _crossing(plan, pairs):
    planned = [
        Grown(p.variety_id, p.variety.crop.species_id, p.garden, _is_open(p)) for p in pairs
    ]
    standing = [*planned, *_own(plan, pairs), *_promised_elsewhere(plan, planned)]
    for pair, one in zip(pairs, planned, strict=True):
        far = distance_of(pair.variety.crop.species)
        if not far or not one.open_ground:
            continue
        if not is_placed(one.garden):
            yield f"{pair}: nobody can vouch for a distance there"
            continue
        for other in standing:
            same = other is one or other.species != one.species or other.variety == one.variety
            if same or not other.open_ground or not is_placed(other.garden):
                continue
            if metres(one.garden, other.garden) < far:
                yield f"{pair}: {other.variety} is nearer than {far:g} m"


def _own(plan, pairs):
    """What people grow for themselves and lets flower when the planned ones do."""
    year = plan.season.year
    later = {p.variety.crop.species_id for p in pairs if p.variety.crop.life_cycle in TWO_YEARS}
    for row in OwnPlanting.objects.filter(flowers=True, year__in=[year, year + 1]):
        if row.year == year or row.species_id in later:
            yield Grown(row.variety_id or f"own {row.pk}", row.species_id, row.garden, True)


def _promised_elsewhere(plan, planned):
    there = {(one.variety, one.garden.pk) for one in planned}
    rows = Commitment.objects.filter(season=plan.season, state__in=["offered", "accepted"])
    for row in [*rows, *last_years_biennials(plan.season)]:
        if row.garden is not None and (row.variety_id, row.garden_id) not in there:
            yield Grown(row.variety_id, row.variety.crop.species_id, row.garden, True)


def _decisions(plan, pairs):
    there = {(p.variety_id, p.garden_id) for p in pairs}
    for pin in plan.season.pins.all():
        if (pin.kind == "keep") != ((pin.variety_id, pin.garden_id) in there):
            yield f"pin {pin} is not kept"


def _promises(plan, pairs, offers):
    there = {(p.variety_id, p.garden_id) for p in pairs}
    with_grower = {(p.variety_id, p.garden.member_id) for p in pairs}
    asked = Commitment.objects.filter(season=plan.season)
    standing = {
        (row.variety_id, row.grower_id)
        for row in asked.filter(state__in=["offered", "accepted"])
        if row.garden_id in offers
    }
    for row in asked:
        if row.state in ("offered", "accepted"):
            if row.garden_id in offers and (row.variety_id, row.garden_id) not in there:
                yield f"{row} of {row.variety_id} is not in the plan"
        elif row.state in ("declined", "lapsed", "failed"):
            pair = row.variety_id, row.grower_id
            if pair in with_grower and pair not in standing:
                yield f"{row.variety_id} was {row.state} by member {row.grower_id}"


def _totals(plan, pairs):
    covered = len({pair.variety_id for pair in pairs})
    if covered != plan.covered:
        yield f"{covered} varieties have a grower, and the plan says {plan.covered}"
    left = set(plan.left_out.values_list("variety", flat=True))
    if left & {pair.variety_id for pair in pairs}:
        yield "a variety is in the plan and left out of it"
    wanted = set(plan.season.wanted.values_list("variety", flat=True))
    if not wanted <= left | {pair.variety_id for pair in pairs}:
        yield "a variety is neither in the plan nor left out of it"
