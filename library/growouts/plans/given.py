"""All that a season's plan is made from, read from the database as plain data.

Keys: ``v`` and a variety's, ``g`` and a garden's, ``m`` and a member's number.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Q

from accounts.models import Community, Garden
from library.catalogue.models import LifeCycle, SpeciesFigure, Variety
from library.growouts.experience import experience_of
from library.growouts.models import (
    Commitment,
    GardenOffer,
    GrowOutRules,
    OwnPlanting,
    Pin,
    Season,
)
from library.growouts.plans.spacing import spacing_of
from library.growouts.risk import situations
from library.lending.services.growouts import with_seed_here
from library.lending.services.seasons import days_to_maturity
from library.science import assignment as science
from library.science.assignment.files import season_to_json
from library.science.calendar import (
    BIENNIAL_SEED_DAYS,
    DEFAULT_DAYS_TO_MATURITY,
    FIRST_YEAR_DAYS,
    SEED_RIPENING_DAYS,
    growing_days,
    stands_over_winter,
)
from library.science.calendar import LifeCycle as Cycle
from library.science.isolation import Pollination

TWO_SEASONS = (LifeCycle.BIENNIAL, LifeCycle.PERENNIAL)
NO_FROST_DAYS = 365


def variety_key(pk: int) -> str:
    return f"v{pk}"


def garden_key(pk: int | None) -> str:
    return f"g{pk}"


def grower_key(pk: int) -> str:
    return f"m{pk}"


def number_of(key: str) -> int:
    """The row's number in a key."""
    return int(key[1:])


@dataclass
class Given:
    """The season as the solver takes it, and what a coordinator should know about it."""

    season: science.Season
    without_place: list[Garden] = field(default_factory=list)
    without_frosts: list[Garden] = field(default_factory=list)
    plantings_without_place: int = 0
    lost_pins: list[Pin] = field(default_factory=list)
    without_seed: list[int] = field(default_factory=list)  # varieties, by key

    def to_json(self) -> dict[str, Any]:
        """What the plan keeps: the season, and beside it what could not be known."""
        notes = {
            "without_place": [garden.pk for garden in self.without_place],
            "without_frosts": [garden.pk for garden in self.without_frosts],
            "plantings_without_place": self.plantings_without_place,
            "lost_pins": len(self.lost_pins),
            "without_seed": self.without_seed,
        }
        return season_to_json(self.season) | {"notes": notes}


def given_of(season: Season, *, on: dt.date, also: Variety | None = None) -> Given:
    """Everything the plan of a season is made from, as of a day; a fixed number of queries.

    ``also`` a variety that is looked at whether it is wanted or not, and has seed here or not.

    What was promised or offered is pinned, what was declined is forbidden. A promise in a
    garden that is not offered counts as a planting that will flower, and for what it saves.
    Biennials that were promised last year flower now and still take their room.
    """
    wanted = list(season.wanted.with_variety())
    offers = list(
        GardenOffer.objects.standing(season)
        .select_related("offer", "garden")
        .order_by("garden")
    )
    promises = list(
        season.commitments.select_related("variety__crop__species", "garden").order_by("pk")
    )
    last_year = list(_last_years_biennials(season))
    varieties, without_seed = _varieties(wanted, promises)
    if also is not None:
        varieties.setdefault(also.pk, also)
    gardens = {offer.garden_id: offer for offer in offers}
    pins, lost = _pins(season, varieties, gardens)
    bound = [p for p in promises if p.state in ("offered", "accepted")]
    elsewhere = [p for p in bound if p.garden_id not in gardens]
    given = Given(
        season=science.Season(
            varieties=tuple(_wanted_varieties(season, varieties, wanted, bound, elsewhere, on)),
            gardens=tuple(_gardens(offers, last_year)),
            growers=tuple(_growers(offers, on)),
            plantings=tuple(_plantings(season, varieties.values(), elsewhere, last_year)),
            pinned=frozenset(pins["keep"] | _pairs(bound, varieties, gardens)),
            forbidden=frozenset(
                (pins["never"] | _not_asked_again(promises, elsewhere, varieties, offers))
                - _pairs(bound, varieties, gardens)
            ),
            apart_m=float(GrowOutRules.current().apart_m),
        ),
        without_place=[o.garden for o in offers if not _is_placed(o.garden)],
        without_frosts=[o.garden for o in offers if o.garden.season is None],
        plantings_without_place=_plantings_of(season, varieties.values())
        .exclude(**PLACED)
        .count(),
        lost_pins=lost,
        without_seed=without_seed,
    )
    return given


