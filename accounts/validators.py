"""What a field of a person or garden may hold."""

from __future__ import annotations

import datetime as dt
import zoneinfo

from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _


def time_zone(value: str) -> None:
    if value and value not in zoneinfo.available_timezones():
        raise ValidationError(
            _("“%(value)s” is not a time zone. Choose one such as Europe/London."),
            params={"value": value},
        )


def month_day(value: str) -> None:
    """A day of any year as MM-DD; 02-29 is a day."""
    if not value:
        return
    try:
        dt.date.fromisoformat(f"2024-{value}")
    except ValueError as error:
        raise ValidationError(
            _("“%(value)s” is not a day of the year. Write month and day, as 05-10."),
            params={"value": value},
        ) from error


def language(value: str) -> None:
    known = [code for code, _name in settings.LANGUAGES]
    if value and value not in known:
        raise ValidationError(
            _("“%(value)s” is not a language of these pages. Choose one of: %(known)s."),
            params={"value": value, "known": ", ".join(known)},
        )
