"""What must grow for what is eaten: produce, plants, row, area, seed and packets of each dish.

A figure is the member's own where they gave one, else a published one; where there is neither,
the page says what is missing, and what hangs on it stays open.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from django.db.models import prefetch_related_objects

from library.catalogue.models import SpeciesFigure
from library.germination.advice import SowingAdvice, advice_for
from library.growouts.plans.spacing import spacing_of
from library.household.kitchen.tables import (
    Food,
    Product,
    PublishedYield,
    foods,
    product_named,
    yield_named,
    yields_of,
)
from library.household.listed import MOST_PLANTS, assumed_sprouting, sproutings_of
from library.household.models import Dish, KitchenPlan
from library.lending.models import LendingRules
from library.lending.services.growouts import lots_to_sow_of
from library.lending.services.reserve import (
    Figures,
    Population,
    figures_of_species,
    population_of,
)
from library.science.kitchen import (
    Per,
    Spacing,
    Stand,
    WithSeed,
    Yield,
    packets_for,
    stand_for,
    with_margin,
    with_seed,
)
from library.science.sowing import weight_of_seeds
from library.stock.models import Lot, Packet

Quantity = SpeciesFigure.Quantity


@dataclass(frozen=True)
class Sourced:
    """A figure and who says so; ``own`` is the member's."""

    value: str
    source: str
    how: str = ""
    own: bool = False


@dataclass(frozen=True)
class Reckoned:
    """A dish and what must grow for it. None wherever a figure is missing; ``missing`` says
    which: ``produce``, ``yield`` or ``spacing``.
    """

    dish: Dish
    food: Food | None
    product: Product | None
    published: PublishedYield | None
    wanted: float
    kg: float | None
    gives: Yield | None
    spacing: Spacing | None
    spacing_source: str
    stand: Stand | None
    population: Population | None
    plants: WithSeed | None
    seed_area_m2: float
    missing: tuple[str, ...]
    lot: Lot | None = None
    advice: SowingAdvice | None = None
    grams: float | None = None
    packets: int | None = None
    seeds_missing: int = 0

    @property
    def all_plants(self) -> int | None:
        return None if self.plants is None else self.plants.plants

    @property
    def own_produce(self) -> bool:
        return self.dish.own_kg_each is not None

    @property
    def own_yield(self) -> bool:
        return self.dish.own_yield_kg is not None

    @property
    def own_spacing(self) -> bool:
        return self.dish.own_in_row_cm is not None

    @property
    def shares(self) -> bool:
        return self.food is not None and self.food.shares

    @property
    def area_m2(self) -> float | None:
        """Square metres for food and seed together."""
        if self.stand is None or self.stand.area_m2 is None:
            return None
        return self.stand.area_m2 + self.seed_area_m2


@dataclass(frozen=True)
class Kitchen:
    """A whole plan; sums are of what is known, and ``unknown`` of how many dishes it is not."""

    plan: KitchenPlan
    dishes: tuple[Reckoned, ...]

    @property
    def area_m2(self) -> float:
        return sum(one.area_m2 or 0.0 for one in self.dishes)

    @property
    def unknown(self) -> int:
        return sum(one.area_m2 is None for one in self.dishes)

    @property
    def to_save(self) -> list[Reckoned]:
        return [one for one in self.dishes if one.dish.save_seed and one.dish.variety_id]

    @property
    def plants_for_seed(self) -> dict[int, int]:
        """By variety the plants that give seed; the most of any dish of it."""
        found: dict[int, int] = {}
        for one in self.to_save:
            plants = one.plants.give_seed if one.plants else 0
            if not plants and one.population:
                plants = one.population.plants
            pk = one.dish.variety_id or 0
            found[pk] = max(found.get(pk, 0), plants)
        return found


def kitchen_of(plan: KitchenPlan, *, on: dt.date) -> Kitchen:
    """Everything in a plan; the number of queries does not depend on how much that is."""
    dishes = list(plan.dishes.with_details())
    return Kitchen(plan, tuple(_reckoned(dishes, plan, on=on)))


