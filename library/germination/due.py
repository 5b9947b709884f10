"""What is due at the bench: first tests and retests."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from library.germination.models import TestDate
from library.hooks import DueItem, DueKind, rows_asked
from library.stock.models import Lot

REMINDED_BEFORE = dt.timedelta(days=14)  # time to find dishes and an evening


BATCH = 500  # rows in memory at a time
KINDS = (
    DueKind("first_test", gettext_lazy("First germination tests")),
    DueKind("retest", gettext_lazy("Retests")),
)


def due_items(*, until: dt.date, only: str | None = None) -> Iterator[DueItem]:
    """Every test of which the bench should know on or before ``until``, not one that runs; or
    of one lot.
    """
    dates = TestDate.objects.due(until + REMINDED_BEFORE).being_tested(False).with_lot()
    if only is not None:
        dates = dates.filter(lot__in=rows_asked(Lot.objects.all(), only))
    for date in dates.order_by("due_on", "pk").iterator(chunk_size=BATCH):
        yield _item(date)


def _item(date: TestDate) -> DueItem:
    lot = date.lot
    first = date.kind == TestDate.Kind.FIRST
    title = (
        _("First test of %(lot)s, %(variety)s")
        if first
        else _("Retest of %(lot)s, %(variety)s")
    )
    return DueItem(
        kind="first_test" if first else "retest",
        subject=f"stock.Lot:{lot.pk}",
        due_on=date.due_on,
        remind_on=date.due_on - REMINDED_BEFORE,
        title=title % {"lot": lot.number, "variety": lot.variety.name},
        url=reverse("test-start", args=[lot.number]),
        role="coordinator",
        detail=date.why,
    )
