"""The days of a grow-out in a garden, as they are kept and told."""

from __future__ import annotations

import datetime as dt

from accounts.models import Garden
from library.catalogue.models import Variety
from library.growouts.models import Commitment, Milestone
from library.lending.models import LendingRules
from library.lending.services import seasons
from library.lending.services.growouts import Due
from library.science.calendar import GardenSeason, LifeCycle
from library.science.growout_calendar import Step, StepDay, steps_of


def first_year_to_sow_for(on: dt.date, usual: GardenSeason | None) -> int:
    """This year, until half of the months without frost are over; half a year where none sets
    an end. Common practice, no source.
    """
    if usual is None or usual.frost_free:
        return on.year + (on.month > 6)
    starts, ends = usual.of_year(on.year)
    return on.year + (on > starts + (ends - starts) / 2)


def dates_for(
    variety: Variety, garden: Garden | None, year: int, *, not_before: dt.date | None = None
) -> list[StepDay]:
    """The steps of growing the variety for seed in a garden, in the season of a year."""
    season, _whose = seasons.season_of(garden)
    return steps_of(
        life_cycle=LifeCycle(variety.crop.life_cycle),
        garden=season,
        year=year,
        days_to_maturity=seasons.days_to_maturity(variety),
        not_before=not_before,
        grace_days=LendingRules.current().grace_days,
    )


def keep_milestones(commitment: Commitment, *, on: dt.date) -> list[Milestone]:
    """Write down the steps of a promise that was given on a day."""
    steps = dates_for(
        commitment.variety, commitment.garden, commitment.season.year, not_before=on
    )
    return Milestone.objects.bulk_create(
        Milestone(
            commitment=commitment,
            kind=one.step.value,
            step=number,
            due_on=one.on,
            rule=one.why.key,
            inputs=dict(one.why.inputs),
        )
        for number, one in enumerate(steps, start=1)
    )


def due_of(milestones: list[Milestone]) -> Due:
    """When the seed of the packets that are lent for it is due: on the last step."""
    by_kind = {one.kind: one for one in milestones}
    back, ripe = by_kind[Step.RETURNED], by_kind[Step.HARVESTED]
    days = (back.due_on - ripe.due_on).days
    return Due(back.due_on, "due_growout", {"ripe_on": ripe.due_on.isoformat(), "days": days})
