"""Finding the packet that was scanned and the member whose name was typed."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Member
from accounts.names import name_key
from accounts.roles import SERVE_DESK
from library.errors import NotAllowed, Refused
from library.stock.models import Packet
from library.stock.services import find_by_code

MOST_SUGGESTIONS = 8


def packet_scanned(code: str) -> Packet:
    """The packet with the code; a lot's number is refused with what to do instead."""
    found = find_by_code(code)
    if isinstance(found, Packet):
        return found
    raise Refused(
        _("%(number)s is a lot; scan the code of one of its packets.")
        % {"number": found.number},
        field="packet",
    )


def members_named(text: str):
    """Approved members whose display name holds what was typed; never looked up by email."""
    key = name_key(text)
    if not key or "\x00" in key:  # PostgreSQL breaks when asked for a null character
        return Member.objects.none()
    named = Member.objects.active().filter(display_name_key__contains=key)
    return named.order_by("display_name_key")[:MOST_SUGGESTIONS]


def borrower_named(name: str | None, *, by: Member, field: str = "borrower") -> Member:
    """The member with exactly this display name; only the desk may name anybody else."""
    key = name_key(name or by.display_name)
    if key == by.display_name_key:
        return by
    if not by.has_perm(SERVE_DESK):
        raise NotAllowed(_("Only the desk can do this for somebody else."), field=field)
    member = Member.objects.active().filter(display_name_key=key).first()
    if member is None:
        raise Refused(
            _("No approved member is called “%(name)s”; check the spelling.") % {"name": name},
            field=field,
        )
    return member


def day_said(on: dt.date | None, *, by: Member) -> dt.date:
    """Today; the desk may write down another day on which it happened."""
    today = timezone.localdate()
    if on is None or on == today:
        return today
    if not by.has_perm(SERVE_DESK):
        raise NotAllowed(_("Only the desk can write down another day than today."), field="on")
    return on