def reckoned_one(dish: Dish, *, on: dt.date) -> Reckoned:
    return _reckoned([dish], dish.plan, on=on)[0]


def _reckoned(dishes: Sequence[Dish], plan: KitchenPlan, *, on: dt.date) -> list[Reckoned]:
    figures = figures_of_species({dish.crop.species_id for dish in dishes})
    grown = [
        _grown(dish, figures[dish.crop.species_id], float(plan.margin_percent))
        for dish in dishes
    ]
    return _with_seeds(_share_seed(grown), figures, on=on)


def _grown(dish: Dish, figures: Figures, margin_percent: float) -> Reckoned:
    """From the dish to the plants."""
    food = foods().get(dish.crop.name)
    product = product_named(dish.crop.name, dish.product) if dish.product else None
    wanted = float(dish.amount) * dish.times
    kg = _produce(dish, product, wanted)
    published = _published(dish)
    gives = _gives(dish, published)
    spacing, source = _spacing(dish, food)
    stand = None
    if kg is not None:
        kg = with_margin(kg, margin_percent)
        stand = None if gives is None else stand_for(kg=kg, gives=gives, spacing=spacing)
    missing = [
        word
        for word, lacks in (
            ("produce", kg is None),
            ("yield", gives is None),
            ("spacing", spacing is None),
        )
        if lacks
    ]
    population = None
    if dish.save_seed and dish.variety is not None:
        population = population_of(dish.variety, figures)
    return Reckoned(
        dish=dish,
        food=food,
        product=product,
        published=published,
        wanted=wanted,
        kg=kg,
        gives=gives,
        spacing=spacing,
        spacing_source=source,
        stand=stand,
        population=population,
        plants=_plants(stand),
        seed_area_m2=0.0,
        missing=tuple(missing),
    )


def _produce(dish: Dish, product: Product | None, wanted: float) -> float | None:
    if dish.own_kg_each is not None:
        return wanted * float(dish.own_kg_each)
    if not dish.product:
        return wanted  # eaten fresh: it is kilograms already
    if product is None or product.pounds is None:
        return None
    return product.fresh_kg(wanted)


def _published(dish: Dish) -> PublishedYield | None:
    """The row that was chosen, else the smallest harvest of a row, else of a field."""
    chosen = yield_named(dish.crop.name, dish.yield_key) if dish.yield_key else None
    return chosen or next(iter(yields_of(dish.crop.name)), None)


def _gives(dish: Dish, published: PublishedYield | None) -> Yield | None:
    if dish.own_yield_kg is not None:
        return Yield(kg=float(dish.own_yield_kg), per=Per(dish.own_yield_per))
    return published.figure if published else None


def _spacing(dish: Dish, food: Food | None) -> tuple[Spacing | None, str]:
    """The member's own distances; else those of plants grown to seed, where the plants that are
    eaten from grow to seed too. Roots and leaves for the kitchen stand closer: no figure.
    """
    if dish.own_in_row_cm is not None and dish.own_between_rows_cm is not None:
        own = Spacing(between_rows_cm=dish.own_between_rows_cm, in_row_cm=dish.own_in_row_cm)
        return own, ""
    known = spacing_of(dish.crop)
    if known.assumed or food is None or not food.shares:
        return None, ""
    usual = Spacing(between_rows_cm=known.between_rows_cm, in_row_cm=known.in_row_cm)
    return usual, known.source


def _plants(stand: Stand | None) -> WithSeed | None:
    if stand is None or stand.plants is None:
        return None
    return WithSeed(stand.plants, 0, 0)


def _share_seed(grown: Sequence[Reckoned]) -> list[Reckoned]:
    """Add the plants for seed: once for a variety, however many dishes are made of it."""
    food_plants: Mapping[int, int] = _food_plants(grown)
    told: set[int] = set()
    found = []
    for one in grown:
        pk = one.dish.variety_id
        if one.population is None or pk is None or pk in told:
            found.append(one)
            continue
        told.add(pk)
        found.append(_with_seed_plants(one, food_plants[pk]))
    return found


