"""Sheets written down, and paper asked for: at once where it is little, else as a job."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Sequence
from typing import Any, cast

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from accounts.models import Member
from accounts.roles import SERVE_DESK
from library import kept as keeping
from library.errors import Conflict, NotAllowed, Refused
from library.outbox.services import wake
from library.paper.asking import content_of, rows_asked
from library.paper.geometry import MOST_ON_A_PAGE
from library.paper.models import CardSize, Kind, LabelSheet, PaperSize, PrintJob
from library.paper.typeset import typeset

AT_ONCE = 60  # labels, cards or slips; a shelf list has shorter lines
LINES_AT_ONCE = 500
KEPT_FOR = dt.timedelta(days=7)
MOST_WAITING = 10  # jobs of one person
State = PrintJob.State


class TooMuchAtOnce(Conflict):
    """So much is made in the background (409)."""

    code = "too_much_at_once"


def prepared(
    *,
    kind: str,
    keys: Sequence[str],
    by: Any,
    on: dt.date,
    sheet: LabelSheet | None = None,
    start: int = 1,
    paper: str = PaperSize.A4,
    card: str = CardSize.INDEX,
) -> dict[str, Any]:
    """All that the document is made from but the rows themselves, as JSON.

    Raises Http404 for what may not be seen and Refused for what cannot be printed.
    """
    given = {
        "kind": kind,
        "rows": rows_asked(kind, keys, by),
        "on": on.isoformat(),
        "paper": _one_of(PaperSize, paper, "paper"),
        "card": _one_of(CardSize, card, "card"),
    }
    if kind != Kind.LABELS:
        return given
    sheet = sheet or LabelSheet.objects.first_choice()
    if sheet is None:
        raise Refused(_("Describe a sheet of labels first."), field="sheet")
    geometry = sheet.geometry
    if not 1 <= start <= geometry.on_a_page:
        raise Refused(
            _("The sheet has %(n)s labels: begin at 1 to %(n)s.") % {"n": geometry.on_a_page},
            field="start",
        )
    return given | {"geometry": vars(geometry).copy(), "start": start}


def _one_of(choices: Any, value: str, field: str) -> str:
    if value not in choices.values:
        known = ", ".join(choices.values)
        raise Refused(
            _("“%(value)s” is not one of: %(known)s")
            % {"value": str(value)[:40], "known": known},
            field=field,
        )
    return str(value)


def is_little(given: dict[str, Any]) -> bool:
    """Whether it is made while one waits."""
    lines = given["kind"] == Kind.SHELF_LIST
    return len(given["rows"]) <= (LINES_AT_ONCE if lines else AT_ONCE)


def print_now(given: dict[str, Any], *, by: Any) -> bytes:
    """The PDF of little. Raises TooMuchAtOnce for what is made in the background."""
    if not is_little(given):
        raise TooMuchAtOnce(
            _("%(n)s at once take too long; ask for a print job.") % {"n": len(given["rows"])}
        )
    return typeset(given["kind"], content_of(given, by=by))


def ask_print(given: dict[str, Any], *, by: Member) -> PrintJob:
    """Have it made in the background. Asked twice while it is at work, it is one job."""
    digest = hashlib.sha256(json.dumps(given, sort_keys=True).encode()).hexdigest()
    mine = PrintJob.objects.filter(asked_by=by)
    same = mine.at_work().filter(digest=digest)
    if found := same.first():
        return found
    if mine.at_work().count() >= MOST_WAITING:
        raise Conflict(
            ngettext(
                "%(n)s print job of yours is at work already; wait for it or stop it.",
                "%(n)s print jobs of yours are at work already; wait for one or stop it.",
                MOST_WAITING,
            )
            % {"n": MOST_WAITING}
        )
    try:
        with transaction.atomic():
            job = PrintJob.objects.create(
                kind=given["kind"],
                asked_by=by,
                given=given,
                digest=digest,
                language=get_language() or "en",
                total=len(given["rows"]),
            )
            transaction.on_commit(wake, robust=True)
    except IntegrityError:  # the same was asked at the same moment
        return same.first() or mine.filter(digest=digest).latest("pk")
    return job


@transaction.atomic
def stop_print(*, job: PrintJob, by: Member) -> PrintJob:
    """End the work; nothing of it is kept."""
    job = PrintJob.objects.select_for_update(no_key=True).get(pk=job.pk, asked_by=by)
    if not job.is_at_work:
        raise Conflict(_("This print job is not at work any more."))
    now = timezone.now()
    job.stop_asked_at = now
    if job.state == State.WAITING:
        job.state, job.finished_at = State.STOPPED, now
    job.save(update_fields=["stop_asked_at", "state", "finished_at"])
    return job


def forget_old_jobs(*, now: dt.datetime) -> int:
    """Drop the jobs that ended some days ago, and their files."""
    old = PrintJob.objects.filter(finished_at__lt=now - KEPT_FOR)
    return old.delete()[0]


def forget_jobs_of(*, member: Member, **_facts: Any) -> None:
    """When a member leaves, what they had printed goes too."""
    PrintJob.objects.filter(asked_by=member).delete()


@transaction.atomic
def save_sheet(*, by: Member, sheet: LabelSheet | None = None, **facts: Any) -> LabelSheet:
    """Write a sheet or roll down, new or anew. Raises Refused where it cannot be."""
    _serves(by)
    row = (
        LabelSheet()
        if sheet is None
        else LabelSheet.objects.select_for_update().get(pk=sheet.pk)
    )
    for name, value in facts.items():
        setattr(row, name, value)
    if row.shape == LabelSheet.Shape.ROLL:
        row.page_height, row.rows = None, 1
    elif row.page_height is None:
        raise Refused(_("Say how high the sheet is."), field="page_height")
    try:
        row.clean_fields()
        row.validate_unique()
    except ValidationError as error:
        field, messages = next(iter(error.message_dict.items()))
        raise Refused(str(messages[0]), field=field) from None
    _fits(row)
    if row.is_default:
        LabelSheet.objects.exclude(pk=row.pk).filter(is_default=True).update(is_default=False)
    row.save()
    return row


def _fits(sheet: LabelSheet) -> None:
    geometry = sheet.geometry
    if not geometry.fits_across:
        raise Refused(
            _("The columns end %(edge)s mm from the left, and the sheet is %(width)s mm wide.")
            % {"edge": round(geometry.right_edge, 2), "width": geometry.page_width},
            field="label_width",
        )
    if not geometry.fits_down:
        raise Refused(
            _("The rows end %(edge)s mm from above, and the sheet is %(height)s mm high.")
            % {"edge": round(geometry.lower_edge, 2), "height": geometry.page_height},
            field="label_height",
        )
    if geometry.on_a_page > MOST_ON_A_PAGE:
        raise Refused(
            _("At most %(most)s labels to a sheet.") % {"most": MOST_ON_A_PAGE}, field="rows"
        )


@transaction.atomic
def remove_sheet(*, sheet: LabelSheet, by: Member) -> None:
    """Forget a sheet; jobs that print on it go on. Twice is as once."""
    _serves(by)
    LabelSheet.objects.filter(pk=sheet.pk).delete()


@transaction.atomic
def put_sheet_back(*, kept: str, by: Member) -> LabelSheet:
    """Write down again a sheet that ``library.kept.as_kept`` kept.

    If another is used by default by now, that one stays so.
    """
    _serves(by)
    (sheet,) = cast(list[LabelSheet], keeping.rows_kept(kept))
    sheet.is_default &= not LabelSheet.objects.filter(is_default=True).exists()
    keeping.write_back([sheet])
    return sheet


def _serves(by: Member) -> None:
    if not by.has_perm(SERVE_DESK):
        raise NotAllowed(_("Only who serves at the desk describes sheets."))
