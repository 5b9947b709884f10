"""What a picture of a lot's viability shows, as plain values: no lot, no database."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

DAYS_IN_YEAR = 365.25


@dataclass(frozen=True, kw_only=True)
class Point:
    """The estimate on one day, percent alive; ``chance`` that of the standard, percent."""

    on: dt.date
    low: float
    median: float
    high: float
    chance: float


@dataclass(frozen=True, kw_only=True)
class TestMark:
    """A closed test: what germinated, in percent, with its exact 95 % interval."""

    on: dt.date
    percent: float
    low: float
    high: float
    germinated: int
    sown: int
    believed: bool = True  # not when its dishes disagree
    number: int | None = None

    __test__ = False  # not a test class, whatever its name says to pytest


class Mark(StrEnum):
    """A day that is marked by a line from top to bottom."""

    RETEST = "retest"
    TODAY = "today"
    SOWING = "sowing"


@dataclass(frozen=True, kw_only=True)
class DayMark:
    """A day that matters: ``short`` stands in the picture, ``what`` in the table."""

    on: dt.date
    mark: Mark
    short: str
    what: str


@dataclass(frozen=True, kw_only=True)
class Stay:
    """One place in which the lot lay from a day on; ``short`` stands in the picture."""

    since: dt.date
    short: str
    place: str
    temperature_c: float
    moisture_percent: float
    assumed: bool = False


@dataclass(frozen=True, kw_only=True)
class CurveFacts:
    """All that the picture of one lot shows."""

    start: dt.date
    end: dt.date
    today: dt.date
    standard: float
    points: Sequence[Point]
    tests: Sequence[TestMark] = ()
    marks: Sequence[DayMark] = ()
    stays: Sequence[Stay] = ()


def picture_end(start: dt.date, today: dt.date, others: Sequence[dt.date]) -> dt.date:
    """Where the time axis ends: a fifth beyond the last day that matters, 2 years at least."""
    last = max([start, today, *others])
    beyond = max(2 * DAYS_IN_YEAR, (last - start).days / 5)
    return last + min(dt.timedelta(days=round(beyond)), dt.date.max - last)
