"""Lending a packet, and what becomes of a loan until it is closed."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from accounts.roles import SERVE_DESK
from library import hooks
from library.catalogue.models import Variety
from library.errors import Conflict, NotAllowed, NotEnough, Refused
from library.lending import sentences
from library.lending.models import LendingRules, Loan, LoanEvent
from library.lending.services import seasons
from library.lending.services.checks import (
    approved,
    coordinates,
    fits,
    happened_on,
    in_words,
    own_or_desk,
    said,
    serves_desk,
)
from library.lending.services.reserve import reserve_of
from library.stock.models import Lot, Packet
from library.stock.services import put_packet_back, take_packet_off_shelf

What, Outcome = LoanEvent.What, Loan.Outcome
LONGEST_LOAN_YEARS = 6
MEMBERS_OUTCOMES = (Outcome.CROP_FAILED, Outcome.NOTHING_TO_RETURN)


@transaction.atomic
def lend_packet(
    *,
    packet: Packet,
    borrower: Member,
    on: dt.date,
    by: Member,
    garden: Garden | None = None,
    override_reason: str = "",
) -> Loan:
    """Lend a packet for sowing: by a member to themselves, or by the desk to a member.

    The desk hands it over at once; a member collects it later. Of any number who reach for
    the same packet one gets it. Limits, a first test still awaited and a withheld lot give way
    to a coordinator's reason; the reserve never does.

    Rows are locked in one order (borrower, variety, packet, lot): the borrower's so that their
    limits hold, the variety's so that two loans cannot both take the last seed above the
    reserve.
    """
    own_or_desk(borrower, by)
    _check_day(packet, on)
    override = _override(override_reason, by)
    borrower = Member.objects.select_for_update(no_key=True).get(pk=borrower.pk)
    approved(borrower, field="borrower")
    garden = _garden(garden, borrower)
    _lock_variety(packet)
    packet = _still_on_shelf(packet)
    variety = packet.lot.variety
    rules = LendingRules.current()
    _check_may_leave(packet, variety, borrower, rules, override)
    take_packet_off_shelf(packet=packet, on=on, by=by)
    due = seasons.due_date(variety=variety, garden=garden, on=on, rules=rules)
    loan = Loan.objects.create(
        packet=packet,
        borrower=borrower,
        garden=garden,
        lent_on=on,
        lent_by=by,
        handed_over_on=on if by.has_perm(SERVE_DESK) else None,
        due_on=due.due_on,
        due_rule=due.reason,
        due_inputs={**due.inputs, "source": due.source},
        override_reason=override,
    )
    note_of_loan(loan, What.LENT, on=on, by=by, now_due_on=loan.due_on, why=override)
    return loan


def why_not_lend(*, packet: Packet, borrower: Member | None = None) -> str:
    """The sentence that lending it would be refused with; empty when it can be lent now.

    Without a borrower only what stands in anybody's way is looked at. Nothing is locked, so
    that it may have changed when the loan is made.
    """
    try:
        packet = _still_on_shelf(packet)
        rules = LendingRules.current()
        if borrower is None:
            _check_lot(packet.lot)
            _check_reserve(packet, packet.lot.variety, rules)
            return ""
        approved(borrower, field="borrower")
        _check_may_leave(packet, packet.lot.variety, borrower, rules, override="")
    except Refused as refusal:
        return str(refusal)
    return ""


@transaction.atomic
def hand_over(*, loan: Loan, on: dt.date, by: Member) -> Loan:
    """The desk gives the borrower the packet that they chose."""
    serves_desk(by)
    loan = locked_open(loan)
    _after_lent(loan, on)
    if loan.is_collected:
        raise Conflict(_("This packet was handed over already."))
    loan.handed_over_on = on
    loan.save(update_fields=["handed_over_on"])
    note_of_loan(loan, What.HANDED_OVER, on=on, by=by)
    return loan


@transaction.atomic
def hand_over_together(*, loan: Loan, on: dt.date, by: Member) -> list[Loan]:
    """The packet, and those that go with it (an upper app says which): all or none."""
    keys = {loan.pk, *(key for keys in hooks.ask("goes_with_loan", loan=loan) for key in keys)}
    waiting = Loan.objects.open().to_hand_over().filter(pk__in=keys).exclude(pk=loan.pk)
    together = [loan, *waiting.order_by("pk")]
    return [hand_over(loan=each, on=on, by=by) for each in together]


@transaction.atomic
def cancel_uncollected(*, loan: Loan, on: dt.date, by: Member) -> Loan:
    """A packet that was chosen but never collected goes back on the shelf."""
    own_or_desk(loan.borrower, by)
    loan = locked_open(loan)
    _after_lent(loan, on)
    if loan.is_collected:
        raise Conflict(_("This packet was handed over already; take it back at the desk."))
    put_packet_back(packet=loan.packet, on=on, by=by, reason=_("not collected"))
    return close(loan, Outcome.NOT_COLLECTED, on=on, by=by)


@transaction.atomic
def take_back_unopened(*, loan: Loan, on: dt.date, by: Member, note: str = "") -> Loan:
    """A sealed packet comes back to the desk and onto the shelf."""
    serves_desk(by)
    loan = locked_open(loan)
    _after_lent(loan, on)
    _no_return_waits(loan)
    put_packet_back(packet=loan.packet, on=on, by=by, reason=_("brought back unopened"))
    return close(loan, Outcome.TAKEN_BACK, on=on, by=by, note=note)


@transaction.atomic
def close_loan(*, loan: Loan, outcome: str, on: dt.date, by: Member, note: str = "") -> Loan:
    """Say that the crop failed (and what happened), or that there is nothing to return.

    Both are ordinary; nothing follows from them for the member.
    """
    own_or_desk(loan.borrower, by)
    if outcome not in MEMBERS_OUTCOMES:
        raise Refused(
            _("“%(outcome)s” is no such ending; say %(known)s.")
            % {"outcome": outcome, "known": ", ".join(MEMBERS_OUTCOMES)},
            field="outcome",
        )
    loan = locked_open(loan)
    _after_lent(loan, on)
    if not loan.is_collected:
        raise Conflict(_("This packet was not handed over yet; cancel the loan instead."))
    _no_return_waits(loan)
    if outcome == Outcome.CROP_FAILED and not (note or "").strip():
        raise Refused(
            _("Say in a few words what happened; it helps the next grower."), field="note"
        )
    return close(loan, outcome, on=on, by=by, note=note)


@transaction.atomic
def extend_loan(*, loan: Loan, due_on: dt.date, reason: str, on: dt.date, by: Member) -> Loan:
    """The desk gives another due date; the old one and the reason stay readable."""
    serves_desk(by)
    reason = said(reason)
    loan = locked_open(loan)
    last = loan.lent_on.replace(month=12, day=31, year=loan.lent_on.year + LONGEST_LOAN_YEARS)
    if not loan.lent_on <= due_on <= last:
        raise Refused(
            _("A loan of %(lent)s can be due from that day to %(last)s, not %(due)s.")
            % {"lent": in_words(loan.lent_on), "last": in_words(last), "due": in_words(due_on)},
            field="due_on",
        )
    if due_on == loan.due_on:
        raise Refused(_("It is due on that day already."), field="due_on")
    inputs = {"was_due_on": loan.due_on.isoformat(), "reason": reason}
    return _change_due(loan, due_on, sentences.EXTENDED, inputs, on=on, by=by, why=reason)


@transaction.atomic
def change_garden(*, loan: Loan, garden: Garden, on: dt.date, by: Member) -> Loan:
    """Grow it in another garden of the borrower; the due date follows that garden's frosts.

    An upper app that holds to the garden refuses with a Conflict.
    """
    own_or_desk(loan.borrower, by)
    loan = locked_open(loan)
    _check_garden(garden, loan.borrower)
    hooks.tell("loan_garden_changes", loan=loan)
    if garden == loan.garden:
        raise Refused(_("It is meant for that garden already."), field="garden")
    loan.garden = garden
    loan.save(update_fields=["garden"])
    note_of_loan(loan, What.GARDEN_CHANGED, on=on, by=by)
    due = seasons.due_date(
        variety=loan.packet.lot.variety, garden=garden, on=loan.handed_over_on or loan.lent_on
    )
    if due.due_on == loan.due_on or loan.due_rule == sentences.EXTENDED:
        return loan
    inputs = {**due.inputs, "source": due.source}
    why = _("another garden was chosen")
    return _change_due(loan, due.due_on, due.reason, inputs, on=on, by=by, why=why)


def locked_open(loan: Loan) -> Loan:
    """The loan as it is now, locked; Conflict when it was closed meanwhile."""
    loan = (
        Loan.objects.select_for_update(of=("self",), no_key=True)
        .select_related("borrower", "garden", "packet__lot__variety__crop__species")
        .get(pk=loan.pk)
    )
    if loan.closed_on is not None:
        raise Conflict(
            _("This loan was closed on %(day)s: %(outcome)s.")
            % {"day": in_words(loan.closed_on), "outcome": loan.get_outcome_display()},
            field="loan",
        )
    return loan


def close(loan: Loan, outcome: str, *, on: dt.date, by: Member, note: str = "") -> Loan:
    """Close a loan that the caller has locked."""
    loan.closed_on = on
    loan.outcome = outcome
    loan.outcome_note = fits(note, field="note", most=2000)
    loan.save(update_fields=["closed_on", "outcome", "outcome_note"])
    note_of_loan(loan, What.CLOSED, on=on, by=by, why=str(Outcome(outcome).label))
    hooks.tell("loan_closed", loan=loan, on=on, by=by)
    return loan


def note_part_returned(loan: Loan, *, on: dt.date, by: Member) -> None:
    """Write down that some of the seed came back and more is to come."""
    note_of_loan(loan, What.PART_RETURNED, on=on, by=by)


def _check_day(packet: Packet, on: dt.date) -> None:
    happened_on(on, since=packet.sealed_on, since_what=_("the day the packet was sealed"))


def _after_lent(loan: Loan, on: dt.date) -> None:
    happened_on(on, since=loan.lent_on, since_what=_("the day it was lent"))


def _override(reason: str, by: Member) -> str:
    reason = fits(reason, field="override_reason")
    if reason and not coordinates(by):
        raise NotAllowed(
            _("Only a coordinator can lend against the rules."), field="override_reason"
        )
    return reason


def _garden(chosen: Garden | None, borrower: Member) -> Garden | None:
    if chosen is not None:
        _check_garden(chosen, borrower)
    return seasons.garden_of(borrower, chosen)


def _check_garden(garden: Garden, borrower: Member) -> None:
    if garden.member_id != borrower.pk:
        raise Refused(_("That is not a garden of this member."), field="garden")


def _lock_variety(packet: Packet) -> None:
    """What is read of the variety and its lots from here on is as this loan will leave it."""
    rows = Variety.objects.select_for_update(of=("self",), no_key=True)
    rows.values_list("pk").get(lots=packet.lot_id)


def _check_may_leave(
    packet: Packet, variety: Variety, borrower: Member, rules: LendingRules, override: str
) -> None:
    if not override:
        _check_limits(borrower, variety, rules)
        _check_lot(packet.lot)
    _check_reserve(packet, variety, rules)


def _check_limits(borrower: Member, variety: Variety, rules: LendingRules) -> None:
    """Packets out at the same time, of anything and of this variety."""
    loans = Loan.objects.open().of(borrower).order_by()
    out = list(loans.values_list("packet__lot__variety", flat=True))
    if len(out) >= rules.max_open_loans:
        raise NotEnough(
            _("%(name)s has %(count)s packets out; %(most)s is the most at a time.")
            % {
                "name": borrower.display_name,
                "count": len(out),
                "most": rules.max_open_loans,
            },
            field="borrower",
        )
    if out.count(variety.pk) >= rules.max_packets_of_variety:
        raise NotEnough(
            _("%(name)s has %(count)s packets of %(variety)s out; %(most)s is the most.")
            % {
                "name": borrower.display_name,
                "count": out.count(variety.pk),
                "variety": variety.name,
                "most": rules.max_packets_of_variety,
            },
            field="borrower",
        )


def _still_on_shelf(packet: Packet) -> Packet:
    """The packet as it is now. Only for a clear sentence: the stock's UPDATE decides."""
    packet = Packet.objects.with_lot().get(pk=packet.pk)
    if packet.state != Packet.State.ON_SHELF:
        raise Conflict(
            _("Packet %(code)s is not on the shelf: it is %(state)s.")
            % {"code": packet.code, "state": packet.get_state_display()},
            field="packet",
        )
    return packet


