"""What is due at the bench: first tests and retests."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator
from functools import partial

from django.db.models import F
from django.urls import reverse
from django.utils.translation import gettext_lazy

from library.due_rows import DueRows, address, subject_of, told
from library.germination.models import TestDate
from library.hooks import DueItem, DueKind, rows_asked
from library.stock.models import Lot

REMINDED_BEFORE = dt.timedelta(days=14)  # time to find dishes and an evening
BATCH = 500  # rows in memory at a time

TITLES = {
    TestDate.Kind.FIRST: gettext_lazy("First test of %(lot)s, %(variety)s"),
    TestDate.Kind.RETEST: gettext_lazy("Retest of %(lot)s, %(variety)s"),
}
NAMES = {TestDate.Kind.FIRST: "first_test", TestDate.Kind.RETEST: "retest"}


def due_items(
    *,
    until: dt.date,
    only: str | None = None,
    without: Collection[str] = (),
    of: int | None = None,
) -> Iterator[DueItem]:
    """Every test of which the bench should know on or before ``until``, not one that runs; or
    of one lot. They are a role's to do, whoever's they are (``of``).
    """
    kinds = [kind for kind, name in NAMES.items() if name not in without]
    if not kinds:
        return
    dates = _to_tell(until).filter(kind__in=kinds).with_lot()
    if only is not None:
        dates = dates.filter(lot__in=rows_asked(Lot.objects.all(), only))
    for date in dates.order_by("due_on", "pk").iterator(chunk_size=BATCH):
        yield _item(date)


def _to_tell(on: dt.date):
    return TestDate.objects.due(on + REMINDED_BEFORE).being_tested(False)


def _rows(kind: TestDate.Kind, *, on: dt.date) -> DueRows:
    """All tests of a kind of which the bench should know on a day."""
    return DueRows(
        kind=NAMES[kind],
        rows=_to_tell(on).filter(kind=kind),
        subject=subject_of(Lot, "lot_id"),
        due_on=F("due_on"),
        title=told(TITLES[kind], lot=F("lot__number"), variety=F("lot__variety__name")),
        url=address("test-start", "A-LOT", "lot__number"),
        role="coordinator",
    )


def _item(date: TestDate) -> DueItem:
    lot = date.lot
    kind = TestDate.Kind(date.kind)
    return DueItem(
        kind=NAMES[kind],
        subject=f"stock.Lot:{lot.pk}",
        due_on=date.due_on,
        remind_on=date.due_on - REMINDED_BEFORE,
        title=str(TITLES[kind]) % {"lot": lot.number, "variety": lot.variety.name},
        url=reverse("test-start", args=[lot.number]),
        role="coordinator",
        detail=date.why,
    )


KINDS = (
    DueKind(
        "first_test",
        gettext_lazy("First germination tests"),
        role="coordinator",
        rows=partial(_rows, TestDate.Kind.FIRST),
    ),
    DueKind(
        "retest",
        gettext_lazy("Retests"),
        role="coordinator",
        rows=partial(_rows, TestDate.Kind.RETEST),
    ),
)
