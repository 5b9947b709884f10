"""Whether what was typed can be meant: whole counts, days that were, reasons given.

Each check returns the value it was given, or refuses with a sentence.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Model
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from library.errors import Refused

MOST_SEEDS = 100_000_000  # in one movement: half a tonne of the smallest seed
REASON_LENGTH = 250


def plain(number: Decimal) -> str:
    """A decimal as a person writes it: no zeros at the end, no exponent."""
    return format(number.normalize(), "f")


def in_words(day: dt.date) -> str:
    """A day as the pages write it, for a sentence that a person reads."""
    return date_format(day, "DATE_FORMAT")


def whole(value: Any, *, field: str, least: int = 1, most: int = MOST_SEEDS) -> int:
    """A whole number from ``least`` to ``most``; a count that is not is refused."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise Refused(
            _("“%(value)s” is not a whole number; seed is counted in whole numbers.")
            % {"value": value},
            field=field,
        )
    if not least <= value <= most:
        raise Refused(
            _("%(value)s is out of range: give a whole number from %(least)s to %(most)s.")
            % {"value": value, "least": least, "most": most},
            field=field,
        )
    return value


def happened_on(
    on: Any, *, since: dt.date | None = None, since_what: str = "", field: str = "on"
) -> dt.date:
    """A day that has come (anywhere on earth), and not before ``since``."""
    if not isinstance(on, dt.date) or isinstance(on, dt.datetime):
        raise Refused(_("“%(on)s” is not a day.") % {"on": on}, field=field)
    if on > timezone.localdate() + dt.timedelta(days=1):
        raise Refused(
            _("%(on)s is still to come; give a day up to today.") % {"on": in_words(on)},
            field=field,
        )
    if since and on < since:
        raise Refused(
            _("%(on)s is too early: %(what)s was %(since)s.")
            % {"on": in_words(on), "what": since_what, "since": in_words(since)},
            field=field,
        )
    return on


def day_for(lot, on: Any, *, field: str = "on") -> dt.date:
    """A day on which something can have happened to a lot: not before it was received."""
    what = _("the day the lot was received")
    return happened_on(on, since=lot.received_on, since_what=what, field=field)


def kept_here(lot) -> None:
    """Refuse a lot that another library kept: no seed of it is here to be handled."""
    if lot.is_elsewhere:
        raise Refused(
            _("Lot %(lot)s was kept by another library; no seed of it is here.")
            % {"lot": lot.number},
            field="lot",
        )


def day_here(lot, on: Any, *, field: str = "on") -> dt.date:
    """``day_for`` a lot whose seed is handled: one of this library."""
    kept_here(lot)
    return day_for(lot, on, field=field)


def moment(on: dt.date) -> dt.datetime:
    """Now, if ``on`` is today; else noon of that day, for what is written down later."""
    now = timezone.localtime()
    if on == now.date():
        return now
    return now.replace(year=on.year, month=on.month, day=on.day, hour=12, minute=0, second=0)


def said(text: Any, *, field: str = "reason", most: int = REASON_LENGTH) -> str:
    """Words that must be there."""
    text = fits(text, field=field, most=most)
    if not text:
        raise Refused(_("Say why, in a few words; it is kept with the record."), field=field)
    return text


def fits(text: Any, *, field: str, most: int = REASON_LENGTH) -> str:
    """Words that may be there, and fit."""
    text = str(text or "").strip()
    if "\x00" in text:  # PostgreSQL cannot keep it
        raise Refused(_("The text has a character that cannot be kept."), field=field)
    if len(text) > most:
        raise Refused(
            _("The text has %(length)s characters; at most %(most)s fit.")
            % {"length": len(text), "most": most},
            field=field,
        )
    return text


def fields_of(instance: Model, *, names: list[str], prefix: str = "") -> None:
    """Refuse the first of the named fields that the model finds wrong."""
    leave_out = {field.name for field in instance._meta.fields} - set(names)
    try:
        instance.clean_fields(exclude=leave_out)
    except ValidationError as error:
        field, messages = next(iter(error.message_dict.items()))
        about: Any = instance._meta.get_field(field)
        words = {"label": about.verbose_name, "problem": messages[0]}
        sentence = _("%(label)s: %(problem)s") % words
        raise Refused(sentence[:1].upper() + sentence[1:], field=prefix + field) from None
