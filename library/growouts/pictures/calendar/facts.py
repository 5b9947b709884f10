"""What the calendar shows, as plain data: rows of steps, each with its day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

MARGIN_DAYS = 10  # of empty time around the first and the last step


class StepState(StrEnum):
    """How far a step is; each has a shape of its own."""

    DONE = "done"
    LATE = "late"
    TO_COME = "to_come"
    NOT_TOLD = "not_told"  # the promise ended without it


@dataclass(frozen=True, kw_only=True)
class Step:
    """A step of a grow-out; ``number`` is its place in the order of all steps, from 1, and
    ``words`` say all of it in one sentence.
    """

    number: int
    kind: str
    name: str
    due_on: dt.date
    done_on: dt.date | None
    state: StepState
    words: str = ""

    @property
    def day(self) -> dt.date:
        """The day on which it is drawn."""
        return self.done_on or self.due_on

    @property
    def days_late(self) -> int:
        """Days from the expected one to that on which it was done; 0 where it was in time."""
        return max(0, (self.done_on - self.due_on).days) if self.done_on else 0


@dataclass(frozen=True, kw_only=True)
class Row:
    """One promise; ``state`` is the word for it, as the reader reads it."""

    key: int
    grower: str
    variety: str
    state: str
    href: str = ""
    steps: Sequence[Step] = ()

    @property
    def late(self) -> list[Step]:
        return [step for step in self.steps if step.state is StepState.LATE]


def step_state(
    *, due_on: dt.date, done_on: dt.date | None, growing: bool, today: dt.date
) -> StepState:
    """How far a step of a promise is; ``growing`` while the promise stands."""
    if done_on is not None:
        return StepState.DONE
    if not growing:
        return StepState.NOT_TOLD
    return StepState.LATE if due_on < today else StepState.TO_COME


def span(rows: Iterable[Row], *, year: int) -> tuple[dt.date, dt.date]:
    """The first and the last day shown: whole months around all steps; the year where there is
    no step.
    """
    days = [step.day for row in rows for step in row.steps]
    if not days:
        return dt.date(year, 1, 1), dt.date(year, 12, 31)
    around = dt.timedelta(days=MARGIN_DAYS)
    first = min(days).toordinal() - around.days
    start = dt.date.fromordinal(max(1, first)).replace(day=1)
    last = dt.date.fromordinal(
        min(dt.date.max.toordinal(), max(days).toordinal() + around.days)
    )
    return start, month_end(last)


def month_end(day: dt.date) -> dt.date:
    """The last day of its month."""
    if (day.year, day.month) == (dt.MAXYEAR, 12):
        return dt.date.max
    following = dt.date(day.year + day.month // 12, day.month % 12 + 1, 1)
    return following - dt.timedelta(days=1)


def months(start: dt.date, end: dt.date) -> list[dt.date]:
    """The first day of each month from start to end."""
    count = range(start.year * 12 + start.month - 1, end.year * 12 + end.month)
    return [dt.date(each // 12, each % 12 + 1, 1) for each in count]
