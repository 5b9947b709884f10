"""Seed lent to be regrown: only a coordinator's commitment may use the reserve."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library.catalogue.models import Variety
from library.errors import NotAllowed, NotEnough
from library.lending.models import Loan, LoanEvent
from library.lending.services.checks import approved, coordinates, happened_on
from library.lending.services.loans import note_of_loan
from library.stock.models import Lot, Packet
from library.stock.services import pack, take_packet_off_shelf

# Of what is there half stays, if it is less than two sowings: common practice, no source.
KEPT_BACK = 2
NEARLY_ENOUGH = 0.8


@dataclass(frozen=True)
class Due:
    """When seed is expected back, and the rule and inputs that made the day."""

    on: dt.date
    rule: str
    inputs: dict[str, Any]


@transaction.atomic
def lend_for_growout(
    *,
    variety: Variety,
    borrower: Member,
    garden: Garden | None,
    seeds: int,
    due: Due,
    on: dt.date,
    by: Member,
    granted_by: Member,
) -> list[Loan]:
    """Set packets aside for a grow-out that a coordinator granted: about so many seeds.

    Limits and the reserve do not bind it. The best lot that is not withheld gives packets, and
    the rest is filled from its jar. Of less than two sowings half stays here. Raises NotEnough
    when there is nothing. Rows are locked as ``lend_packet`` locks them, so that of two who
    reach for the last seed one gets it.
    """
    if not coordinates(granted_by):
        raise NotAllowed(_("Only a coordinator's grow-out may use the reserve."))
    happened_on(on)
    borrower = Member.objects.select_for_update(no_key=True).get(pk=borrower.pk)
    approved(borrower, field="borrower")
    Variety.objects.select_for_update(no_key=True).get(pk=variety.pk)
    packets = _packets(variety, seeds, on=on, by=by)
    loans = []
    for packet in packets:
        take_packet_off_shelf(packet=packet, on=on, by=by)
        loan = Loan.objects.create(
            packet=packet,
            borrower=borrower,
            garden=garden,
            lent_on=on,
            lent_by=granted_by,
            due_on=max(due.on, on),
            due_rule=due.rule,
            due_inputs=due.inputs,
        )
        note_of_loan(loan, LoanEvent.What.LENT, on=on, by=by, why=_("for a grow-out"))
        loans.append(loan)
    return loans


def granted(*, seeds: int, here: int) -> int:
    """How many of the seeds that are here a grow-out gets that wants so many."""
    return seeds if here >= KEPT_BACK * seeds else max(1, here // KEPT_BACK)


def seeds_here(variety: Variety) -> int:
    """The seeds of a variety that a grow-out could use."""
    return sum(lot.balance for lot in lots_to_sow(variety))


def with_seed_here(varieties: Iterable[int]) -> set[int]:
    """Which of these varieties, by key, a grow-out could sow; one query."""
    lots = Lot.objects.kept_here().with_seed()
    rows = lots.filter(variety__in=set(varieties), withheld_reason="", custodian=None)
    return set(rows.order_by().values_list("variety", flat=True).distinct())


@dataclass(frozen=True)
class Aside:
    """Seed to set aside: a packet that is on the shelf, or one to be filled from the jar."""

    lot: Lot
    seeds: int
    packet: Packet | None = None


def what_is_set_aside(lots: Iterable[Lot], *, seeds: int) -> list[Aside]:
    """What a grow-out that wants so many seeds gets of these lots, the best first, as things
    are; nothing is written. Empty where nothing is here.
    """
    lots = list(lots)
    here = sum(lot.balance for lot in lots)
    wanted = granted(seeds=seeds, here=here) if here else 0
    chosen: list[Aside] = []
    for lot in lots:
        missing = wanted - sum(one.seeds for one in chosen)
        if missing <= 0:
            break
        chosen += _of_lot(lot, missing)
    return chosen


def _packets(variety: Variety, seeds: int, *, on: dt.date, by: Member) -> list[Packet]:
    chosen = what_is_set_aside(lots_to_sow(variety), seeds=seeds)
    if not chosen:
        raise NotEnough(
            _("No seed of %(variety)s is here that could be sown.") % {"variety": variety.name},
            field="variety",
        )
    return [packet for one in chosen for packet in _filled(one, on=on, by=by)]


def _filled(one: Aside, *, on: dt.date, by: Member) -> list[Packet]:
    if one.packet is not None:
        return [one.packet]
    return pack(lot=one.lot, packets=1, seeds_each=one.seeds, on=on, by=by)


def _of_lot(lot: Lot, wanted: int) -> list[Aside]:
    """Of one lot for so many seeds: packets from the shelf, then one filled from the jar."""
    chosen: list[Packet] = []
    on_shelf = list(Packet.objects.on_shelf().filter(lot=lot).order_by("-seeds", "code"))
    for packet in on_shelf:
        if packet.seeds <= wanted - sum(p.seeds for p in chosen):
            chosen.append(packet)
    missing = wanted - sum(p.seeds for p in chosen)
    filled = []
    if missing > 0 and lot.loose:
        filled.append(Aside(lot, min(missing, lot.loose)))
    elif missing > (1 - NEARLY_ENOUGH) * wanted and (
        rest := [p for p in on_shelf if p not in chosen]
    ):
        chosen.append(min(rest, key=lambda p: (p.seeds, p.code)))
    return [Aside(lot, packet.seeds, packet) for packet in chosen] + filled


def lots_to_sow(variety: Variety) -> list[Lot]:
    """Lots to sow from: the likeliest to sprout first; one that awaits its first test last."""
    return lots_to_sow_of([variety.pk])[variety.pk]


def lots_to_sow_of(varieties: Iterable[int]) -> dict[int, list[Lot]]:
    """By variety, of many: the lots here to sow from, the best first; one query."""
    found: dict[int, list[Lot]] = {pk: [] for pk in varieties}
    lots = (
        Lot.objects.kept_here()
        .with_seed()
        .filter(variety__in=list(found), withheld_reason="", custodian=None)
    )
    for lot in sorted(lots.select_related("estimate", "variety__crop"), key=_last_choice):
        found[lot.variety_id].append(lot)
    return found


def _last_choice(lot: Lot) -> tuple:
    estimate = getattr(lot, "estimate", None)
    return (lot.awaits_first_test, -(estimate.median if estimate else 0.0), -lot.pk)
