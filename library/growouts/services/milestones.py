"""What a grower reports of a step: a number, a note, photos, and what was noticed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Member
from library.errors import Conflict, Refused
from library.growouts.models import (
    Commitment,
    Milestone,
    MilestonePhoto,
    MilestoneReport,
)
from library.growouts.services.checks import number, own_or_coordinator
from library.growouts.services.locking import locked
from library.photos.services import Picture, keep_photo, picture_of
from library.stock.services.checks import fits

MOST_PHOTOS = 4
MOST_REPORTS = 50  # of one step
MOST_COUNTED = 10_000_000


def report_milestone(
    *,
    milestone: Milestone,
    on: dt.date,
    today: dt.date,
    by: Member,
    counted: int | None = None,
    note: str = "",
    off_types: int | None = None,
    neighbour: str = "",
    neighbour_m: int | None = None,
    photos: Iterable[Any] = (),
) -> MilestoneReport:
    """A step was done ``on`` a day, up to ``today``; told again, the later report counts.

    Steps may be told late and in any order: a garden keeps none. Seed that is brought in is not
    reported but received at the desk. Photos are read before anything is locked: it takes a
    while, and others write meanwhile.
    """
    commitment = Commitment.objects.select_related("grower", "season").get(
        pk=milestone.commitment_id
    )
    own_or_coordinator(commitment.grower, by)
    _check_open(commitment, milestone)
    _check_day(commitment, on, today)
    facts = {
        "on": on,
        "number": _maybe(counted, "counted"),
        "note": fits(note, field="note", most=2000),
        "off_types": _maybe(off_types, "off_types"),
        "neighbour": fits(neighbour, field="neighbour", most=120),
        "neighbour_m": _maybe(neighbour_m, "neighbour_m"),
        "reported_by": by,
    }
    return _written(milestone, facts, _pictures(photos), by)


def _pictures(photos: Iterable[Any]) -> list[Picture]:
    uploads = list(photos)
    if len(uploads) > MOST_PHOTOS:
        raise Refused(
            _("Up to %(most)s photos go with one report.") % {"most": MOST_PHOTOS},
            field="photos",
        )
    return [picture_of(upload) for upload in uploads]


@transaction.atomic
def _written(
    milestone: Milestone, facts: dict[str, Any], pictures: list[Picture], by: Member
) -> MilestoneReport:
    commitment = locked(Commitment(pk=milestone.commitment_id))
    milestone = Milestone.objects.select_for_update(no_key=True).get(pk=milestone.pk)
    _check_open(commitment, milestone)
    if milestone.reports.count() >= MOST_REPORTS:
        raise Refused(_("This step was reported so often that no more is taken."))
    report = MilestoneReport.objects.create(milestone=milestone, **facts)
    for picture in pictures:
        photo = keep_photo(picture=picture, by=by)
        MilestonePhoto.objects.create(report=report, photo=photo)
    milestone.done_on = report.on
    milestone.save(update_fields=["done_on"])
    return report


def growing_facts_of(commitment: Commitment) -> dict[str, Any]:
    """What was reported, as the return of its seed asks for it; the newest word of each."""
    newest: dict[str, MilestoneReport] = {}
    rows = MilestoneReport.objects.filter(milestone__commitment=commitment).select_related(
        "milestone"
    )
    for report in rows.order_by("pk"):
        newest[report.milestone.kind] = report
    facts = {
        "plants_sown": _number(newest.get("sown")),
        "plants_stood": _number(newest.get("stand")),
        "plants_gave_seed": _number(newest.get("harvested")),
        "isolation": commitment.technique,
        "roguing": _rogued(newest.get("rogued")),
    }
    if (seen := newest.get("isolated")) is not None:
        facts["crossing_neighbour"] = seen.neighbour
        facts["isolation_distance_m"] = seen.neighbour_m
    return {name: value for name, value in facts.items() if value not in (None, "")}


def _number(report: MilestoneReport | None) -> int | None:
    return report.number if report else None


def _rogued(report: MilestoneReport | None) -> str:
    if report is None:
        return ""
    told = [report.note]
    if report.number is not None:
        told.insert(0, _("%(n)s plants taken out") % {"n": report.number})
    return "; ".join(part for part in told if part)


def _check_open(commitment: Commitment, milestone: Milestone) -> None:
    if not commitment.is_growing:
        raise Conflict(
            _("This is not growing any more: it is %(state)s.")
            % {"state": commitment.get_state_display()}
        )
    if milestone.kind == Milestone.Kind.RETURNED:
        raise Refused(_("Seed that you bring in is received at the desk; announce it there."))


def _check_day(commitment: Commitment, on: dt.date, today: dt.date) -> None:
    if on > today:
        raise Refused(_("Report what happened, not what is to come."), field="on")
    first = dt.date(commitment.season.year - 1, 1, 1)
    if on < first:
        raise Refused(
            _("The season of %(year)s cannot have begun before %(first)s.")
            % {"year": commitment.season.year, "first": first},
            field="on",
        )


def _maybe(value: int | None, field: str) -> int | None:
    return None if value is None else number(value, field=field, least=0, most=MOST_COUNTED)
