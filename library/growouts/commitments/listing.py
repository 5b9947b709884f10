"""Commitments in a list: each with the step that is awaited next, and whether it is late."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Prefetch

from library.growouts.models import Commitment, Milestone
from library.growouts.querysets import CommitmentQuerySet


@dataclass(frozen=True)
class Listed:
    """A commitment, the step awaited next (None where nothing is), and whether that is late."""

    commitment: Commitment
    awaited: Milestone | None
    late: bool


def listed(rows: CommitmentQuerySet, *, on: dt.date) -> Iterable[Listed]:
    """The rows with their next steps; two queries."""
    steps = Prefetch(
        "milestones", Milestone.objects.awaited().order_by("step"), to_attr="awaited_steps"
    )
    for row in rows.with_details().prefetch_related(steps):
        awaited = row.awaited_steps[0] if row.awaited_steps else None
        yield Listed(row, awaited, awaited is not None and awaited.due_on < on)


def with_late_steps(rows: CommitmentQuerySet, on: dt.date) -> CommitmentQuerySet:
    """Those that promised a step that is past its day."""
    late = Milestone.objects.late(on).filter(commitment=OuterRef("pk"))
    return rows.filter(Exists(late))
