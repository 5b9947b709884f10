"""Loans that were made on paper before they were written down here."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Member
from library.catalogue.models import Variety
from library.errors import Conflict, NotAllowed, Refused
from library.lending import sentences
from library.lending.models import Loan, LoanEvent
from library.lending.services import seasons
from library.lending.services.checks import (
    approved,
    coordinates,
    fits,
    happened_on,
    in_words,
    whole,
)
from library.lending.services.loans import LONGEST_LOAN_YEARS, close, note_of_loan
from library.stock.models import Lot, Movement, Packet
from library.stock.services import (
    correct_count,
    mend_movement,
    pack,
    put_packet_back,
    take_packet_off_shelf,
    unpack,
)

What, Outcome = LoanEvent.What, Loan.Outcome
PAST_OUTCOMES = (Outcome.CROP_FAILED, Outcome.NOTHING_TO_RETURN, Outcome.TAKEN_BACK)


@transaction.atomic
def record_past_loan(
    *,
    lot: Lot,
    seeds: int,
    borrower: Member,
    lent_on: dt.date,
    by: Member,
    due_on: dt.date | None = None,
    outcome: str = "",
    ended_on: dt.date | None = None,
    note: str = "",
    counted_after: bool = False,
) -> Loan:
    """Write down a loan that a paper tells of: a packet of so many seeds, sealed and lent on
    that day, open or ended.

    The seed left long ago, so today's limits, reserve and first test are not asked; the ledger
    is: a lot cannot have lent more than it held. ``counted_after`` says that the lot was
    counted when this packet had left already; the count is corrected by it first. Seed that
    came back as a new generation is a return of its own, against this loan while it is open.
    """
    _may(by)
    _check_end(outcome, ended_on, lent_on)
    whole(seeds, field="seeds")
    happened_on(lent_on, since=lot.received_on, since_what=_("the day the lot was received"))
    Member.objects.select_for_update(no_key=True).get(pk=borrower.pk)
    approved(borrower, field="borrower")
    Variety.objects.select_for_update(of=("self",), no_key=True).get(pk=lot.variety_id)
    packet = _sealed_then(lot, seeds, lent_on, by, counted_after=counted_after)
    take_packet_off_shelf(packet=packet, on=lent_on, by=by, reason=_("written down from paper"))
    loan = Loan.objects.create(
        packet=packet,
        borrower=borrower,
        lent_on=lent_on,
        lent_by=by,
        handed_over_on=lent_on,
        override_reason=_("written down from paper"),
        **_due(lot.variety, lent_on, due_on),
    )
    why = fits(note, field="note", most=2000)
    note_of_loan(loan, What.LENT, on=lent_on, by=by, now_due_on=loan.due_on, why=why)
    if outcome and ended_on:
        if outcome == Outcome.TAKEN_BACK:
            put_packet_back(packet=packet, on=ended_on, by=by)
        close(loan, outcome, on=ended_on, by=by, note=note or _("as the paper says"))
    return loan


@transaction.atomic
def undo_past_loan(*, loan: Loan, on: dt.date, by: Member, reason: str) -> Loan:
    """Take back what ``record_past_loan`` wrote, by contrary movements: the packet's seed is in
    the jar again, and a count that was corrected for it is as it was.

    The loan itself stays, closed as taken back. Raises Conflict when anything rests on it.
    """
    _may(by)
    loan = Loan.objects.select_for_update(of=("self",), no_key=True).get(pk=loan.pk)
    if built := rests_on_past_loan(loan):
        raise Conflict(built, field="loan")
    packet = Packet.objects.select_related("lot").get(pk=loan.packet_id)
    if packet.state == Packet.State.LENT:
        put_packet_back(packet=packet, on=on, by=by, reason=reason)
    unpack(packet=packet, on=on, by=by, reason=reason)
    for correction in _corrections_for(packet):
        mend_movement(movement=correction, on=on, by=by, reason=reason)
    if loan.closed_on is None:
        return close(loan, Outcome.TAKEN_BACK, on=on, by=by, note=reason)
    loan.outcome, loan.outcome_note = Outcome.TAKEN_BACK, reason
    loan.save(update_fields=["outcome", "outcome_note"])
    note_of_loan(loan, What.CLOSED, on=on, by=by, why=reason)
    return loan


def rests_on_past_loan(loan: Loan) -> str:
    """The sentence that names what was built on a past loan; empty when nothing was."""
    if loan.return_links.exists():
        return _("seed of the loan came back, or is announced")
    written = 1 + (loan.closed_on is not None)
    if loan.events.count() != written or loan.events.filter(what=What.HANDED_OVER).exists():
        return _("the loan was changed since it was written down")
    if loan.packet.state not in (Packet.State.LENT, Packet.State.ON_SHELF):
        state = loan.packet.get_state_display()
        return _("packet %(code)s is %(state)s") % {"code": loan.packet.code, "state": state}
    if loan.packet.loans.exclude(pk=loan.pk).exists():
        return _("packet %(code)s was lent again") % {"code": loan.packet.code}
    return ""


def _may(by: Member) -> None:
    if not coordinates(by):
        raise NotAllowed(_("Only a coordinator writes down loans of the past."))


def _check_end(outcome: str, ended_on: dt.date | None, lent_on: dt.date) -> None:
    if outcome and outcome not in PAST_OUTCOMES:
        raise Refused(
            _("“%(outcome)s” is no such ending; say %(known)s.")
            % {"outcome": outcome, "known": ", ".join(PAST_OUTCOMES)},
            field="outcome",
        )
    if bool(outcome) != bool(ended_on):
        raise Refused(
            _("A loan that ended has both: what came of it, and the day."), field="outcome"
        )
    if ended_on is not None:
        happened_on(
            ended_on, since=lent_on, since_what=_("the day it was lent"), field="ended_on"
        )


def _sealed_then(
    lot: Lot, seeds: int, on: dt.date, by: Member, *, counted_after: bool
) -> Packet:
    if counted_after:
        loose = Lot.objects.select_for_update(no_key=True).get(pk=lot.pk).loose
        reason = _("lent on %(day)s, before it was counted") % {"day": in_words(on)}
        correct_count(lot=lot, loose=loose + seeds, on=on, by=by, reason=reason)
    return pack(lot=lot, packets=1, seeds_each=seeds, on=on, by=by)[0]


def _corrections_for(packet: Packet) -> list[Movement]:
    """The correction written just before this packet was filled, if there is one.

    One transaction wrote it, the packing and the lending, with the lot's row held: the three
    stand together among the lot's movements.
    """
    lent = packet.movements.filter(kind=Movement.Kind.LENT).order_by("pk").first()
    if lent is None:
        return []
    before = packet.lot.movements.filter(pk__lt=lent.pk).order_by("-pk")[:2]
    return [
        m
        for m in before
        if m.kind == Movement.Kind.MISCOUNTED
        and m.loose_change == packet.seeds
        and m.on == lent.on
        and not Movement.objects.filter(mends=m).exists()
    ]


def _due(variety: Variety, lent_on: dt.date, due_on: dt.date | None) -> dict:
    ours = seasons.due_date(variety=variety, garden=None, on=lent_on)
    if due_on is None or due_on == ours.due_on:
        inputs = {**ours.inputs, "source": ours.source}
        return {"due_on": ours.due_on, "due_rule": ours.reason, "due_inputs": inputs}
    last = dt.date(lent_on.year + LONGEST_LOAN_YEARS, 12, 31)
    if not lent_on <= due_on <= last:
        raise Refused(
            _("A loan of %(lent)s can be due from that day to %(last)s, not %(due)s.")
            % {"lent": in_words(lent_on), "last": in_words(last), "due": in_words(due_on)},
            field="due_on",
        )
    reason = _("as the paper says")
    inputs = {"was_due_on": ours.due_on.isoformat(), "reason": reason}
    return {"due_on": due_on, "due_rule": sentences.EXTENDED, "due_inputs": inputs}
