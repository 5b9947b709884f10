"""Seed brought in from outside: proposed by a member, received or declined at the desk."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import override as speaking

from accounts.models import Member
from library.catalogue.models import Crop, Variety
from library.errors import Conflict, Refused
from library.germination.services import expect_first_test
from library.lending.models import Deposit
from library.lending.services.cards import NewCard
from library.lending.services.checks import (
    approved,
    fits,
    happened_on,
    moment,
    own_or_desk,
    said,
    serves_desk,
    whole,
)
from library.lending.services.checks import harvest_year as checked_year
from library.lending.services.growing import growing_facts
from library.lending.services.quantities import seeds_brought, told_quantity
from library.outbox.services import queue_mail
from library.stock.models import Lot, Origin, StoragePlace
from library.stock.services import pack, receive_lot

State = Deposit.State


@dataclass(frozen=True)
class Packing:
    """So many packets of so many seeds, filled at once."""

    packets: int | None
    seeds_each: int | None


@transaction.atomic
def propose_deposit(
    *,
    depositor: Member,
    on: dt.date,
    variety: Variety | None = None,
    crop: Crop | None = None,
    new_variety_name: str = "",
    seeds: int | None = None,
    grams: Any = None,
    harvest_year: int | None = None,
    origin_region: str = "",
    origin_story: str = "",
    growing: dict[str, Any] | None = None,
    may_be_named: bool = False,
) -> Deposit:
    """A member says what they would like to bring; the desk answers when it is there."""
    approved(depositor, field="depositor")
    return _written(
        on=on,
        depositor=depositor,
        may_be_named=may_be_named,
        **_what(variety, crop, new_variety_name),
        **_facts(on, seeds, grams, harvest_year, origin_region, origin_story, growing),
    )


@transaction.atomic
def receive_deposit(
    *,
    deposit: Deposit,
    on: dt.date,
    by: Member,
    seeds: int | None = None,
    grams: Any = None,
    thousand_seed_weight_g: Any = None,
    variety: Variety | None = None,
    new_card: NewCard | None = None,
    harvest_year: int | None = None,
    packing: Packing | None = None,
    storage_place: StoragePlace | None = None,
    part_of: Lot | None = None,
) -> Lot:
    """The desk counts or weighs what came and makes it a lot, whose first test is then due.

    What is not said here is taken from the proposal. ``variety`` corrects what the depositor
    took it for, ``new_card`` writes a card for what the catalogue did not know; with
    ``packing`` packets are filled at once. ``part_of`` is the lot of another library that the
    seed was taken from, where its chain is known.
    """
    serves_desk(by)
    happened_on(on)
    return _received(
        _locked_waiting(deposit),
        on=on,
        by=by,
        seeds=seeds,
        grams=grams,
        thousand_seed_weight_g=thousand_seed_weight_g,
        variety=variety,
        new_card=new_card,
        harvest_year=harvest_year,
        packing=packing,
        storage_place=storage_place,
        part_of=part_of,
    )


def _received(
    deposit: Deposit,
    *,
    on: dt.date,
    by: Member,
    seeds: int | None = None,
    grams: Any = None,
    thousand_seed_weight_g: Any = None,
    variety: Variety | None = None,
    new_card: NewCard | None = None,
    harvest_year: int | None = None,
    packing: Packing | None = None,
    storage_place: StoragePlace | None = None,
    part_of: Lot | None = None,
) -> Lot:
    """A deposit that is held, or that nobody else can know of yet, becomes a lot."""
    variety = variety or (new_card.write(by=by) if new_card else deposit.variety)
    if variety is None:
        raise Refused(
            _("Choose the variety, or write a card for “%(name)s” first.")
            % {"name": deposit.new_variety_name},
            field="variety",
        )
    if seeds is None and grams is None:
        seeds, grams = deposit.seeds, deposit.grams
    quantity = seeds_brought(
        variety=variety, seeds=seeds, grams=grams, thousand_seed_weight_g=thousand_seed_weight_g
    )
    year = deposit.harvest_year if harvest_year is None else checked_year(harvest_year, on=on)
    lot = _make_lot(
        deposit,
        variety,
        quantity,
        on=on,
        by=by,
        year=year,
        place=storage_place,
        part_of=part_of,
    )
    if packing is not None:
        _pack(lot, packing, on=on, by=by)
    expect_first_test(lot=lot, on=on)
    _decide(deposit, State.RECEIVED, on=on, by=by, lot=lot, variety=variety)
    lot.refresh_from_db()
    return lot


@transaction.atomic
def deposit_at_desk(
    *,
    on: dt.date,
    by: Member,
    depositor: Member | None = None,
    source_name: str = "",
    variety: Variety | None = None,
    crop: Crop | None = None,
    new_variety_name: str = "",
    harvest_year: int | None = None,
    origin_region: str = "",
    origin_story: str = "",
    growing: dict[str, Any] | None = None,
    may_be_named: bool = False,
    **received: Any,
) -> Lot:
    """Seed handed over at the desk, by a member or by somebody who is none: received at once.

    ``received`` is what ``receive_deposit`` asks: seeds or grams, packing, storage place.
    """
    serves_desk(by)
    happened_on(on)
    told = (received.get("seeds"), received.get("grams"))
    card = received.get("new_card")
    if card is not None and variety is None and not new_variety_name:
        crop, new_variety_name = card.crop, card.name
    deposit = _written(
        on=on,
        depositor=depositor,
        may_be_named=may_be_named,
        source_name=fits(source_name, field="source_name", most=120),
        **_what(variety, crop, new_variety_name),
        **_facts(on, *told, harvest_year, origin_region, origin_story, growing),
    )
    return _received(deposit, on=on, by=by, **received)


@transaction.atomic
def decline_deposit(*, deposit: Deposit, on: dt.date, by: Member, reason: str) -> Deposit:
    """The desk cannot take it, says why, and the depositor is told by mail."""
    serves_desk(by)
    reason = said(reason, most=2000)
    deposit = _locked_waiting(deposit)
    _decide(deposit, State.DECLINED, on=happened_on(on), by=by, decision_note=reason)
    _tell_depositor(deposit)
    return deposit


@transaction.atomic
def withdraw_deposit(*, deposit: Deposit, on: dt.date, by: Member) -> Deposit:
    """The depositor will not bring it after all."""
    own_or_desk(deposit.depositor, by)
    deposit = _locked_waiting(deposit)
    _decide(deposit, State.WITHDRAWN, on=happened_on(on), by=by)
    return deposit


def _what(variety: Variety | None, crop: Crop | None, name: str) -> dict[str, Any]:
    """A variety of the catalogue, or a new name with its crop; never both."""
    name = fits(name, field="new_variety_name", most=120)
    if variety is not None:
        if name and name.casefold() != variety.name.casefold():
            raise Refused(
                _("Choose a variety of the catalogue or give a new name, not both."),
                field="new_variety_name",
            )
        return {"variety": variety, "crop": variety.crop, "new_variety_name": ""}
    if not name:
        raise Refused(
            _("Choose a variety of the catalogue, or give its name and its crop."),
            field="variety",
        )
    if crop is None:
        raise Refused(_("Say which crop “%(name)s” is.") % {"name": name}, field="crop")
    return {"variety": None, "crop": crop, "new_variety_name": name}


def _facts(on, seeds, grams, year, region, story, growing) -> dict[str, Any]:
    count, weight = told_quantity(seeds, grams)
    return {
        "seeds": count,
        "grams": weight,
        "harvest_year": None if year is None else checked_year(year, on=on),
        "origin_region": fits(region, field="origin_region", most=120),
        "origin_story": fits(story, field="origin_story", most=8000),
        "growing": growing_facts(growing),
    }


def _written(*, on: dt.date, **facts: Any) -> Deposit:
    return Deposit.objects.create(proposed_at=moment(happened_on(on)), **facts)


def _locked_waiting(deposit: Deposit) -> Deposit:
    deposit = (
        Deposit.objects.select_for_update(of=("self",), no_key=True)
        .select_related("depositor", "variety__crop__species")
        .get(pk=deposit.pk)
    )
    if not deposit.is_waiting:
        raise Conflict(
            _("This deposit was answered already: it is %(state)s.")
            % {"state": deposit.get_state_display()},
            field="deposit",
        )
    return deposit


def _make_lot(deposit, variety, quantity, *, on, by, year, place, part_of) -> Lot:
    """A lot of the deposit; people are named on it only if they said so."""
    person = deposit.depositor if deposit.may_be_named else None
    return receive_lot(
        variety=variety,
        origin=Origin.DEPOSIT,
        on=on,
        by=by,
        seeds=quantity.seeds,
        thousand_seed_weight_g=quantity.thousand_seed_weight_g,
        harvest_year=year,
        storage_place=place,
        part_of=part_of,
        grower=person if deposit.growing else None,
        origin_region=deposit.origin_region,
        origin_story=deposit.origin_story,
        source_name=person.display_name if person else deposit.source_name,
        growing=deposit.growing or None,
    )


def _pack(lot: Lot, packing: Packing, *, on: dt.date, by: Member) -> None:
    if packing.packets is None or packing.seeds_each is None:
        raise Refused(
            _("Say both how many packets and how many seeds go into each."), field="packets"
        )
    packets = whole(packing.packets, field="packets", most=1000)
    each = whole(packing.seeds_each, field="seeds_each")
    if packets * each > lot.loose:
        raise Refused(
            _("%(packets)s packets of %(each)s need %(all)s seeds; there are %(seeds)s.")
            % {"packets": packets, "each": each, "all": packets * each, "seeds": lot.loose},
            field="packets",
        )
    pack(lot=lot, packets=packets, seeds_each=each, on=on, by=by)


def _decide(deposit: Deposit, state: str, *, on: dt.date, by: Member, **facts: Any) -> None:
    facts |= {"state": state, "decided_by": by, "decided_at": moment(on)}
    for name, value in facts.items():
        setattr(deposit, name, value)
    deposit.save(update_fields=list(facts))


def _tell_depositor(deposit: Deposit) -> None:
    person = deposit.depositor
    if person is None or not person.is_active:
        return
    with speaking(person.language or None):
        queue_mail(
            to=person.email,
            subject=_("About the seed you offered: %(what)s") % {"what": deposit.what},
            text=_(
                "Hello %(name)s,\n\nthank you for offering %(what)s. We cannot take it in:\n\n"
                "%(reason)s\n\nPlease ask at the desk if anything is unclear.\n"
            )
            % {
                "name": person.display_name,
                "what": deposit.what,
                "reason": deposit.decision_note,
            },
            message_key=f"deposit-declined:{deposit.pk}",
        )
