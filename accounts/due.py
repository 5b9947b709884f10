"""What is due among people: applications that wait for an answer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.models import Member
from library.hooks import DueItem, DueKind, rows_asked

ANSWER_WITHIN = dt.timedelta(days=7)
REMIND_AFTER = dt.timedelta(days=3)


KINDS = (
    DueKind("membership-request", gettext_lazy("People who ask to join"), role="coordinator"),
)


def due_items(*, until: dt.date, only: str | None = None) -> Iterator[DueItem]:
    """Applications that are to be spoken of by ``until``, or one; coordinators answer them."""
    waiting = rows_asked(Member.objects.waiting(), only)
    for applicant in waiting.order_by("applied_at", "pk"):
        applied_on = timezone.localdate(applicant.applied_at)
        if applied_on + REMIND_AFTER > until:
            return
        yield DueItem(
            kind="membership-request",
            subject=f"accounts.Member:{applicant.pk}",
            due_on=applied_on + ANSWER_WITHIN,
            remind_on=applied_on + REMIND_AFTER,
            title=_("%(name)s waits to become a member") % {"name": applicant},
            url=reverse("members"),
            role="coordinator",
        )
