"""What every verb of the desk asks first, besides what the stock's own checks ask."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils.translation import gettext as _

from accounts.models import Member
from accounts.roles import COORDINATE, SERVE_DESK
from library.errors import NotAllowed, Refused
from library.stock.services.checks import fits, happened_on, in_words, moment, said, whole

__all__ = [
    "approved",
    "coordinates",
    "fits",
    "grams",
    "happened_on",
    "harvest_year",
    "in_words",
    "maybe_whole",
    "moment",
    "own_or_desk",
    "said",
    "serves_desk",
    "whole",
]

MOST_GRAMS = Decimal(100_000)
EARLIEST_HARVEST = 1900


def harvest_year(year: Any, *, on: dt.date, field: str = "harvest_year") -> int:
    """A year in which seed can have been harvested, seen from ``on``."""
    whole(year, field=field, least=-(10**12), most=10**12)
    if not EARLIEST_HARVEST <= year <= on.year:
        raise Refused(
            _("A harvest of %(year)s cannot be; give a year from %(first)s to %(last)s.")
            % {"year": year, "first": EARLIEST_HARVEST, "last": on.year},
            field=field,
        )
    return year


def maybe_whole(value: Any, *, field: str, most: int, least: int = 0) -> int | None:
    """A whole number, or None where nothing was said."""
    return None if value is None else whole(value, field=field, least=least, most=most)


def grams(weight: Any, *, field: str = "grams") -> Decimal | None:
    """A weight above 0 in steps of a milligram, or None where nothing was said."""
    if weight is None:
        return None
    try:
        told = Decimal(str(weight))
    except InvalidOperation:
        told = Decimal("NaN")
    if not told.is_finite() or not Decimal("0.001") <= told <= MOST_GRAMS:
        raise Refused(
            _("%(weight)s g cannot be; give a weight from 0.001 to %(most)s grams.")
            % {"weight": weight, "most": MOST_GRAMS},
            field=field,
        )
    return told.quantize(Decimal("0.001"))


def serves_desk(by: Member) -> None:
    if not by.has_perm(SERVE_DESK):
        raise NotAllowed(_("Only the desk can do this; please ask there."))


def own_or_desk(owner: Member | None, by: Member) -> None:
    if by != owner and not by.has_perm(SERVE_DESK):
        raise NotAllowed(_("This is another member's; only they or the desk can do this."))


def coordinates(by: Member) -> bool:
    return by.has_perm(COORDINATE)


def approved(person: Member, *, field: str) -> None:
    if not person.is_approved:
        raise Refused(
            _("%(name)s is not an approved member; a coordinator can approve them.")
            % {"name": person.display_name},
            field=field,
        )
