"""Days of the year and steps in time that the other rules share."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date, timedelta

DAYS_IN_YEAR = 365.25
_EARLIEST, _LATEST = date(1800, 1, 1), date(2500, 12, 31)


@dataclass(frozen=True, order=True)
class MonthDay:
    """A day of the year without a year, such as the mean day of the last spring frost.

    Ranges: month 1 to 12, day 1 to the length of that month; 29 February is a day like any
    other and stands for 28 February in a year without it. Raises ValueError outside them.
    """

    month: int
    day: int

    def __post_init__(self) -> None:
        if not 1 <= self.month <= 12:
            raise ValueError(f"A month is a number from 1 to 12, not {self.month}.")
        longest = calendar.monthrange(2000, self.month)[1]
        if not 1 <= self.day <= longest:
            name = calendar.month_name[self.month]
            raise ValueError(f"{name} has the days 1 to {longest}, not {self.day}.")

    def __str__(self) -> str:
        return f"{self.month:02d}-{self.day:02d}"

    @classmethod
    def of(cls, day: date) -> MonthDay:
        """Return the day of the year on which a date falls."""
        return cls(day.month, day.day)

    @classmethod
    def parse(cls, text: str) -> MonthDay:
        """Read ``MM-DD``, such as ``05-20`` for 20 May. Raises ValueError for anything else."""
        month, hyphen, day = text.strip().partition("-")
        if not (hyphen and month.isdecimal() and day.isdecimal()):
            raise ValueError(
                f"A day of the year is written MM-DD, such as 05-20 for 20 May, not “{text}”."
            )
        return cls(int(month), int(day))

    def in_year(self, year: int) -> date:
        """Return this day in a year; 29 February becomes the 28th where there is none."""
        longest = calendar.monthrange(year, self.month)[1]
        return date(year, self.month, min(self.day, longest))

    def on_or_after(self, day: date) -> date:
        """Return the first such day that is not before the given one."""
        this_year = self.in_year(day.year)
        return this_year if this_year >= day else self.in_year(day.year + 1)

    def on_or_before(self, day: date) -> date:
        """Return the last such day that is not after the given one."""
        this_year = self.in_year(day.year)
        return this_year if this_year <= day else self.in_year(day.year - 1)


def add_years(day: date, years: float) -> date:
    """Return the day that many years later; whole years keep the day of the year, parts count
    365.25 days.

    Range: years 0 to 400. Raises ValueError outside it.
    """
    if not 0 <= years <= 400:
        raise ValueError(f"A step in time is 0 to 400 years, not {years}.")
    whole = int(years)
    return MonthDay.of(day).in_year(day.year + whole) + timedelta(
        days=round((years - whole) * DAYS_IN_YEAR)
    )


def checked_day(day: date) -> date:
    """Return the day, or raise ValueError when it cannot be meant (before 1800 or after
    2500).
    """
    if not _EARLIEST <= day <= _LATEST:
        raise ValueError(
            f"The date {day.isoformat()} cannot be meant; give one from {_EARLIEST.year} "
            f"to {_LATEST.year}."
        )
    return day


def checked_year(year: int) -> int:
    """Return the year, or raise ValueError when it cannot be meant."""
    first, last = _EARLIEST.year, _LATEST.year
    if not first <= year <= last:
        raise ValueError(f"The year {year} cannot be meant; give one from {first} to {last}.")
    return year
