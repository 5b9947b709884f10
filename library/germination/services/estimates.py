"""What people say of a lot's viability: who counts on it, and whether it goes on being lent."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from library.errors import Conflict, NotEnough, Refused
from library.germination.dates import settle
from library.germination.models import LotEstimate, PlannedSowing, ShelfDecision
from library.stock.models import Lot
from library.stock.services import withhold
from library.stock.services.checks import in_words, kept_here, said

Decision = ShelfDecision.Decision
LOOKS_AHEAD = dt.timedelta(days=10 * 366)


@transaction.atomic
def expect_sowing(*, lot: Lot, on: dt.date, what_for: str, by) -> PlannedSowing:
    """Say that somebody counts on a lot on a day: it is tested in time for that.

    Saying the same twice changes nothing.
    """
    kept_here(lot)
    _check_to_come(on)
    what_for = said(what_for, field="what_for", most=120)
    if Lot.objects.with_seed().filter(pk=lot.pk).first() is None:
        raise NotEnough(
            _("Nothing is left of lot %(lot)s to sow.") % {"lot": lot.number}, field="lot"
        )
    sowing, new = PlannedSowing.objects.get_or_create(
        lot=lot, on=on, what_for=what_for, defaults={"added_by": by}
    )
    if new:
        settle(lot)
    return sowing


def _check_to_come(on: dt.date) -> None:
    if not isinstance(on, dt.date) or isinstance(on, dt.datetime):
        raise Refused(_("“%(on)s” is not a day.") % {"on": on}, field="on")
    today = timezone.localdate()
    if not today <= on <= today + LOOKS_AHEAD:
        raise Refused(
            _("%(on)s cannot be planned for; give a day from today on, within ten years.")
            % {"on": in_words(on)},
            field="on",
        )


@transaction.atomic
def drop_sowing(*, sowing: PlannedSowing, by) -> None:
    """Nobody counts on the lot for that any more."""
    gone, _by_model = PlannedSowing.objects.filter(pk=sowing.pk).delete()
    if not gone:
        raise Conflict(_("That sowing is planned no longer."))
    settle(sowing.lot)


@transaction.atomic
def decide_shelf(*, lot: Lot, decision: str, reason: str, by) -> ShelfDecision:
    """Say whether a lot that should be regrown goes on being lent meanwhile, or is withheld.

    It holds until another test, or one that is amended or set aside, changes the estimate.
    """
    if decision not in Decision.values:
        raise Refused(
            _("“%(decision)s” is not one of: %(known)s.")
            % {"decision": decision, "known": ", ".join(Decision.values)},
            field="decision",
        )
    kept_here(lot)
    reason = said(reason)
    row = Lot.objects.select_for_update(no_key=True).get(pk=lot.pk)
    estimate = _to_regrow(row)
    _take_or_leave(row, decision, reason, by)
    lot.withheld_reason = row.withheld_reason
    LotEstimate.objects.filter(pk=estimate.pk).update(decided=decision)
    return ShelfDecision.objects.create(
        lot=lot, decision=decision, reason=reason, median=estimate.median, decided_by=by
    )


def _to_regrow(lot: Lot) -> LotEstimate:
    estimate = LotEstimate.objects.filter(lot=lot).exclude(regrow_rule="").first()
    if estimate is None:
        raise Conflict(
            _("Lot %(lot)s need not be regrown by what is known of it.") % {"lot": lot.number}
        )
    return estimate


def _take_or_leave(lot: Lot, decision: str, reason: str, by) -> None:
    if decision == Decision.WITHHOLD and not lot.withheld_reason:
        withhold(lot=lot, reason=reason, by=by)
    elif decision == Decision.KEEP and lot.withheld_reason:
        raise Conflict(
            _("Lot %(lot)s is withheld (%(reason)s); release it first.")
            % {"lot": lot.number, "reason": lot.withheld_reason},
            field="decision",
        )
