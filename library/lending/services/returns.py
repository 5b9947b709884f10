"""Seed brought back against loans: a new lot whose parents are the lots that were lent."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library import hooks
from library.catalogue.models import BreedingStatus, Variety
from library.errors import Conflict, Refused
from library.germination.services import expect_first_test
from library.lending.models import Loan, Return, ReturnedLoan
from library.lending.services.cards import NewCard
from library.lending.services.checks import (
    approved,
    happened_on,
    in_words,
    moment,
    own_or_desk,
    serves_desk,
)
from library.lending.services.checks import harvest_year as checked_year
from library.lending.services.growing import FACTS, growing_facts
from library.lending.services.loans import close, note_part_returned
from library.lending.services.quantities import seeds_brought, told_quantity
from library.stock.models import Lot, Origin, StoragePlace
from library.stock.services import receive_lot, split_shares

State = Return.State
# What seed of a plant that does not breed true may be kept as.
LINES = (BreedingStatus.SEGREGATING, BreedingStatus.STABILISED)


@transaction.atomic
def announce_return(
    *,
    member: Member,
    loans: Iterable[Loan],
    on: dt.date,
    by: Member,
    harvest_year: int,
    seeds: int | None = None,
    grams: Any = None,
    garden: Garden | None = None,
    growing: dict[str, Any] | None = None,
    more_to_come: bool = False,
) -> Return:
    """A member says that seed of these loans is coming back, and how it was grown.

    All loans are the member's, open, collected, and of one variety. With ``more_to_come`` the
    return is a part, and the loans stay open.
    """
    own_or_desk(member, by)
    approved(member, field="member")
    happened_on(on)
    loans = _locked_loans(loans, member)
    _check_not_announced(loans)
    count, weight = told_quantity(seeds, grams)
    seed_return = Return.objects.create(
        member=member,
        seeds=count,
        grams=weight,
        harvest_year=_year(harvest_year, loans, on),
        garden=_garden(garden, loans, member),
        announced_at=moment(on),
        **growing_facts(growing),
    )
    ReturnedLoan.objects.bulk_create(
        ReturnedLoan(seed_return=seed_return, loan=loan, closes=not more_to_come)
        for loan in loans
    )
    return seed_return


@transaction.atomic
def receive_return(
    *,
    seed_return: Return,
    on: dt.date,
    by: Member,
    seeds: int | None = None,
    grams: Any = None,
    thousand_seed_weight_g: Any = None,
    variety: Variety | None = None,
    new_card: NewCard | None = None,
    storage_place: StoragePlace | None = None,
) -> Lot:
    """The desk counts or weighs the seed and makes the new lot, its parents and growing row.

    The parents come from the loans, shares by the seeds that were lent. ``variety``, or
    the ``new_card`` written for it, is the line under which seed is kept that does not breed
    true: one of them is required for an F1 hybrid.
    """
    serves_desk(by)
    seed_return = _locked_waiting(seed_return)
    happened_on(on)
    closes = {link.loan_id: link.closes for link in seed_return.loan_links.all()}
    loans = _locked_loans(Loan.objects.filter(pk__in=list(closes)), seed_return.member)
    _year(seed_return.harvest_year, loans, on)
    chosen = variety or (new_card.write(by=by) if new_card else None)
    line = _line(loans[0].packet.lot.variety, chosen)
    if seeds is None and grams is None:
        seeds, grams = seed_return.seeds, seed_return.grams
    quantity = seeds_brought(
        variety=line, seeds=seeds, grams=grams, thousand_seed_weight_g=thousand_seed_weight_g
    )
    lot = receive_lot(
        variety=line,
        origin=Origin.RETURN,
        on=on,
        by=by,
        seeds=quantity.seeds,
        thousand_seed_weight_g=quantity.thousand_seed_weight_g,
        harvest_year=seed_return.harvest_year,
        parents=_parents(loans),
        storage_place=storage_place,
        grower=seed_return.member,
        growing=_growing_of(seed_return),
    )
    expect_first_test(lot=lot, on=on)
    _mark_received(seed_return, lot, on=on, by=by)
    # Before its loans are closed: who follows a loan sees that its seed came back.
    hooks.tell("seed_returned", seed_return=seed_return, loans=loans, on=on)
    _settle(loans, closes, on=on, by=by)
    lot.refresh_from_db()
    return lot


@transaction.atomic
def return_at_desk(
    *,
    loans: Iterable[Loan],
    on: dt.date,
    by: Member,
    harvest_year: int,
    garden: Garden | None = None,
    growing: dict[str, Any] | None = None,
    more_to_come: bool = False,
    **received: Any,
) -> Lot:
    """Seed handed over at the desk without being announced: both steps at once.

    ``received`` is what ``receive_return`` asks: seeds or grams, variety, storage place.
    """
    serves_desk(by)
    loans = list(loans)
    if not loans:
        raise Refused(_("Say which loan this seed is from."), field="loans")
    seed_return = announce_return(
        member=loans[0].borrower,
        loans=loans,
        on=on,
        by=by,
        harvest_year=harvest_year,
        garden=garden,
        growing=growing,
        more_to_come=more_to_come,
    )
    return receive_return(seed_return=seed_return, on=on, by=by, **received)


@transaction.atomic
def withdraw_return(*, seed_return: Return, by: Member) -> Return:
    """The seed does not come after all; the loans stay as they are."""
    own_or_desk(seed_return.member, by)
    seed_return = _locked_waiting(seed_return)
    seed_return.state = State.WITHDRAWN
    seed_return.save(update_fields=["state"])
    return seed_return


def segregating_lines(variety: Variety):
    """The lines under which seed of a variety that does not breed true can be kept."""
    lines = Variety.objects.filter(crop=variety.crop_id, breeding_status__in=LINES)
    return lines.exclude(pk=variety.pk)


def _locked_loans(loans: Iterable[Loan], member: Member) -> list[Loan]:
    """The loans as they are now, in key order, each open, collected, and the member's."""
    keys = {loan.pk for loan in loans}
    if not keys:
        raise Refused(_("Say which loan this seed is from."), field="loans")
    rows = list(
        Loan.objects.select_for_update(of=("self",), no_key=True)
        .select_related("garden", "packet__lot__variety__crop__species")
        .filter(pk__in=keys)
        .order_by("pk")
    )
    for loan in rows:
        _check_can_be_answered(loan, member)
    if len({loan.packet.lot.variety_id for loan in rows}) > 1:
        raise Refused(
            _("These loans are of different varieties; bring each back on its own."),
            field="loans",
        )
    return rows


