"""What is on a list, with all that a member should know of each of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import prefetch_related_objects

from library.catalogue.models import Caution, SpeciesFigure, Variety
from library.germination.advice import (
    Basis,
    SowingAdvice,
    Sprouting,
    advice_for,
    assumed_for,
    estimate_kept,
    sprouting_from,
    sprouting_of,
)
from library.germination.many import Shelf
from library.growouts.plans.given import seasons_bound
from library.growouts.plans.spacing import Spacing, spacing_of
from library.household.keeping import estimated
from library.household.models import SavedVariety, SavingPlan
from library.lending.models import LendingRules
from library.lending.services.growouts import lots_to_sow_of
from library.lending.services.reserve import (
    Figure,
    Figures,
    Population,
    assumed_germination,
    figures_of_species,
    population_of,
)
from library.science.isolation import Pollination
from library.stock.models import Lot

Quantity = SpeciesFigure.Quantity
MOST_PLANTS = 100_000  # for which the sowing is worked out


@dataclass(frozen=True)
class Listed:
    """A variety on a list, and what its figures come from. Room in square metres."""

    choice: SavedVariety
    population: Population
    spacing: Spacing
    isolation: Figure | None
    certified: Figure | None
    lot: Lot | None
    advice: SowingAdvice

    @property
    def variety(self) -> Variety:
        return self.choice.variety

    @property
    def key(self) -> str:
        """Of its stand; what is only thought of has no row yet."""
        return f"c{self.choice.pk}" if self.choice.pk else f"k{self.variety.pk}"

    @property
    def href(self) -> str:
        return self.choice.get_absolute_url() if self.choice.pk else ""

    @property
    def plants(self) -> int:
        return self.choice.plants or self.population.plants

    @property
    def too_few(self) -> bool:
        return self.plants < self.population.plants

    @property
    def room_m2(self) -> float:
        return self.plants / self.spacing.plants_per_m2

    @property
    def seasons(self) -> int:
        return seasons_bound(self.variety)

    @property
    def flowers_in(self) -> int:
        """The year whose season it flowers in: a biennial's second."""
        return self.choice.plan.year + self.seasons - 1

    @property
    def required_m(self) -> float | None:
        return None if self.isolation is None else float(self.isolation.number)

    @property
    def pollination(self) -> Pollination:
        return Pollination(self.variety.crop.species.pollination)

    @property
    def seed_short(self) -> int:
        """Seeds that the lot lacks for the sowing; 0 where it has enough or is not here."""
        return 0 if self.lot is None else max(0, self.advice.seeds - self.lot.balance)

    @property
    def is_at_home(self) -> bool:
        return self.choice.lot is not None


def listed_of(plan: SavingPlan, *, on: dt.date) -> list[Listed]:
    """Everything on a list; the number of queries does not depend on how much that is."""
    return listed_for(list(plan.choices.with_details()), on=on)


def listed_one(choice: SavedVariety, *, on: dt.date) -> Listed:
    return listed_for([choice], on=on)[0]


def listed_for(choices: Sequence[SavedVariety], *, on: dt.date) -> list[Listed]:
    """The same of choices that need not be kept: with plan and variety, crop and species."""
    figures = figures_of_species({c.variety.crop.species_id for c in choices})
    lots = _lots_of(choices)
    known = sproutings_of(lots.values(), on=on)
    losses = LendingRules.current().expected_losses_percent
    found = []
    for choice in choices:
        of_species = figures[choice.variety.crop.species_id]
        population = population_of(choice.variety, of_species)
        lot = lots.get(choice.variety_id)
        advice = advice_for(
            sprouting=known[lot.pk] if lot else assumed_sprouting(of_species),
            plants=min(choice.plants or population.plants, MOST_PLANTS),
            losses_percent=losses,
            unit=choice.variety.crop.get_counted_as_display(),
        )
        found.append(
            Listed(
                choice=choice,
                population=population,
                spacing=spacing_of(choice.variety.crop),
                isolation=of_species.get(Quantity.ISOLATION_HOME_M),
                certified=of_species.get(Quantity.ISOLATION_CERTIFIED_M),
                lot=lot,
                advice=advice,
            )
        )
    return found


def _lots_of(choices: Sequence[SavedVariety]) -> dict[int, Lot]:
    """By variety the lot it would be sown from: that at home which was chosen, else the best
    that the library could lend.
    """
    prefetch_related_objects(choices, "variety__crop__species__figures")
    here = lots_to_sow_of({c.variety_id for c in choices if c.lot_id is None})
    own = Lot.objects.select_related("estimate")
    at_home = own.in_bulk({c.lot_id for c in choices if c.lot_id})
    found: dict[int, Lot] = {}
    for choice in choices:
        lot = at_home.get(choice.lot_id) or next(iter(here.get(choice.variety_id, ())), None)
        if lot is not None:
            lot.variety = choice.variety  # its species' figures are read already
            found[choice.variety_id] = lot
    return found


def sproutings_of(lots: Iterable[Lot], *, on: dt.date) -> dict[int, Sprouting]:
    """By lot what is known of how it sprouts; those without a kept estimate worked out
    together. Fetch ``estimate`` and their species' figures first.
    """
    told = list(lots)
    found = {lot.pk: sprouting_of(lot, on=on) for lot in told if estimate_kept(lot)}
    rest = [lot for lot in told if lot.pk not in found]
    for one in Shelf(on).known_of(rest) if rest else ():
        found[one.lot.pk] = sprouting_from(one.lot, estimated(one), on=on)
    for lot in rest:
        if lot.pk not in found:  # its record cannot be
            found[lot.pk] = assumed_for(lot.variety.crop.species)
    return found


def assumed_sprouting(figures: Figures) -> Sprouting:
    """Of seed that is not here: what seed for sale must do."""
    assumed = assumed_germination(figures)
    return Sprouting(assumed.share, assumed.share, Basis.GUESSED, assumed.source)


def cautions_of(listed: Sequence[Listed]) -> list[Caution]:
    """What to warn of for the species on the list, each once."""
    species = {one.variety.crop.species_id for one in listed}
    return list(Caution.objects.filter(species__in=species).distinct().order_by("topic"))
