"""What is on a list, with all that a member should know of each of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from library.catalogue.models import Caution, SpeciesFigure, Variety
from library.germination.advice import (
    Basis,
    SowingAdvice,
    Sprouting,
    advice_for,
    sprouting_of,
)
from library.growouts.plans.given import seasons_bound
from library.growouts.plans.spacing import Spacing, spacing_of
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
    return _listed(list(plan.choices.with_details()), on=on)


def listed_one(choice: SavedVariety, *, on: dt.date) -> Listed:
    return _listed([choice], on=on)[0]


def _listed(choices: Sequence[SavedVariety], *, on: dt.date) -> list[Listed]:
    figures = figures_of_species({c.variety.crop.species_id for c in choices})
    here = lots_to_sow_of({c.variety_id for c in choices if c.lot_id is None})
    own = Lot.objects.select_related("estimate", "variety__crop__species")
    at_home = own.in_bulk({c.lot_id for c in choices if c.lot_id})
    losses = LendingRules.current().expected_losses_percent
    found = []
    for choice in choices:
        known = figures[choice.variety.crop.species_id]
        population = population_of(choice.variety, known)
        lot = at_home.get(choice.lot_id) or next(iter(here.get(choice.variety_id, ())), None)
        advice = advice_for(
            sprouting=sprouting(lot, known, on=on),
            plants=min(choice.plants or population.plants, MOST_PLANTS),
            losses_percent=losses,
            unit=choice.variety.crop.get_counted_as_display(),
        )
        found.append(
            Listed(
                choice=choice,
                population=population,
                spacing=spacing_of(choice.variety.crop),
                isolation=known.get(Quantity.ISOLATION_HOME_M),
                certified=known.get(Quantity.ISOLATION_CERTIFIED_M),
                lot=lot,
                advice=advice,
            )
        )
    return found


def sprouting(lot: Lot | None, figures: Figures, *, on: dt.date) -> Sprouting:
    """What is counted on of a lot; of seed that is not here, what seed for sale must do."""
    if lot is not None:
        return sprouting_of(lot, on=on)
    assumed = assumed_germination(figures)
    return Sprouting(assumed.share, assumed.share, Basis.GUESSED, assumed.source)


def cautions_of(listed: Sequence[Listed]) -> list[Caution]:
    """What to warn of for the species on the list, each once."""
    species = {one.variety.crop.species_id for one in listed}
    return list(Caution.objects.filter(species__in=species).distinct().order_by("topic"))