def _check_can_be_answered(loan: Loan, member: Member) -> None:
    code = loan.packet.code
    if loan.borrower_id != member.pk:
        raise Refused(
            _("Packet %(code)s was lent to somebody else.") % {"code": code}, field="loans"
        )
    if loan.closed_on is not None:
        raise Conflict(
            _("The loan of packet %(code)s was closed on %(day)s: %(outcome)s.")
            % {
                "code": code,
                "day": in_words(loan.closed_on),
                "outcome": loan.get_outcome_display(),
            },
            field="loans",
        )
    if not loan.is_collected:
        raise Conflict(
            _("Packet %(code)s was not handed over yet, so nothing can have grown from it.")
            % {"code": code},
            field="loans",
        )


def _check_not_announced(loans: list[Loan]) -> None:
    waiting = ReturnedLoan.objects.filter(loan__in=loans, seed_return__state=State.ANNOUNCED)
    link = waiting.select_related("loan__packet").first()
    if link is not None:
        raise Conflict(
            _("A return for packet %(code)s is announced already; withdraw that one first.")
            % {"code": link.loan.packet.code},
            field="loans",
        )


def _year(year: Any, loans: list[Loan], on: dt.date) -> int:
    """A harvest neither before the parents', nor before the year of lending, nor to come."""
    checked_year(year, on=on)
    lent = min(loan.lent_on.year for loan in loans)
    if year < lent:
        raise Refused(
            _("The packet was lent in %(lent)s; its seed cannot be of %(year)s.")
            % {"lent": lent, "year": year},
            field="harvest_year",
        )
    for loan in loans:
        lot = loan.packet.lot
        if lot.harvest_year is not None and year < lot.harvest_year:
            raise Refused(
                _("Lot %(lot)s was itself harvested in %(parent)s, after %(year)s.")
                % {"lot": lot.number, "parent": lot.harvest_year, "year": year},
                field="harvest_year",
            )
    return year


