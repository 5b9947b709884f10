"""The calendar that follows from a list, with the frost dates of its garden."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from library.growouts.commitments.words import sentence
from library.growouts.models import Milestone
from library.household.listed import Listed
from library.household.models import KeptApart, SavingPlan
from library.lending.models import LendingRules
from library.lending.services import seasons
from library.science.calendar import LifeCycle
from library.science.growout_calendar import Step, steps_of
from library.science.seasons import GardenSeason


@dataclass(frozen=True)
class Day:
    """What is expected on a day, of which variety, and why then."""

    on: dt.date
    step: str
    listed: Listed
    rule: str
    why: str

    @property
    def label(self) -> str:
        return str(Milestone.Kind(self.step).label)

    @property
    def how(self) -> str:
        """With isolation: what its grower said that keeps it apart."""
        technique = self.listed.choice.technique
        if self.step != Step.ISOLATED or technique == KeptApart.NONE:
            return ""
        return str(KeptApart(technique).label)


@dataclass(frozen=True)
class Calendar:
    """The days in order; and whose frost dates they rest on (garden, community, unknown)."""

    days: tuple[Day, ...]
    season: GardenSeason | None
    frost_dates_from: str

    @property
    def months(self) -> list[tuple[dt.date, list[Day]]]:
        """The days by month, each named by its first day."""
        found: dict[dt.date, list[Day]] = {}
        for day in self.days:
            found.setdefault(day.on.replace(day=1), []).append(day)
        return list(found.items())


def calendar_of(plan: SavingPlan, listed: Iterable[Listed]) -> Calendar:
    """Every step of everything on the list but bringing seed to the library."""
    season, whose = seasons.season_of(plan.garden)
    grace = LendingRules.current().grace_days
    days = [day for one in listed for day in _days_of(one, plan.year, season, grace)]
    order = list(Step)
    days.sort(key=lambda d: (d.on, order.index(Step(d.step)), d.listed.variety.folded_name))
    return Calendar(tuple(days), season, whose)


def _days_of(
    one: Listed, year: int, season: GardenSeason | None, grace_days: int
) -> Iterable[Day]:
    steps = steps_of(
        life_cycle=LifeCycle(one.variety.crop.life_cycle),
        garden=season,
        year=year,
        days_to_maturity=seasons.days_to_maturity(one.variety),
        grace_days=grace_days,
    )
    for step in steps:
        if step.step is not Step.RETURNED:
            why = sentence(step.why.key, dict(step.why.inputs))
            yield Day(step.on, step.step.value, one, step.why.key, why)
