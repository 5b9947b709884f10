"""Axes: where a day and a percentage lie in a picture, and the round ones that are named."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import pgettext

MONTH_STEPS = (1, 3, 6)
YEAR_STEPS = (1, 2, 5, 10, 20, 50, 100)
PERCENT_TICKS = (0, 20, 40, 60, 80, 100)


@dataclass(frozen=True)
class Frame:
    """The part of a picture in which the curve is drawn: pixels, y from the top down."""

    left: float
    right: float
    top: float
    bottom: float
    start: dt.date
    end: dt.date

    def x(self, on: dt.date) -> float:
        """Where a day lies; days outside the picture lie on its edge."""
        inside = min(max(on, self.start), self.end)
        share = (inside - self.start).days / (self.end - self.start).days
        return round(self.left + share * (self.right - self.left), 2)

    def y(self, percent: float) -> float:
        """Where a percentage lies, 0 at the bottom."""
        inside = min(max(percent, 0.0), 100.0)
        return round(self.bottom - inside / 100 * (self.bottom - self.top), 2)

    @property
    def width(self) -> float:
        return self.right - self.left


@dataclass(frozen=True)
class Ticks:
    """Round days, a whole number of months apart."""

    days: tuple[dt.date, ...]
    months_apart: int

    @property
    def are_years(self) -> bool:
        return self.months_apart % 12 == 0


def short_month(day: dt.date) -> str:
    """A month as it is named where there is little room, such as Jan 2026."""
    return date_format(day, pgettext("short month and year, as a date format", "M Y"))


def time_ticks(
    start: dt.date, end: dt.date, *, width: float, month_width: float, year_width: float
) -> Ticks:
    """The most round days from start to end whose names fit side by side.

    ``width`` is the length of the axis, the others those of a name such as "Jan 2026" and
    "2026", all in pixels. Years are the multiples of the step (2020, 2025 …), months those of
    the calendar (January, April …).
    """
    days = max(1, (end - start).days)
    for months in [*MONTH_STEPS, *(12 * years for years in YEAR_STEPS)]:
        apart = months * 30.4375 * width / days
        if apart >= (year_width if months % 12 == 0 else month_width):
            break
    return Ticks(tuple(_round_days(start, end, months)), months)


def _round_days(start: dt.date, end: dt.date, months: int) -> Iterator[dt.date]:
    first = start.year * 12 + start.month - 1
    for count in range(first - first % months, end.year * 12 + end.month, months):
        # A date of year 0 or of year 10000 cannot be written down.
        if not dt.MINYEAR * 12 <= count < dt.MAXYEAR * 12:
            continue
        day = dt.date(count // 12, count % 12 + 1, 1)
        if start <= day <= end:
            yield day