def _food_plants(grown: Sequence[Reckoned]) -> Mapping[int, int]:
    plants: dict[int, int] = defaultdict(int)
    for one in grown:
        if one.dish.variety_id and one.plants:
            plants[one.dish.variety_id] += one.plants.plants
    return plants


def _with_seed_plants(one: Reckoned, of_variety: int) -> Reckoned:
    """``of_variety``: plants for food in all dishes of the variety."""
    if one.population is None:
        return one
    both = with_seed(
        food_plants=of_variety, population=one.population.plants, shared=one.shares
    )
    own_plants = one.plants.plants if one.plants else 0
    known = spacing_of(one.dish.crop)
    more = both.for_seed_only
    return replace(
        one,
        plants=WithSeed(own_plants + more, more, both.give_seed),
        seed_area_m2=more / known.plants_per_m2,
    )


def _with_seeds(
    grown: Sequence[Reckoned], figures: Mapping[int, Figures], *, on: dt.date
) -> list[Reckoned]:
    """Seeds, grams and packets, from the lot that would be sown."""
    sown = [one for one in grown if one.dish.variety_id and one.all_plants]
    prefetch_related_objects(
        [one.dish.variety for one in sown if one.dish.variety], "crop__species__figures"
    )
    lots = _lots_of(sown)
    known = sproutings_of(lots.values(), on=on)
    packets = _packets_of(lots)
    losses = LendingRules.current().expected_losses_percent
    return [
        _with_seed(one, lots, known, packets, figures, losses)
        if one.dish.variety_id and one.all_plants
        else one
        for one in grown
    ]


def _lots_of(sown: Sequence[Reckoned]) -> dict[int, Lot]:
    varieties = {one.dish.variety_id: one.dish.variety for one in sown}
    here = lots_to_sow_of(pk for pk in varieties if pk)
    found = {}
    for pk, lots in here.items():
        variety = varieties[pk]
        if lots and variety is not None:
            lots[0].variety = variety
            found[pk] = lots[0]
    return found


def _packets_of(lots: Mapping[int, Lot]) -> Mapping[int, list[int]]:
    found: dict[int, list[int]] = defaultdict(list)
    rows = Packet.objects.on_shelf().filter(lot__in=[lot.pk for lot in lots.values()])
    for lot, seeds in rows.values_list("lot", "seeds"):
        found[lot].append(seeds)
    return found


def _with_seed(
    one: Reckoned,
    lots: Mapping[int, Lot],
    known: Mapping,
    packets: Mapping[int, list[int]],
    figures: Mapping[int, Figures],
    losses: int,
) -> Reckoned:
    lot = lots.get(one.dish.variety_id or 0)
    of_species = figures[one.dish.crop.species_id]
    advice = advice_for(
        sprouting=known[lot.pk] if lot else assumed_sprouting(of_species),
        plants=min(one.all_plants or 1, MOST_PLANTS),
        losses_percent=losses,
        unit=one.dish.crop.get_counted_as_display(),
    )
    taken, lacking = packets_for(
        seeds=advice.seeds, packets=packets.get(lot.pk, []) if lot else []
    )
    return replace(
        one,
        lot=lot,
        advice=advice,
        grams=_grams(one, advice.seeds, lot, of_species),
        packets=taken,
        seeds_missing=lacking,
    )


def _grams(one: Reckoned, seeds: int, lot: Lot | None, figures: Figures) -> float | None:
    """What the seeds weigh: by the lot's own weighing, else by the species' figure."""
    if one.dish.crop.is_counted_in_plant_parts:
        return None
    weight = lot.thousand_seed_weight_g if lot else None
    if weight is None:
        figure = figures.get(Quantity.THOUSAND_SEED_WEIGHT_G)
        weight = figure.number if figure else None
    if not weight:
        return None
    return weight_of_seeds(seeds=seeds, thousand_seed_weight_g=float(weight))
