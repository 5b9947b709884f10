"""What is due of the lending: loans, packets to collect, and what waits at the desk."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator

from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from library.due_rows import DueRows, address, subject_of, told
from library.hooks import DueItem, DueKind, rows_asked
from library.lending.models import Deposit, Loan, Return
from library.lending.querysets import UNCOLLECTED_AFTER

LOAN_LEAD = dt.timedelta(days=21)  # time to thresh and dry what is ripe
COLLECT_LEAD = dt.timedelta(days=14)
BATCH = 500  # rows in memory at a time
ANSWERED_WITHIN = dt.timedelta(days=14)
ANSWER_LEAD = dt.timedelta(days=13)  # the desk hears of it on the day after

LOAN_DUE = gettext_lazy("Seed of %(variety)s is due")


def due_items(
    *,
    until: dt.date,
    only: str | None = None,
    without: Collection[str] = (),
    of: int | None = None,
) -> Iterable[DueItem]:
    """Everything of which somebody should know on or before ``until``; or of one thing. Of
    loans to give back ``of`` one member's only.
    """
    if "loan" not in without:
        yield from _loans(until, only, of)
    yield from _to_collect(until, only)
    yield from _deposits(until, only)
    yield from _returns(until, only)


def _loans(until: dt.date, only: str | None, of: int | None) -> Iterator[DueItem]:
    due = rows_asked(_loans_to_tell(until), only)
    if of is not None:
        due = due.filter(borrower=of)
    for loan in due.with_details().iterator(chunk_size=BATCH):
        yield DueItem(
            kind="loan",
            subject=f"lending.Loan:{loan.pk}",
            due_on=loan.due_on,
            remind_on=loan.due_on - LOAN_LEAD,
            title=str(LOAN_DUE) % {"variety": loan.packet.lot.variety.name},
            url=loan.get_absolute_url(),
            recipient_id=loan.borrower_id,
            detail=loan.due_reason,
        )


def _loans_to_tell(on: dt.date):
    return Loan.objects.collected().due(on + LOAN_LEAD)


def _loan_rows(*, on: dt.date) -> DueRows:
    """All loans of which a borrower should know on a day."""
    return DueRows(
        kind="loan",
        rows=_loans_to_tell(on),
        subject=subject_of(Loan),
        due_on=F("due_on"),
        title=told(LOAN_DUE, variety=F("packet__lot__variety__name")),
        url=address("loan", 987654321, "pk"),
        recipient="borrower_id",
        name="borrower__display_name",
    )


def _to_collect(until: dt.date, only: str | None) -> Iterator[DueItem]:
    chosen = Loan.objects.to_hand_over().filter(
        lent_on__lte=until - UNCOLLECTED_AFTER + COLLECT_LEAD
    )
    for loan in rows_asked(chosen, only).with_details().iterator(chunk_size=BATCH):
        collect_by = loan.lent_on + UNCOLLECTED_AFTER
        yield DueItem(
            kind="collect",
            subject=f"lending.Loan:{loan.pk}",
            due_on=collect_by,
            remind_on=collect_by - COLLECT_LEAD,
            title=_("Your packet of %(variety)s waits at the desk")
            % {"variety": loan.packet.lot.variety.name},
            url=loan.get_absolute_url(),
            recipient_id=loan.borrower_id,
            detail=_("After that day it may go back on the shelf."),
        )


def _deposits(until: dt.date, only: str | None) -> Iterator[DueItem]:
    for deposit in rows_asked(Deposit.objects.waiting(), only).with_details():
        item = _for_desk(
            "deposit",
            f"lending.Deposit:{deposit.pk}",
            deposit.proposed_at,
            _("Offered: %(what)s") % {"what": deposit.what},
            deposit.get_absolute_url(),
        )
        if item.remind_on <= until:
            yield item


def _returns(until: dt.date, only: str | None) -> Iterator[DueItem]:
    for seed_return in rows_asked(Return.objects.waiting(), only).with_details():
        item = _for_desk(
            "return",
            f"lending.Return:{seed_return.pk}",
            seed_return.announced_at,
            _("Announced: seed of %(what)s") % {"what": seed_return.what},
            seed_return.get_absolute_url(),
        )
        if item.remind_on <= until:
            yield item


def _for_desk(kind: str, subject: str, since: dt.datetime, title: str, url: str) -> DueItem:
    due_on = timezone.localtime(since).date() + ANSWERED_WITHIN
    return DueItem(
        kind=kind,
        subject=subject,
        due_on=due_on,
        remind_on=due_on - ANSWER_LEAD,
        title=title,
        url=url,
        role="desk",
    )


KINDS = (
    DueKind(
        "loan",
        gettext_lazy("Seed to give back"),
        promised=True,
        escalates_after=dt.timedelta(days=45),
        rows=_loan_rows,
    ),
    DueKind("collect", gettext_lazy("Packets to collect")),
    DueKind(
        "deposit",
        gettext_lazy("Deposits that wait at the desk"),
        role="desk",
        escalates_after=dt.timedelta(days=14),
    ),
    DueKind(
        "return",
        gettext_lazy("Returns that wait at the desk"),
        role="desk",
        escalates_after=dt.timedelta(days=14),
    ),
)
