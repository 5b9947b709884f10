"""What is due of grow-outs: offers to answer, steps to take, and what is long late.

Bringing seed in is not told here: the loan is due on that day, and lending tells of it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator
from functools import reduce
from operator import or_

from django.db.models import Case, F, Q, TextField, When
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from library.due_rows import DueRows, address, subject_of, told
from library.growouts.commitments.words import TO_DO, sentence
from library.growouts.models import Commitment, Milestone
from library.hooks import DueItem, DueKind, rows_asked

Kind = Milestone.Kind

ANSWER_LEAD = dt.timedelta(days=5)
ASKED_BEFORE = dt.timedelta(days=2)  # the offer itself was a letter
# How long before its day a step is called to mind: common practice, no source.
LEADS = {
    Kind.SOWN: dt.timedelta(days=21),  # time to fetch the packet and dig
    Kind.STAND: dt.timedelta(days=3),
    Kind.ROGUED: dt.timedelta(days=7),
    Kind.ISOLATED: dt.timedelta(days=14),  # time to find bags or build a cage
    Kind.HARVESTED: dt.timedelta(days=10),
    Kind.CLEANED: dt.timedelta(days=7),
}
LONGEST_LEAD = max(LEADS.values())
LATE_AFTER = dt.timedelta(days=22)  # more than 21 days: a coordinator asks what became of it


def due_items(
    *,
    until: dt.date,
    only: str | None = None,
    without: Collection[str] = (),
    of: int | None = None,
) -> Iterable[DueItem]:
    """Everything of which somebody should know on or before ``until``; or of one thing. Of
    steps ``of`` one grower's only.
    """
    yield from _offers(until, only)
    if "growout-step" not in without:
        yield from _steps(until, only, of)
    yield from _late_steps(until, only)


def _offers(until: dt.date, only: str | None) -> Iterator[DueItem]:
    waiting = Commitment.objects.waiting().filter(answer_by__lte=until + ANSWER_LEAD)
    waiting = rows_asked(waiting, only)
    for row in waiting.select_related("variety").order_by("answer_by", "pk"):
        asked_on = timezone.localdate(row.offered_at)
        remind_on = max(row.answer_by - ANSWER_LEAD, asked_on + ASKED_BEFORE)
        yield DueItem(
            kind="growout-offer",
            subject=f"growouts.Commitment:{row.pk}",
            due_on=row.answer_by,
            remind_on=min(remind_on, row.answer_by),
            title=_("Will you grow %(variety)s?") % {"variety": row.variety.name},
            url=row.get_absolute_url(),
            recipient_id=row.grower_id,
            detail=_("After that day the offer lapses, and somebody else is asked."),
        )


def _steps(until: dt.date, only: str | None, of: int | None) -> Iterator[DueItem]:
    rows = Milestone.objects.awaited().filter(due_on__lte=until + LONGEST_LEAD)
    rows = rows_asked(rows, only)
    if of is not None:
        rows = rows.filter(commitment__grower=of)
    for row in rows.exclude(kind=Kind.RETURNED).with_promise():
        kind = Kind(row.kind)
        commitment = row.commitment
        yield DueItem(
            kind="growout-step",
            subject=f"growouts.Milestone:{row.pk}",
            due_on=row.due_on,
            remind_on=row.due_on - LEADS[kind],
            title=str(TO_DO[kind]) % {"variety": commitment.variety.name},
            url=commitment.get_absolute_url(),
            recipient_id=commitment.grower_id,
            detail=sentence(row.rule, row.inputs),
        )


def _step_rows(*, on: dt.date) -> DueRows:
    """All steps of which a grower should know on a day, each kind so long before its own."""
    near = [Q(kind=kind, due_on__lte=on + lead) for kind, lead in LEADS.items()]
    variety = F("commitment__variety__name")
    return DueRows(
        kind="growout-step",
        rows=Milestone.objects.awaited().filter(reduce(or_, near)),
        subject=subject_of(Milestone),
        due_on=F("due_on"),
        title=Case(
            *(When(kind=kind, then=told(TO_DO[kind], variety=variety)) for kind in LEADS),
            output_field=TextField(),
        ),
        url=address("commitment", 987654321, "commitment_id"),
        recipient="commitment__grower_id",
        name="commitment__grower__display_name",
    )


def _late_steps(until: dt.date, only: str | None) -> Iterator[DueItem]:
    rows = Milestone.objects.awaited().filter(due_on__lte=until - LATE_AFTER)
    rows = rows_asked(rows, only)
    for row in rows.with_promise():
        commitment = row.commitment
        told = {
            "name": commitment.grower.display_name,
            "variety": commitment.variety.name,
            "step": row.get_kind_display(),
        }
        yield DueItem(
            kind="growout-late",
            subject=f"growouts.Milestone:{row.pk}",
            due_on=row.due_on + LATE_AFTER,
            remind_on=row.due_on + LATE_AFTER,
            title=_("%(variety)s with %(name)s: nothing heard of “%(step)s”") % told,
            url=commitment.get_absolute_url(),
            role="coordinator",
            detail=_("It was expected three weeks ago. Ask how it stands."),
        )


KINDS = (
    DueKind("growout-offer", gettext_lazy("Grow-outs you are asked for")),
    DueKind(
        "growout-step",
        gettext_lazy("Steps of grow-outs you promised"),
        promised=True,
        rows=_step_rows,
    ),
    DueKind(
        "growout-late", gettext_lazy("Grow-outs of which nothing was heard"), role="coordinator"
    ),
)