PLACED = {"garden__placed": Garden.Placed.EXACT, "garden__latitude__isnull": False}


def days_needed(variety: Variety) -> int:
    """Days without frost that the variety needs in one season to give seed.

    What is planted in the autumn before (garlic) stands through the frosts, and needs only the
    warm months until it is lifted. Common practice, no source.
    """
    cycle = variety.crop.life_cycle
    if cycle in TWO_SEASONS:
        return max(FIRST_YEAR_DAYS, BIENNIAL_SEED_DAYS)
    maturity = days_to_maturity(variety) or DEFAULT_DAYS_TO_MATURITY
    if stands_over_winter(Cycle(cycle), maturity):
        return FIRST_YEAR_DAYS
    if cycle == LifeCycle.CLONAL:
        return maturity
    return maturity + SEED_RIPENING_DAYS


def seasons_bound(variety: Variety) -> int:
    """How many seasons its plot is bound."""
    return 2 if variety.crop.life_cycle in TWO_SEASONS else 1


def room_needed(variety: Variety, plants: int | None = None) -> float:
    """Square metres for its plants: those that keep it, unless others are wanted."""
    from library.lending.services.reserve import figures_of, population_of

    if plants is None:
        plants = population_of(variety, figures_of(variety)).plants
    return plants / spacing_of(variety.crop).plants_per_m2


def _last_years_biennials(season: Season) -> Iterable[Commitment]:
    rows = Commitment.objects.growing().filter(
        season__year=season.year - 1, variety__crop__life_cycle__in=TWO_SEASONS
    )
    return rows.select_related("variety__crop__species", "garden")


def _varieties(wanted, promises) -> tuple[dict[int, Variety], list[int]]:
    """Those that are wanted and can be sown, and those that are offered or promised; and what
    is wanted without any seed here.
    """
    bound = {
        row.variety_id: row.variety for row in promises if row.state in ("offered", "accepted")
    }
    found = {row.variety_id: row.variety for row in wanted}
    here = with_seed_here(found)
    without = [pk for pk in found if pk not in here and pk not in bound]
    return {pk: v for pk, v in found.items() if pk not in without} | bound, without


def _wanted_varieties(
    season, varieties, wanted, bound, elsewhere, on
) -> Iterable[science.WantedVariety]:
    facts = {row.variety_id: row for row in wanted}
    asked = list(varieties.values())
    known = situations(on=on, varieties=asked, without_season=season.pk)
    metres = _isolation({variety.crop.species_id for variety in asked})
    busy: dict[int, int] = defaultdict(int)
    for row in bound:
        busy[row.variety_id] += 1
    success = experience_of({row.grower_id for row in elsewhere}, on=on)
    saved: dict[int, float] = defaultdict(lambda: 1.0)  # by promises in gardens not offered
    taken: dict[int, int] = defaultdict(int)
    for row in elsewhere:
        saved[row.variety_id] *= 1 - success[row.grower_id].mean
        taken[row.variety_id] += 1
    for pk, variety in varieties.items():
        row = facts.get(pk)
        most = row.most_growers if row else 1
        species = variety.crop.species
        yield science.WantedVariety(
            key=variety_key(pk),
            species=f"s{species.pk}",
            pollination=Pollination(species.pollination),
            isolation_m=metres.get(species.pk),
            plants=known[pk].population.plants,
            plants_per_m2=spacing_of(variety.crop).plants_per_m2,
            days=days_needed(variety),
            seasons=seasons_bound(variety),
            loss=known[pk].lost * saved[pk],
            weight=float(row.weight) if row else 1.0,
            most_growers=max(1, max(most, busy[pk]) - taken[pk]),
        )


def _isolation(species: set[int]) -> dict[int, float]:
    rows = SpeciesFigure.objects.filter(
        species__in=species, quantity=SpeciesFigure.Quantity.ISOLATION_HOME_M
    )
    return {row.species_id: float(row.number) for row in rows if row.number is not None}