def _garden(chosen: Garden | None, loans: list[Loan], member: Member) -> Garden | None:
    """The garden that was said, else the one the packet was lent for."""
    if chosen is None:
        return loans[0].garden
    if chosen.member_id != member.pk:
        raise Refused(_("That is not a garden of this member."), field="garden")
    return chosen


def _line(lent: Variety, chosen: Variety | None) -> Variety:
    """The variety that the new seed is: the one lent, unless that does not breed true."""
    if chosen is None or chosen.pk == lent.pk:
        if lent.breeding_status == BreedingStatus.F1:
            raise Refused(
                _(
                    "%(name)s is an F1 hybrid, so its seed is an F2 and not %(name)s. Choose "
                    "or write the card of a segregating line of %(crop)s to keep it under."
                )
                % {"name": lent.name, "crop": lent.crop.local_name},
                field="variety",
            )
        return lent
    if lent.breeds_true:
        raise Refused(
            _("%(name)s breeds true, so its seed stays %(name)s.") % {"name": lent.name},
            field="variety",
        )
    if chosen.crop_id != lent.crop_id or chosen.breeding_status not in LINES:
        raise Refused(
            _("“%(chosen)s” is no segregating or stabilised line of %(crop)s; choose one.")
            % {"chosen": chosen.name, "crop": lent.crop.local_name},
            field="variety",
        )
    return chosen


def _parents(loans: list[Loan]) -> list[tuple[Lot, Decimal]]:
    """The lots that were lent, each with its share by the seeds lent."""
    lots = {loan.packet.lot_id: loan.packet.lot for loan in loans}
    lent = dict.fromkeys(lots, 0)
    for loan in loans:
        lent[loan.packet.lot_id] += loan.packet.seeds
    shares = split_shares(list(lent.values()))
    return [(lots[pk], share) for pk, share in zip(lent, shares, strict=True)]


def _growing_of(seed_return: Return) -> dict[str, Any]:
    facts = {name: getattr(seed_return, name) for name in FACTS}
    return {**facts, "garden": seed_return.garden}


def _locked_waiting(seed_return: Return) -> Return:
    seed_return = (
        Return.objects.select_for_update(of=("self",), no_key=True)
        .select_related("member", "garden")
        .get(pk=seed_return.pk)
    )
    if not seed_return.is_waiting:
        raise Conflict(
            _("This return was answered already: it is %(state)s.")
            % {"state": seed_return.get_state_display()},
            field="return",
        )
    return seed_return


def _mark_received(seed_return: Return, lot: Lot, *, on: dt.date, by: Member) -> None:
    seed_return.state = State.RECEIVED
    seed_return.lot = lot
    seed_return.received_at = moment(on)
    seed_return.received_by = by
    seed_return.save(update_fields=["state", "lot", "received_at", "received_by"])


def _settle(loans: list[Loan], closes: Mapping[int, bool], *, on: dt.date, by: Member) -> None:
    for loan in loans:
        if closes[loan.pk]:
            close(loan, Loan.Outcome.RETURNED, on=on, by=by)
        else:
            note_part_returned(loan, on=on, by=by)
