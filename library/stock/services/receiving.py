"""New lots: seed brought in, seed returned, lots bulked into one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from library import hooks
from library.catalogue.models import Variety
from library.errors import Conflict, Refused
from library.stock.models import (
    Growing,
    Keeping,
    Lot,
    LotParent,
    Movement,
    Origin,
    StoragePlace,
)
from library.stock.services.checks import day_here, fields_of, fits, happened_on, plain, whole
from library.stock.services.descent import check_harvest_order, check_same_line
from library.stock.services.ledger import record
from library.stock.services.numbers import next_lot_number

_MILLIONTHS = 1_000_000  # shares are kept with six decimals
_SHARE_SLACK = Decimal("0.001")
_COUNTS = (
    "plants_sown",
    "plants_stood",
    "plants_gave_seed",
    "pollen_plants",
    "isolation_distance_m",
)
_KIND_OF = {
    Origin.DEPOSIT: Movement.Kind.RECEIVED,
    Origin.RETURN: Movement.Kind.RETURNED,
    Origin.BULK: Movement.Kind.BULKED_IN,
}


@transaction.atomic
def receive_lot(
    *,
    variety: Variety,
    origin: str,
    on: dt.date,
    by,
    seeds: int,
    kind: str | None = None,
    harvest_year: int | None = None,
    parents: Iterable[tuple[Lot, Any]] = (),
    counted_as: str | None = None,
    thousand_seed_weight_g: Decimal | None = None,
    moisture_percent: Decimal | None = None,
    storage_place: StoragePlace | None = None,
    custodian=None,
    grower=None,
    origin_region: str = "",
    origin_story: str = "",
    source_name: str = "",
    growing: dict[str, Any] | None = None,
    awaits_first_test: bool = False,
    reason: str = "",
    part_of: Lot | None = None,
) -> Lot:
    """Take seed in as a new lot: its number, its parents, how it grew, its first movement.

    ``part_of`` is for a deposit whose chain is known: the lot, kept by another library or once
    by us, from whose jar this seed was taken. It becomes the one parent, with nothing grown
    in between.
    """
    whole(seeds, field="seeds")
    happened_on(on)
    if origin == Origin.ELSEWHERE:
        raise Refused(_("A lot of another library brings no seed."), field="origin")
    links = links_of(origin, list(parents))
    if part_of is not None:
        links, harvest_year = _taken_from(part_of, origin, harvest_year)
    lot = Lot(
        variety=variety,
        origin=origin,
        harvest_year=harvest_year,
        received_on=on,
        counted_as=counted_as or variety.crop.counted_as,
        thousand_seed_weight_g=thousand_seed_weight_g,
        moisture_percent=moisture_percent,
        storage_place=storage_place,
        custodian=custodian,
        grower=grower,
        origin_region=fits(origin_region, field="origin_region", most=120),
        origin_story=fits(origin_story, field="origin_story", most=8000),
        source_name=fits(source_name, field="source_name", most=120),
        awaits_first_test=awaits_first_test,
    )
    _check_lot(lot)
    parent_lots = locked_parents(links)
    lot.number = next_lot_number()  # before the years are compared: see check_harvest_order
    check_same_line(lot, parent_lots)
    check_harvest_order(harvest_year, parents=parent_lots, received=on)
    lot.save(force_insert=True)
    LotParent.objects.bulk_create(
        LotParent(child=lot, parent=parent, share=share) for parent, share in links
    )
    if growing is not None:
        add_growing(lot, growing)
    Keeping.objects.create(
        lot=lot, storage_place=storage_place, custodian=custodian, since=on, recorded_by=by
    )
    kind = kind or _KIND_OF[Origin(origin)]
    record(lot=lot, kind=kind, on=on, by=by, loose=seeds, reason=fits(reason, field="reason"))
    lot.loose = seeds
    return lot


def _check_lot(lot: Lot) -> None:
    names = ["origin", "harvest_year", "counted_as", "thousand_seed_weight_g"]
    fields_of(lot, names=[*names, "moisture_percent"])
    if lot.thousand_seed_weight_g is not None and lot.thousand_seed_weight_g <= 0:
        raise Refused(
            _("A thousand seeds weigh more than nothing."), field="thousand_seed_weight_g"
        )


def links_of(origin: str, parents: list[tuple[Lot, Any]]) -> list[tuple[Lot, Decimal]]:
    """The parents with shares that sum to 1 exactly, or a refusal."""
    if origin == Origin.DEPOSIT and parents:
        raise Refused(
            _("A deposit starts a chain; what was grown from a loan is a return."),
            field="parents",
        )
    if origin != Origin.DEPOSIT and not parents:
        raise Refused(_("Say which lot this seed came from."), field="parents")
    if len({lot.pk for lot, _share in parents}) != len(parents):
        raise Refused(_("The same parent lot is named twice."), field="parents")
    if not parents:
        return []
    shares = [_share(share) for _lot, share in parents]
    total = sum(shares, Decimal(0))
    if abs(total - 1) > _SHARE_SLACK:
        raise Refused(
            _("The parents' shares sum to %(sum)s; they must sum to 1.")
            % {"sum": plain(total)},
            field="parents",
        )
    return list(zip((lot for lot, _share in parents), split_shares(shares), strict=True))


def _taken_from(
    lot: Lot, origin: str, year: int | None
) -> tuple[list[tuple[Lot, Decimal]], int | None]:
    """The one link of seed that came out of another jar, and the harvest year of that jar."""
    if origin != Origin.DEPOSIT:
        raise Refused(_("Only a deposit can be part of a lot kept elsewhere."), field="part_of")
    if None not in (year, lot.harvest_year) and year != lot.harvest_year:
        raise Refused(
            _("Lot %(lot)s was harvested in %(year)s, and so was every part of it.")
            % {"lot": lot.number, "year": lot.harvest_year},
            field="harvest_year",
        )
    return [(lot, Decimal(1))], year if lot.harvest_year is None else lot.harvest_year


def _share(value: Any) -> Decimal:
    try:
        share = Decimal(str(value))
    except InvalidOperation:
        share = Decimal("NaN")
    if not share.is_finite() or not 0 < share <= 1:
        raise Refused(
            _("“%(share)s” is not a share; give a part of 1, such as 0.5.") % {"share": value},
            field="parents",
        )
    return share


def split_shares(amounts: Sequence[int | Decimal]) -> list[Decimal]:
    """Shares in proportion to ``amounts``, in millionths that sum to 1 exactly.

    The largest remainders get the millionths that rounding left; none is less than one.
    """
    total = sum(amounts)
    if total <= 0 or min(amounts) <= 0:
        raise Refused(_("Each part must be more than nothing."), field="parents")
    exact = [Decimal(amount) * _MILLIONTHS / Decimal(total) for amount in amounts]
    floors = [max(1, int(part)) for part in exact]
    left = _MILLIONTHS - sum(floors)
    by_remainder = sorted(range(len(exact)), key=lambda i: floors[i] - exact[i])
    for i in range(abs(left)):
        at = by_remainder[i % len(exact)] if left > 0 else floors.index(max(floors))
        floors[at] += 1 if left > 0 else -1
    return [Decimal(part) / _MILLIONTHS for part in floors]


def locked_parents(links: list[tuple[Lot, Decimal]]) -> list[Lot]:
    """The parents as they are now, held so that nobody amends them meanwhile."""
    if not links:
        return []
    keys = [lot.pk for lot, _share in links]
    rows = Lot.objects.select_for_update(no_key=True, of=("self",)).filter(pk__in=keys)
    return list(rows.select_related("variety__crop").order_by("pk"))


def add_growing(lot: Lot, facts: dict[str, Any]) -> None:
    growing = Growing(lot=lot, **facts)
    check_growing(growing, list(facts))
    growing.save(force_insert=True)


def check_growing(growing: Growing, names: list[str]) -> None:
    """Refuse growing facts that cannot be."""
    for name in _COUNTS:
        value = getattr(growing, name)
        if value is not None:
            whole(value, field=f"growing.{name}", least=0)
    fields_of(growing, names=[n for n in names if n != "garden"], prefix="growing.")
    stood, gave = growing.plants_stood, growing.plants_gave_seed
    if stood is not None and gave is not None and gave > stood:
        raise Refused(
            _("%(gave)s plants gave seed, but only %(stood)s stood.")
            % {"gave": gave, "stood": stood},
            field="growing.plants_gave_seed",
        )


@transaction.atomic
def bulk_lots(
    *,
    lots: Sequence[tuple[Lot, int]],
    on: dt.date,
    by,
    storage_place: StoragePlace | None = None,
) -> Lot:
    """Mix seed from the jars of several lots of one variety into one new lot.

    Its harvest year is the latest of theirs, unknown where one is unknown; it waits for its
    first test when one of them does.
    """
    parts = sorted(((lot, whole(seeds, field="seeds")) for lot, seeds in lots), key=_by_key)
    _check_bulk([lot for lot, _seeds in parts], on)
    for lot, seeds in parts:
        record(lot=lot, kind=Movement.Kind.BULKED_OUT, on=on, by=by, loose=-seeds)
    fresh = list(Lot.objects.filter(pk__in=[lot.pk for lot, _seeds in parts]))
    years = [lot.harvest_year for lot in fresh if lot.harvest_year is not None]
    shares = split_shares([seeds for _lot, seeds in parts])
    bulk = receive_lot(
        variety=parts[0][0].variety,
        origin=Origin.BULK,
        on=on,
        by=by,
        seeds=sum(seeds for _lot, seeds in parts),
        harvest_year=max(years) if len(years) == len(fresh) else None,
        parents=[(lot, share) for (lot, _seeds), share in zip(parts, shares, strict=True)],
        counted_as=parts[0][0].counted_as,
        storage_place=storage_place,
        awaits_first_test=any(lot.awaits_first_test for lot in fresh),
    )
    hooks.tell("lots_bulked", lot=bulk)
    return bulk


def _by_key(part: tuple[Lot, int]) -> int:
    return part[0].pk


def _check_bulk(lots: list[Lot], on: dt.date) -> None:
    if len({lot.pk for lot in lots}) < 2:
        raise Refused(_("Bulking needs at least two different lots."), field="lots")
    if len({lot.pk for lot in lots}) != len(lots):
        raise Refused(_("The same lot is named twice."), field="lots")
    if len({(lot.variety_id, lot.counted_as) for lot in lots}) > 1:
        raise Refused(_("Only lots of one variety can be bulked."), field="lots")
    for lot in lots:
        day_here(lot, on)
        if Lot.objects.filter(pk=lot.pk).exclude(withheld_reason="").exists():
            raise Conflict(
                _("Lot %(lot)s is withheld; release it before bulking.") % {"lot": lot.number},
                field="lots",
            )
