"""Reads a stored plan again and looks at every rule, from the models alone.

Nothing of the solver is used: distances come from geographiclib, room and limits from the rows.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations

from geographiclib.geodesic import Geodesic

from library.catalogue.models import SpeciesFigure
from library.growouts.models import GardenOffer, GrowOutRules, OwnPlanting, Plan
from library.growouts.plans.given import days_needed, room_needed, seasons_bound
from library.science.seasons import growing_days

SAFE = {"bag", "hand_pollination", "cage"}


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
    return [
        *_limits(plan, pairs, offers),
        *_room(pairs, offers),
        *_season(pairs),
        *_crossing(plan, pairs),
        *_pins(plan, pairs),
    ]


def _limits(plan, pairs, offers):
    most = {w.variety_id: w.most_growers for w in plan.season.wanted.all()}
    apart = GrowOutRules.current().apart_m
    load, growing = defaultdict(int), defaultdict(list)
    for pair in pairs:
        if pair.garden_id not in offers:
            yield f"{pair}: the garden is not offered"
        load[pair.garden.member_id] += 1
        growing[pair.variety_id].append(pair.garden)
    for member, number in load.items():
        wanted = max(o.offer.most for o in offers.values() if o.offer.member_id == member)
        if number > wanted:
            yield f"member {member} has {number} of at most {wanted}"
    for variety, gardens in growing.items():
        if len(gardens) > most[variety]:
            yield f"variety {variety} has {len(gardens)} growers"
        for one, other in combinations(gardens, 2):
            if one.member_id == other.member_id:
                yield f"variety {variety} twice with one grower"
            elif one.placed == other.placed == "exact" and metres(one, other) < apart:
                yield f"variety {variety} in two gardens nearer than {apart} m"


def _room(pairs, offers):
    used = defaultdict(float)
    for pair in pairs:
        for season in range(1, seasons_bound(pair.variety) + 1):
            used[pair.garden_id, season] += room_needed(pair.variety)
    for (garden, season), room in used.items():
        offer = offers[garden]
        later = offer.room_m2 if offer.room_next_m2 is None else offer.room_next_m2
        there = float(offer.room_m2 if season == 1 else later)
        if room > there + 1e-6:
            yield f"garden {garden}: {room} of {there} square metres in season {season}"


def _season(pairs):
    from accounts.models import Community

    for pair in pairs:
        there = pair.garden.season or Community.current().season
        if there and growing_days(there) < days_needed(pair.variety):
            yield f"{pair}: the season is too short"


def _distance(species) -> float:
    figure = SpeciesFigure.objects.filter(species=species, quantity="isolation_home_m").first()
    return float(figure.number) if figure and figure.number else 0.0


def _is_open(pair) -> bool:
    wind = pair.variety.crop.species.pollination == "wind"
    return pair.technique not in (SAFE - {"cage"} if wind else SAFE)


def _crossing(plan, pairs):
    open_pairs = [p for p in pairs if _is_open(p)]
    for one in open_pairs:
        species = one.variety.crop.species
        far = _distance(species)
        if species.pollination == "clonal" or far <= 10:
            continue
        if one.garden.placed != "exact":
            yield f"{one}: nobody can vouch for a distance there"
            continue
        others = [
            (p.variety_id, p.garden)
            for p in open_pairs
            if p is not one and p.variety.crop.species_id == species.pk
        ]
        others += [
            (p.variety_id, p.garden)
            for p in OwnPlanting.objects.filter(
                year=plan.season.year, species=species, flowers=True, garden__placed="exact"
            )
        ]
        for variety, garden in others:
            if variety == one.variety_id or garden.placed != "exact":
                continue
            if metres(one.garden, garden) < far:
                yield f"{one}: variety {variety} is nearer than {far} m"


def _pins(plan, pairs):
    there = {(p.variety_id, p.garden_id) for p in pairs}
    for pin in plan.season.pins.all():
        if (pin.kind == "keep") != ((pin.variety_id, pin.garden_id) in there):
            yield f"pin {pin} is not kept"
