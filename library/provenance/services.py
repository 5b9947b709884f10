"""What people say of a lot's trueness: that off-types were seen, and that it was dealt with."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.roles import BORROW, COORDINATE
from library.errors import Conflict, NotAllowed, Refused
from library.provenance.models import OffTypeClearance, OffTypeReport
from library.provenance.warnings import warnings_of
from library.stock.models import Lot
from library.stock.services.checks import day_for, fits, happened_on, moment, said, whole

MOST_PLANTS = 1_000_000
MOST_WORDS = 2000


@transaction.atomic
def report_off_types(
    *,
    lot: Lot,
    seen_on: dt.date,
    what: str,
    by,
    on: dt.date,
    plants_seen: int | None = None,
    plants_looked_at: int | None = None,
) -> OffTypeReport:
    """Write down that plants not true to their variety were seen in a stand of the lot.

    Any approved member may. It warns of the lot and of all that was grown from it; it withholds
    nothing by itself. Raises Refused for a day to come or before the lot was received, and
    Conflict when the same person has said the same already.
    """
    if not by.has_perm(BORROW):
        raise NotAllowed(_("Only approved members report off-types."))
    happened_on(on)
    day_for(lot, seen_on, field="seen_on")
    if seen_on > on:
        raise Refused(_("Give a day up to today: it was seen before now."), field="seen_on")
    what = fits(what, field="what", most=MOST_WORDS)
    if not what:
        raise Refused(_("Say what was seen, such as “two plants had red stems”."), field="what")
    facts = {"seen_on": seen_on, "what": what, "reported_by": by}
    facts |= _plants(plants_seen, plants_looked_at)
    row = Lot.objects.select_for_update(no_key=True).get(pk=lot.pk)  # one sender at a time
    if row.off_type_reports.standing().filter(**facts).exists():
        raise Conflict(_("You have reported that already, and the report stands."))
    return OffTypeReport.objects.create(lot=row, reported_at=moment(on), **facts)


def _plants(seen: Any, looked_at: Any) -> dict[str, int | None]:
    for name, count in {"plants_seen": seen, "plants_looked_at": looked_at}.items():
        if count is not None:
            whole(count, field=name, most=MOST_PLANTS)
    if seen is not None and looked_at is not None and seen > looked_at:
        raise Refused(
            _("%(seen)s plants were off-type, but only %(looked_at)s were looked at.")
            % {"seen": seen, "looked_at": looked_at},
            field="plants_seen",
        )
    return {"plants_seen": seen, "plants_looked_at": looked_at}


@transaction.atomic
def lift_report(*, report: OffTypeReport, reason: str, by, on: dt.date) -> OffTypeReport:
    """Let a report warn of nothing any more (coordinators); it stays readable, with the reason.

    Raises Conflict when it was lifted already.
    """
    _coordinates(by)
    row = _held(report, on)
    row.lift_reason = said(reason, most=MOST_WORDS)
    row.lifted_at, row.lifted_by = moment(on), by
    row.save(update_fields=["lifted_at", "lifted_by", "lift_reason"])
    return row


@transaction.atomic
def clear_of_report(
    *, report: OffTypeReport, lot: Lot, reason: str, by, on: dt.date
) -> OffTypeClearance:
    """Say that a descendant was found true (coordinators): the report goes no further by the
    ways through it.

    Raises Conflict when it was cleared already or the report was lifted, and Refused for a lot
    to which the report is not carried.
    """
    _coordinates(by)
    row = _held(report, on)
    reason = said(reason, most=MOST_WORDS)
    if row.lot_id == lot.pk:
        raise Refused(
            _("It was seen in lot %(lot)s itself: lift the report instead.")
            % {"lot": lot.number},
            field="lot",
        )
    if row.clearances.filter(lot=lot).exists():
        raise Conflict(_("Lot %(lot)s was cleared of it already.") % {"lot": lot.number})
    if not any(warning.report == row for warning in warnings_of(lot)):
        raise Refused(
            _("The report is not carried to lot %(lot)s.") % {"lot": lot.number}, field="lot"
        )
    return OffTypeClearance.objects.create(
        report=row, lot=lot, reason=reason, cleared_by=by, cleared_at=moment(on)
    )


def _coordinates(by) -> None:
    if not by.has_perm(COORDINATE):
        raise NotAllowed(_("Only a coordinator lifts a report, or clears a lot of it."))


def _held(report: OffTypeReport, on: dt.date) -> OffTypeReport:
    """The report as it is now, held so that nobody lifts it meanwhile; Conflict if it is."""
    rows = OffTypeReport.objects.select_for_update(no_key=True, of=("self",))
    row = rows.select_related("lot").get(pk=report.pk)
    happened_on(on, since=row.seen_on, since_what=_("the day on which it was seen"))
    if not row.stands:
        raise Conflict(_("This report was lifted already."))
    return row
