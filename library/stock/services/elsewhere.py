"""Lots that another library kept: the older links of a chain that goes on here."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from library.catalogue.models import Variety
from library.errors import Conflict, Refused
from library.stock.models import ForeignLot, Lot, LotParent, Origin
from library.stock.services.checks import fields_of, fits, happened_on
from library.stock.services.descent import check_harvest_order, check_same_line
from library.stock.services.numbers import next_lot_number
from library.stock.services.receiving import add_growing, links_of, locked_parents


@transaction.atomic
def record_lot_elsewhere(
    *,
    identifier: uuid.UUID,
    library: str,
    number: str,
    variety: Variety,
    origin_there: str,
    on: dt.date,
    place: str = "",
    grower_name: str = "",
    harvest_year: int | None = None,
    parents: Iterable[tuple[Lot, Any]] = (),
    origin_region: str = "",
    origin_story: str = "",
    growing: dict[str, Any] | None = None,
) -> Lot:
    """Write down a lot that another library kept, as that library told of it.

    It has a number of ours and its own identifier, holds no seed, and obeys the chain's rules:
    parents are older rows, of one line, harvested no later. ``on`` is the day the other library
    received it. Raises Conflict when the identifier is known here already.
    """
    happened_on(on)
    if origin_there == Origin.ELSEWHERE or origin_there not in Origin.values:
        raise Refused(
            _("Say how it came about there: deposit, return or bulk."), field="origin_there"
        )
    links = _links(origin_there, list(parents))
    lot = Lot(
        identifier=identifier,
        variety=variety,
        origin=Origin.ELSEWHERE,
        harvest_year=harvest_year,
        received_on=on,
        counted_as=variety.crop.counted_as,
        origin_region=fits(origin_region, field="origin_region", most=120),
        origin_story=fits(origin_story, field="origin_story", most=8000),
    )
    fields_of(lot, names=["harvest_year"])
    parent_lots = locked_parents(links)
    lot.number = next_lot_number()  # before the years are compared: see check_harvest_order
    if Lot.objects.filter(identifier=identifier).exists():
        raise Conflict(_("Lot %(number)s is known here already.") % {"number": number})
    check_same_line(lot, parent_lots)
    check_harvest_order(harvest_year, parents=parent_lots, received=on)
    lot.save(force_insert=True)
    LotParent.objects.bulk_create(
        LotParent(child=lot, parent=parent, share=share) for parent, share in links
    )
    if growing:
        add_growing(lot, growing)
    _tell_whose(
        lot,
        library=fits(library, field="library", most=120),
        number=fits(number, field="number", most=40),
        place=fits(place, field="place", most=120),
        grower_name=fits(grower_name, field="grower_name", most=120),
        origin_there=origin_there,
    )
    return lot


def _links(origin: str, parents: list[tuple[Lot, Any]]) -> list[tuple[Lot, Decimal]]:
    """As for a lot of ours; a deposit may be a part of one lot that a third library kept."""
    if origin != Origin.DEPOSIT or not parents:
        return links_of(origin, parents)
    if len(parents) > 1:
        raise Refused(_("A deposit is part of one lot, not of several."), field="parents")
    return [(parents[0][0], Decimal(1))]


def _tell_whose(lot: Lot, **facts: str) -> None:
    if not facts["library"] or not facts["number"]:
        raise Refused(_("Say which library kept the lot, and its number there."))
    ForeignLot.objects.create(lot=lot, **facts)