def _check_lot(lot: Lot) -> None:
    if lot.withheld_reason:
        # Why is for the desk, on the lot's own page: a member reads this sentence too.
        raise Conflict(
            _("Lot %(lot)s is withheld; choose another lot.") % {"lot": lot.number},
            field="packet",
        )
    if lot.awaits_first_test:
        raise Conflict(
            _("Lot %(lot)s waits for its first germination test; choose another lot.")
            % {"lot": lot.number},
            field="packet",
        )


def _check_reserve(packet: Packet, variety: Variety, rules: LendingRules) -> None:
    reserve = reserve_of(variety, rules)
    if not reserve.allows(packet):
        raise NotEnough(
            _(
                "%(variety)s is down to its reserve: %(have)s seeds are here and %(reserve)s "
                "must stay to regrow it, so this packet of %(seeds)s cannot leave."
            )
            % {
                "variety": variety.name,
                "have": reserve.have,
                "reserve": reserve.seeds,
                "seeds": packet.seeds,
            },
            field="packet",
        )


def _no_return_waits(loan: Loan) -> None:
    if loan.return_links.filter(seed_return__state="announced").exists():
        raise Conflict(
            _("Seed of this loan is announced as coming back; receive or withdraw that first."),
            field="loan",
        )


def _change_due(
    loan: Loan, due_on: dt.date, rule: str, inputs: dict, *, on: dt.date, by: Member, why: str
) -> Loan:
    was = loan.due_on
    loan.due_on, loan.due_rule, loan.due_inputs = due_on, rule, inputs
    loan.save(update_fields=["due_on", "due_rule", "due_inputs"])
    note_of_loan(
        loan, What.DUE_DATE_CHANGED, on=on, by=by, was_due_on=was, now_due_on=due_on, why=why
    )
    hooks.tell("loan_due_changed", loan=loan, why=why)
    return loan


def note_of_loan(loan: Loan, what: str, *, on: dt.date, by: Member, **facts) -> None:
    """Write down what happened to a loan."""
    LoanEvent.objects.create(loan=loan, what=what, on=on, by=by, **facts)
