"""From a season to its calendar: who sees which rows, and what of them.

The days of a promise follow the frost dates of its garden, which may tell roughly where that
lies. So the days are for its grower and the coordinators; other members read of a promise who
grows what, and how it stands.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from django.core.paginator import Page, Paginator
from django.db.models import Exists, OuterRef
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from accounts.models import Member
from accounts.roles import COORDINATE
from library.growouts.models import Commitment, Milestone, Season
from library.growouts.pictures.calendar.facts import Row, Step, StepState, span, step_state
from library.growouts.pictures.calendar.layout import NARROW, WIDE, Drawn, Words, draw
from library.growouts.querysets import CommitmentQuerySet

ROWS_ON_A_PAGE = 40
MOST_OTHERS = 200
SHOWN = ("offered", "accepted", "fulfilled", "failed")
NUMBER = {kind: n for n, kind in enumerate(Milestone.Kind.values, start=1)}


@dataclass(frozen=True)
class Other:
    """What members may know of another's promise."""

    variety: str
    href: str
    grower: str
    state: str


@dataclass(frozen=True, eq=False)
class SeasonCalendar:
    """A page of rows with their days, and what others grow without any."""

    season: Season
    today: dt.date
    rows: Sequence[Row]
    others: Sequence[Other]
    more_others: int
    everyone: bool  # whether all rows of the season are among them
    page: Page | None = None

    @cached_property
    def shapes(self) -> list[Drawn]:
        """The picture in each size that its place can have."""
        start, end = span(self.rows, year=self.season.year)
        said = words()
        return [
            draw(self.rows, shape, said, start=start, end=end, today=self.today)
            for shape in (WIDE, NARROW)
        ]

    @property
    def title(self) -> str:
        return _("The season of %(year)s on a calendar") % {"year": self.season.year}

    @property
    def kinds(self) -> list[tuple[int, str]]:
        """The numbers in the marks, with what they stand for."""
        found = {step.number: step.name for row in self.rows for step in row.steps}
        return sorted(found.items())

    @property
    def states(self) -> set[str]:
        return {step.state.value for row in self.rows for step in row.steps}

    @property
    def late(self) -> int:
        return sum(len(row.late) for row in self.rows)

    @property
    def summary(self) -> str:
        """What the picture shows, for who hears it."""
        n = len(self.rows)
        told = [
            ngettext("%(n)s grow-out is shown.", "%(n)s grow-outs are shown.", n) % {"n": n}
        ]
        if self.late:
            told.append(late_words(self.late) + ".")
        elif any(row.steps for row in self.rows):
            told.append(_("No step is late."))
        return " ".join(told)


def calendar_of(
    season: Season,
    *,
    viewer: Member,
    on: dt.date,
    late_only: bool = False,
    page: str | None = None,
) -> SeasonCalendar:
    """The calendar as a person may see it: a fixed number of queries, however many rows.

    ``page`` shows that page of the rows; None shows all of them.
    """
    everyone = viewer.has_perm(COORDINATE)
    mine = Commitment.objects.visible_to(viewer).filter(season=season, state__in=SHOWN)
    if late_only:
        mine = with_late_step(mine, on)
    mine = mine.order_by("grower__display_name_key", "grower", "variety__folded_name", "pk")
    mine = mine.select_related("variety", "grower").prefetch_related("milestones")
    shown = Paginator(mine, ROWS_ON_A_PAGE).get_page(page) if page is not None else None
    rows = [_row(commitment, on) for commitment in (shown or mine)]
    others, more = ([], 0) if everyone or late_only else _others(season, viewer)
    return SeasonCalendar(season, on, rows, others, more, everyone, shown)


def with_late_step(rows: CommitmentQuerySet, on: dt.date) -> CommitmentQuerySet:
    """Promises of which a step was expected before a day and is not done."""
    late = Milestone.objects.late(on).filter(commitment=OuterRef("pk"))
    return rows.filter(Exists(late))


def _row(commitment: Commitment, today: dt.date) -> Row:
    return Row(
        key=commitment.pk,
        grower=commitment.grower.display_name,
        variety=commitment.variety.name,
        state=str(commitment.get_state_display()),
        href=f"grow-out-{commitment.pk}",
        steps=[_step(each, commitment, today) for each in commitment.milestones.all()],
    )


def _step(milestone: Milestone, commitment: Commitment, today: dt.date) -> Step:
    step = Step(
        number=NUMBER[milestone.kind],
        kind=milestone.kind,
        name=str(milestone.get_kind_display()),
        due_on=milestone.due_on,
        done_on=milestone.done_on,
        state=step_state(
            due_on=milestone.due_on,
            done_on=milestone.done_on,
            growing=commitment.is_growing,
            today=today,
        ),
    )
    return replace(step, words=step_words(step))


def _others(season: Season, viewer: Member) -> tuple[list[Other], int]:
    rows = Commitment.objects.promised().filter(season=season).exclude(grower=viewer)
    rows = rows.select_related("variety", "grower")
    rows = rows.order_by("variety__folded_name", "grower__display_name_key", "pk")
    found = list(rows[: MOST_OTHERS + 1])
    more = rows.count() - MOST_OTHERS if len(found) > MOST_OTHERS else 0
    return [_other(row) for row in found[:MOST_OTHERS]], more


def _other(commitment: Commitment) -> Other:
    return Other(
        variety=commitment.variety.name,
        href=commitment.variety.get_absolute_url(),
        grower=commitment.grower.display_name,
        state=str(commitment.get_state_display()),
    )


def words() -> Words:
    """What the picture writes, in the reader's language."""
    pattern = pgettext("short month, as a date format", "M")
    return Words(month=lambda day: date_format(day, pattern), today=_("today"), state=row_words)


def row_words(row: Row) -> str:
    """What stands under a row's name: that it is late, else its state."""
    return late_words(len(row.late)) if row.late else row.state


def late_words(n: int) -> str:
    return ngettext("%(n)s step late", "%(n)s steps late", n) % {"n": n}


def step_words(step: Step) -> str:
    """A step and its day, in one sentence."""
    facts = {"step": step.name, "due": date_format(step.due_on)}
    if step.done_on is not None:
        facts |= {"on": date_format(step.done_on)}
        if step.days_late:
            return _("%(step)s: done on %(on)s, expected by %(due)s") % facts
        return _("%(step)s: done on %(on)s") % facts
    if step.state is StepState.LATE:
        return _("%(step)s: late, expected by %(due)s") % facts
    if step.state is StepState.NOT_TOLD:
        return _("%(step)s: not told of, expected by %(due)s") % facts
    return _("%(step)s: expected by %(due)s") % facts
