"""A plan asked for, stopped, pinned, and turned into offers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library.catalogue.models import Variety
from library.errors import Conflict, Refused
from library.growouts.models import (
    Commitment,
    GrowOutRules,
    Pin,
    Plan,
    PlannedPair,
    Season,
)
from library.growouts.plans.given import given_of
from library.growouts.services.checks import (
    coordinates,
    locked_member,
    locked_open,
    number,
)
from library.growouts.services.commitments import offer
from library.outbox.services import wake
from library.stock.services.checks import fits

State = Plan.State


def ask_plan(*, season: Season, on: dt.date, by: Member, seconds: int | None = None) -> Plan:
    """Have the season's plan worked out in the background, from what is known now.

    Read outside a transaction, since it takes a moment. One plan of a season is worked on at a
    time: raises Conflict for another, and Refused where there is nothing to plan.
    """
    coordinates(by)
    if season.is_over:
        raise Conflict(_("The season of %(year)s is over.") % {"year": season.year})
    given = given_of(season, on=on)
    if not given.season.varieties:
        if given.without_seed:
            raise Refused(_("No seed is here of any variety that the season is to renew."))
        raise Refused(_("Choose first which varieties the season is to renew."))
    if not given.season.gardens:
        raise Refused(_("No garden is offered for this season yet."))
    limit = GrowOutRules.current().plan_seconds if seconds is None else seconds
    return _written(season, given.to_json(), limit, by)


@transaction.atomic
def _written(season: Season, given: dict[str, Any], seconds: int, by: Member) -> Plan:
    season = locked_open(season)
    try:
        with transaction.atomic():
            plan = Plan.objects.create(
                season=season,
                asked_by=by,
                seconds=number(seconds, field="seconds", least=1, most=1800),
                given=given,
            )
    except IntegrityError as error:
        raise Conflict(
            _("A plan of %(year)s is being worked on already; wait for it or stop it.")
            % {"year": season.year}
        ) from error
    transaction.on_commit(wake, robust=True)
    return plan


@transaction.atomic
def stop_plan(*, plan: Plan, by: Member) -> Plan:
    """End the work now and take the best so far; a plan nobody began is dropped.

    One that was handed back by a server that stopped has a best already: whoever takes it up
    next keeps that, and works no further.
    """
    coordinates(by)
    plan = Plan.objects.select_for_update(no_key=True).get(pk=plan.pk)
    if not plan.is_at_work:
        raise Conflict(_("This plan is not being worked on any more."))
    now = timezone.now()
    plan.stop_asked_at = now
    if plan.state == State.WAITING and not plan.best:
        plan.state, plan.finished_at = State.FAILED, now
        plan.trouble = {"failed": "stopped before it began"}
    plan.save(update_fields=["stop_asked_at", "state", "finished_at", "trouble"])
    return plan


@transaction.atomic
def pin(
    *,
    season: Season,
    variety: Variety,
    garden: Garden,
    kind: str,
    by: Member,
    reason: str = "",
) -> Pin:
    """This pair always, or never; the later word counts. The next plan keeps to it."""
    coordinates(by)
    season = locked_open(season)
    if kind not in Pin.Kind.values:
        raise Refused(
            _("“%(kind)s” is neither “keep” nor “never”.") % {"kind": kind}, field="kind"
        )
    if not season.wanted.filter(variety=variety).exists():
        raise Refused(
            _("%(variety)s is not among what %(year)s is to renew.")
            % {"variety": variety.name, "year": season.year},
            field="variety",
        )
    if not season.offers.filter(gardens__garden=garden, withdrawn_at=None).exists():
        raise Refused(_("That garden is not offered for this season."), field="garden")
    facts = {"kind": kind, "reason": fits(reason, field="reason", most=250), "made_by": by}
    return Pin.objects.update_or_create(
        season=season, variety=variety, garden=garden, defaults=facts
    )[0]


@transaction.atomic
def unpin(*, pin: Pin, by: Member) -> None:
    """The next plan is free in this again. Twice is as once."""
    coordinates(by)
    locked_open(pin.season)
    Pin.objects.filter(pk=pin.pk).delete()


class Sent(list[Commitment]):
    """The offers that were sent; ``refused`` says of the others why not, in sentences."""

    def __init__(self) -> None:
        super().__init__()
        self.refused: list[str] = []


def send_offers(
    *, plan: Plan, on: dt.date, by: Member, pairs: Iterable[PlannedPair] | None = None
) -> Sent:
    """Ask the growers of these pairs, or of all; who was asked already is not asked again.

    Each offer is a transaction of its own: a whole season's take a while, and one that cannot
    be sent keeps no other back. Raises Conflict where none can be sent of those that are open.
    """
    coordinates(by)
    if plan.state not in (State.DONE, State.STOPPED):
        raise Conflict(_("This plan is not done; there is nothing to send."))
    rows = plan.pairs.select_related("variety__crop__species", "garden__member")
    if pairs is not None:
        rows = rows.filter(pk__in=[pair.pk for pair in pairs])
    sent = Sent()
    for row in rows.order_by("pk"):
        try:
            sent.extend(_offer_once(plan, row, on, by))
        except Refused as refusal:
            sent.refused.append(f"{row.garden.member.display_name}: {refusal}")
    if sent.refused and not sent:
        raise Conflict(" ".join(sent.refused))
    return sent


@transaction.atomic
def _offer_once(plan: Plan, row: PlannedPair, on: dt.date, by: Member) -> list[Commitment]:
    locked_member(row.garden.member)
    season = locked_open(plan.season)
    asked = season.commitments.filter(variety=row.variety, grower=row.garden.member)
    if asked.exclude(state=Commitment.State.WITHDRAWN).exists():
        return []
    return [
        offer(
            season=season,
            variety=row.variety,
            garden=row.garden,
            technique=row.technique,
            plan=plan,
            by=by,
            on=on,
        )
    ]
