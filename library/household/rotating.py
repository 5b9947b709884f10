"""Which of one's own varieties to sow in which year, under the room there is."""

from __future__ import annotations

import datetime as dt
import math
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from library.catalogue.models import SpeciesFigure, Variety
from library.germination.models import BenchRules
from library.growouts.plans.given import seasons_bound
from library.growouts.plans.spacing import Spacing, spacing_of
from library.household.keeping import Kept, OwnVariety, kept_by
from library.household.listed import Listed, listed_of
from library.household.meeting import (
    OwnStands,
    distance_between,
    own_stands,
    variety_key,
)
from library.household.models import SavedVariety, SavingPlan
from library.lending.services.reserve import (
    Figure,
    Figures,
    Population,
    figures_of_species,
    population_of,
)
from library.science import rotation as science
from library.science.crossing import Outcome, Stand, meeting
from library.science.isolation import Pollination, Technique
from library.science.rotation import Remedy

Quantity = SpeciesFigure.Quantity
MOST_REMEDIES = 12  # each is worked out anew, twice
MOST_SECONDS = 4.0  # a page is waited for; a few dozen varieties take a tenth of a second


@dataclass(frozen=True)
class Turn:
    """A variety in the rotation: how long its seed is good, what it takes, when it is sown.

    ``sow_in`` and ``short`` are years; ``listed`` where it stands on this season's list
    already. ``remedy`` is what would spare it its short years, the cheapest; ``more_m2`` with
    ROOM.
    """

    own: OwnVariety
    population: Population
    spacing: Spacing
    plants: int
    technique: Technique
    isolation: Figure | None
    seasons: int
    good_until: int  # once what stands on the list is harvested
    lasts: int
    alone: bool  # no other of its species may flower in its year
    listed: bool
    sow_in: tuple[int, ...]
    short: tuple[int, ...]
    never: tuple[int, ...]
    remedy: Remedy | None = None
    more_m2: float = 0.0

    @property
    def variety(self) -> Variety:
        return self.own.variety

    @property
    def room_m2(self) -> float:
        return self.plants / self.spacing.plants_per_m2

    def state(self, year: int) -> str:
        """``sow``, ``short``, ``good`` or ``grows`` (a biennial's second year)."""
        if year in self.sow_in:
            return "sow"
        if any(sown < year < sown + self.seasons for sown in self.sow_in):
            return "grows"
        return "short" if year in self.short else "good"


@dataclass(frozen=True)
class YearOfRotation:
    """One year: what to sow, and the room that it and what is on the list take."""

    year: int
    sow: tuple[Turn, ...]
    room_m2: float
    used_m2: float
    listed_m2: float


@dataclass(frozen=True)
class Rotation:
    """The whole answer; ``kept`` is what there is at home, ``too_much_m2`` what the list takes
    beyond the garden's room.
    """

    plan: SavingPlan
    kept: Kept
    turns: tuple[Turn, ...]
    years: tuple[YearOfRotation, ...]
    standard_percent: int
    too_much_m2: float
    proven: bool

    @property
    def short_years(self) -> int:
        return sum(len(turn.short) for turn in self.turns)

    @property
    def sow_now(self) -> list[Turn]:
        """What should be sown in the list's own year and does not stand on it."""
        return [t for t in self.turns if self.plan.year in t.sow_in and not t.listed]


def rotation_of(plan: SavingPlan, *, on: dt.date) -> Rotation:
    """The rotation of what the member keeps at home, in a plan's garden, from its year on.

    What stands on the list is given: it takes its room, flowers, and renews its seed.
    """
    kept = kept_by(plan, on=on)
    listed = listed_of(plan, on=on)
    years = range(plan.year, plan.year + plan.years_ahead)
    taken = _taken_m2(plan, listed)
    turns = _turns(plan, kept, listed, years)
    garden = science.Garden(
        first=plan.year,
        room_m2=tuple(max(0.0, float(plan.room_m2) - taken.get(year, 0.0)) for year in years),
        never=frozenset(
            (variety_key(turn.variety.pk), year) for turn in turns for year in turn.never
        ),
    )
    told = [_kept(turn) for turn in turns]
    began = time.monotonic()
    found = science.rotate(told, garden, seconds=MOST_SECONDS)
    turns = [_with_answer(turn, found, garden) for turn in turns]
    if found.proven:
        turns = _with_remedies(turns, told, garden, until=began + MOST_SECONDS)
    return Rotation(
        plan=plan,
        kept=kept,
        turns=tuple(turns),
        years=tuple(_year(plan, year, turns, taken) for year in years),
        standard_percent=BenchRules.current().standard_percent,
        too_much_m2=max(0.0, taken.get(plan.year, 0.0) - float(plan.room_m2)),
        proven=found.proven,
    )


def _taken_m2(plan: SavingPlan, listed: Sequence[Listed]) -> dict[int, float]:
    """By year the room that this list takes, and what last year's list still holds."""
    taken = {plan.year: sum(one.room_m2 for one in listed)}
    taken[plan.year + 1] = sum(one.room_m2 for one in listed if one.seasons > 1)
    before = SavedVariety.objects.filter(
        plan__garden=plan.garden_id, plan__year=plan.year - 1
    ).with_details()
    for choice in before:
        if seasons_bound(choice.variety) > 1:
            plants = choice.plants or _population(choice.variety).plants
            room = plants / spacing_of(choice.variety.crop).plants_per_m2
            taken[plan.year] += room
    return taken


def _population(variety: Variety) -> Population:
    species = variety.crop.species_id
    return population_of(variety, figures_of_species([species])[species])