def _gardens(offers, last_year) -> Iterable[science.OfferedGarden]:
    taken: dict[int | None, float] = defaultdict(float)
    for row in last_year:
        taken[row.garden_id] += room_needed(row.variety, row.plants)
    for offer in offers:
        garden, placed = offer.garden, _is_placed(offer.garden)
        room = max(0.0, float(offer.room_m2) - taken[garden.pk])
        later = None if offer.room_next_m2 is None else float(offer.room_next_m2)
        yield science.OfferedGarden(
            key=garden_key(garden.pk),
            grower=grower_key(offer.offer.member_id),
            latitude=float(garden.latitude or 0) if placed else 0.0,
            longitude=float(garden.longitude or 0) if placed else 0.0,
            room_m2=room,
            room_next_m2=later,
            days=_days_there(garden),
            techniques=offer.techniques,
            place_known=placed,
        )


def _is_placed(garden: Garden) -> bool:
    return garden.placed == Garden.Placed.EXACT and garden.latitude is not None


def _days_there(garden: Garden) -> int:
    """The garden's season, else the community's; where nobody said, long enough."""
    season = garden.season or Community.current().season
    return NO_FROST_DAYS if season is None else growing_days(season)


def _growers(offers, on) -> Iterable[science.Grower]:
    most = {offer.offer.member_id: offer.offer.most for offer in offers}
    known = experience_of(most, on=on)
    for pk, number in sorted(most.items()):
        yield science.Grower(key=grower_key(pk), most=number, success=known[pk].mean)


def _plantings_of(season, varieties: Iterable[Variety]):
    """Own plantings that will flower while the season's varieties do: this year, and of the
    species of a biennial also next year, when its seed is made.
    """
    now = {variety.crop.species_id for variety in varieties}
    later = {v.crop.species_id for v in varieties if seasons_bound(v) == 2}
    this_year, next_year = Q(year=season.year), Q(year=season.year + 1)
    flowering = OwnPlanting.objects.flowering()
    return flowering.filter(this_year & Q(species__in=now) | next_year & Q(species__in=later))


def _plantings(season, varieties, elsewhere, last_year) -> Iterable[science.Planting]:
    rows = _plantings_of(season, varieties).filter(**PLACED).select_related("garden")
    for row in rows:
        own = variety_key(row.variety_id) if row.variety_id else f"own {row.pk}"
        yield _planting(row.species_id, own, row.garden)
    for row in [*elsewhere, *last_year]:
        if row.garden is not None and _is_placed(row.garden):
            species = row.variety.crop.species_id
            yield _planting(species, variety_key(row.variety_id), row.garden)


def _planting(species: int, variety: str, garden: Garden) -> science.Planting:
    return science.Planting(
        species=f"s{species}",
        variety=variety,
        latitude=float(garden.latitude or 0),
        longitude=float(garden.longitude or 0),
    )


def _pairs(bound, varieties, gardens) -> set[science.Pair]:
    return {
        (variety_key(row.variety_id), garden_key(row.garden_id))
        for row in bound
        if row.variety_id in varieties and row.garden_id in gardens
    }


def _not_asked_again(promises, elsewhere, varieties, offers) -> set[science.Pair]:
    """Who declined a variety, or let it pass or failed with it, is not asked for it again, nor
    who grows it in a garden that is not offered.
    """
    gardens_of: dict[int, list[int]] = defaultdict(list)
    for offer in offers:
        gardens_of[offer.offer.member_id].append(offer.garden_id)
    ended = [row for row in promises if row.state in ("declined", "lapsed", "failed")]
    return {
        (variety_key(row.variety_id), garden_key(garden))
        for row in [*ended, *elsewhere]
        if row.variety_id in varieties
        for garden in gardens_of[row.grower_id]
    }


def _pins(season, varieties, gardens) -> tuple[dict[str, set[science.Pair]], list[Pin]]:
    found: dict[str, set[science.Pair]] = {"keep": set(), "never": set()}
    lost = []
    for pin in season.pins.select_related("variety", "garden__member"):
        if pin.variety_id in varieties and pin.garden_id in gardens:
            pair = variety_key(pin.variety_id), garden_key(pin.garden_id)
            found[pin.kind].add(pair)
        else:
            lost.append(pin)
    return found, lost
