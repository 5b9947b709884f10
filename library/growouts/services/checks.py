"""What every verb of the grow-outs asks first."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from accounts.roles import COORDINATE
from library.errors import Conflict, NotAllowed, Refused
from library.growouts.models import Season

FIRST_YEAR, LAST_YEAR = 1900, 2200


def coordinates(by: Member) -> None:
    if not by.has_perm(COORDINATE):
        raise NotAllowed(_("Only a coordinator can do this."))


def own_or_coordinator(member: Member, by: Member) -> None:
    if by.pk != member.pk and not by.has_perm(COORDINATE):
        raise NotAllowed(_("Only the member themselves or a coordinator can do this."))


def approved(member: Member) -> None:
    if not member.is_approved:
        raise Refused(
            _("%(name)s is not a member of the library.") % {"name": member.display_name}
        )


def locked_member(member: Member) -> Member:
    """The member as they are now, approved and locked: their gardens stay while this lasts.

    Lock members before seasons.
    """
    rows = Member.objects.select_for_update(of=("self",), no_key=True)
    member = rows.get(pk=member.pk)
    approved(member)
    return member


def locked_open(season: Season) -> Season:
    """The season as it is now, locked; Conflict when it is over."""
    season = Season.objects.select_for_update(no_key=True).get(pk=season.pk)
    if season.is_over:
        raise Conflict(_("The season of %(year)s is over.") % {"year": season.year})
    return season


def a_year(year: Any, *, field: str = "year") -> int:
    if isinstance(year, bool) or not isinstance(year, int):
        raise Refused(_("A year is a whole number."), field=field)
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise Refused(
            _("A year lies from %(first)s to %(last)s.")
            % {"first": FIRST_YEAR, "last": LAST_YEAR},
            field=field,
        )
    return year


def number(value: Any, *, field: str, least: int, most: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise Refused(
            _("Give a whole number from %(least)s to %(most)s.")
            % {"least": least, "most": most},
            field=field,
        )
    return value


def room(value: Any, *, field: str, least: Any = Decimal("0.1"), most: int = 99_999) -> Decimal:
    """Square metres, to a tenth."""
    try:
        metres = Decimal(str(value))
    except InvalidOperation as error:
        raise Refused(_("Give the room in square metres."), field=field) from error
    # Only what fits can be rounded, and what is rounded to nothing is none.
    fits = metres.is_finite() and abs(metres) <= most
    rounded = metres.quantize(Decimal("0.1")) if fits else None
    if rounded is None or not least <= rounded <= most:
        raise Refused(
            _("Give the room in square metres, from %(least)s to %(most)s.")
            % {"least": least, "most": most},
            field=field,
        )
    return rounded


def a_day(on: Any, *, field: str = "on") -> dt.date:
    if not isinstance(on, dt.date):
        raise Refused(_("Give a day."), field=field)
    return on


def own_garden(garden: Garden, member: Member, *, field: str = "garden") -> Garden:
    if garden.member_id != member.pk:
        raise Refused(_("That is not a garden of this member."), field=field)
    return garden
