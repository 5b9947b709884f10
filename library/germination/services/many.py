"""Planning several tests at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from library.errors import Conflict, Refused
from library.germination.models import GerminationTest
from library.germination.services.planning import plan_test
from library.stock.models import Lot

MOST_AT_ONCE = 200


@transaction.atomic
def plan_tests(*, lots: Sequence[Lot], on: dt.date, by) -> list[GerminationTest]:
    """Plan a test of each lot as suggested, for one day: all of them, or none.

    A lot of which a test is planned or running already is refused: somebody was quicker.
    """
    if not 1 <= len(lots) <= MOST_AT_ONCE:
        raise Refused(
            _("Plan 1 to %(most)s tests at a time, not %(n)s.")
            % {"most": MOST_AT_ONCE, "n": len(lots)}
        )
    # In the order of their keys: two people who plan the same lots wait, and do not deadlock.
    rows = Lot.objects.select_for_update(no_key=True).order_by("pk")
    held = list(rows.filter(pk__in=[lot.pk for lot in lots]))
    _check_none_is_tested(held)
    return [plan_test(lot=lot, on=on, by=by) for lot in held]


def _check_none_is_tested(lots: Sequence[Lot]) -> None:
    ahead = GerminationTest.objects.filter(lot__in=lots, state__in=["planned", "running"])
    if other := ahead.select_related("lot").order_by("lot_id").first():
        raise Conflict(
            _("Of lot %(lot)s test %(number)s is %(state)s already; leave it out.")
            % {
                "lot": other.lot.number,
                "number": other.pk,
                "state": other.get_state_display(),
            }
        )