def _turns(plan: SavingPlan, kept: Kept, listed: Sequence[Listed], years: range) -> list[Turn]:
    figures = figures_of_species({k.variety.crop.species_id for k in kept.varieties})
    chosen = {one.variety.pk: one for one in listed}
    techniques = _techniques(plan, {own.variety.pk for own in kept.varieties})
    there = own_stands(plan, listed, years=[*years, years[-1] + 1])
    turns = []
    for own in kept.varieties:
        known = figures[own.variety.crop.species_id]
        turns.append(_turn(plan, own, known, chosen, techniques, there, years))
    return turns


def _techniques(plan: SavingPlan, varieties: set[int]) -> Mapping[int, str]:
    """By variety the technique written on this list, else on the newest of this garden."""
    rows = SavedVariety.objects.filter(plan__garden=plan.garden_id, variety__in=varieties)
    told = rows.order_by("plan__year").values_list("variety", "technique", "plan")
    return {
        variety: technique
        for variety, technique, _plan in sorted(told, key=lambda row: row[2] == plan.pk)
    }


def _turn(
    plan: SavingPlan,
    own: OwnVariety,
    figures: Figures,
    chosen: Mapping[int, Listed],
    techniques: Mapping[int, str],
    there: OwnStands,
    years: range,
) -> Turn:
    variety, pk = own.variety, own.variety.pk
    one = chosen.get(pk)
    population = population_of(variety, figures)
    seasons = seasons_bound(variety)
    isolation = figures.get(Quantity.ISOLATION_HOME_M)
    stand = Stand(
        key=variety_key(pk),
        species=f"s{variety.crop.species_id}",
        variety=variety_key(pk),
        place=f"g{plan.garden_id}",
        flowers_in=plan.year,
        pollination=Pollination(variety.crop.species.pollination),
        required_m=None if isolation is None else float(isolation.number),
        technique=Technique(techniques.get(pk, Technique.NONE.value)),
    )
    good_until = own.good_until
    if one is not None:  # it is being renewed
        good_until = max(good_until, one.flowers_in + own.lasts)
    return Turn(
        own=own,
        population=population,
        spacing=spacing_of(variety.crop),
        plants=(one.plants if one else population.plants),
        technique=stand.technique,
        isolation=isolation,
        seasons=seasons,
        good_until=good_until,
        lasts=own.lasts,
        alone=_needs_to_be_alone(stand, float(plan.apart_m or 0)),
        listed=one is not None,
        sow_in=(),
        short=(),
        never=tuple(
            year for year in years if _would_cross(stand, year + seasons - 1, there, plan)
        ),
    )


def _needs_to_be_alone(stand: Stand, apart_m: float) -> bool:
    """Whether it would cross with another variety of its species in the same garden."""
    another = replace(stand, key="another", variety="another")
    return meeting(stand, another, apart_m).outcome in (Outcome.CROSSES, Outcome.UNKNOWN)


def _would_cross(stand: Stand, year: int, there: OwnStands, plan: SavingPlan) -> bool:
    """Whether something that is there anyhow would spoil its seed in a year."""
    sown = replace(stand, flowers_in=year)
    for other in there.stands:
        if (other.species, other.flowers_in) != (sown.species, year):
            continue
        if other.variety == sown.variety:
            continue
        garden = there.known[other.key].garden
        metres = distance_between(plan.garden, garden, within_m=float(plan.apart_m or 0))
        if meeting(sown, other, metres).outcome in (Outcome.CROSSES, Outcome.UNKNOWN):
            return True
    return False


def _kept(turn: Turn) -> science.Kept:
    return science.Kept(
        key=variety_key(turn.variety.pk),
        good_until=turn.good_until,
        lasts=turn.lasts,
        room_m2=turn.room_m2,
        seasons=turn.seasons,
        crosses=f"s{turn.variety.crop.species_id}" if turn.alone else None,
    )


def _with_answer(turn: Turn, found: science.Rotation, garden: science.Garden) -> Turn:
    key = variety_key(turn.variety.pk)
    sow_in = {year for sown, year in found.sowings if sown == key}
    if turn.listed:
        sow_in.add(garden.first)
    return replace(turn, sow_in=tuple(sorted(sow_in)), short=found.short.get(key, ()))


def _with_remedies(
    turns: Iterable[Turn],
    told: Sequence[science.Kept],
    garden: science.Garden,
    *,
    until: float,
) -> list[Turn]:
    """What would help, for the first few that fall short and as long as there is time."""
    answered, asked = [], 0
    for turn in turns:
        if turn.short and asked < MOST_REMEDIES and time.monotonic() < until:
            asked += 1
            key = variety_key(turn.variety.pk)
            remedy, more = science.remedy_for(key, told, garden)
            turn = replace(turn, remedy=remedy, more_m2=math.ceil(more * 10) / 10)
        answered.append(turn)
    return answered


def _year(
    plan: SavingPlan, year: int, turns: Sequence[Turn], taken: Mapping[int, float]
) -> YearOfRotation:
    def binds(turn: Turn) -> bool:
        given = turn.listed
        return any(
            sown <= year < sown + turn.seasons and not (given and sown == plan.year)
            for sown in turn.sow_in
        )

    listed = taken.get(year, 0.0)
    return YearOfRotation(
        year=year,
        sow=tuple(turn for turn in turns if year in turn.sow_in),
        room_m2=float(plan.room_m2),
        used_m2=listed + sum(turn.room_m2 for turn in turns if binds(turn)),
        listed_m2=listed,
    )
