"""The tests of the year ahead, month by month, with the seed that they will cost."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import (
    BigIntegerField,
    Case,
    Count,
    Exists,
    F,
    OuterRef,
    Q,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Cast, Least, TruncMonth
from django.utils.translation import gettext as _

from library.errors import Refused
from library.germination.method import SIZES, SMALLEST
from library.germination.models import GerminationTest, TestDate
from library.germination.pictures.axis import short_month
from library.germination.querysets import TestDateQuerySet

MONTHS_AHEAD = 12
OVERDUE = "overdue"
BAR = 100


@dataclass(frozen=True)
class Month:
    """One line of the calendar: the lots to be tested in a month, or those overdue."""

    key: str
    first: dt.date | None  # None: overdue
    lots: int
    first_tests: int
    seeds: int
    bar: int = 0  # length of its bar, 0 to 100

    @property
    def name(self) -> str:
        return short_month(self.first) if self.first else _("Overdue")

    @property
    def retests(self) -> int:
        return self.lots - self.first_tests


@dataclass(frozen=True)
class TestCalendar:
    """Overdue tests and those of the months ahead, this one included."""

    today: dt.date
    months: Sequence[Month]

    __test__ = False  # not a test class, whatever its name says to pytest

    @property
    def lots(self) -> int:
        return sum(month.lots for month in self.months)

    @property
    def seeds(self) -> int:
        return sum(month.seeds for month in self.months)

    @property
    def soon(self) -> Sequence[Month]:
        """What is overdue, and four months."""
        return self.months[:5]


def calendar(today: dt.date) -> TestCalendar:
    """The year's tests: two questions to the database, whatever there is of lots."""
    waiting = _waiting()
    late = waiting.filter(due_on__lt=today).aggregate(**_SUMS)
    ahead = waiting.filter(due_on__gte=today, due_on__lt=month_after(today, MONTHS_AHEAD + 1))
    by_month = {
        row["month"]: row
        for row in ahead.annotate(month=TruncMonth("due_on")).values("month").annotate(**_SUMS)
    }
    months = [_month(OVERDUE, None, late)]
    for number in range(MONTHS_AHEAD + 1):
        first = month_after(today, number)
        months.append(_month(f"{first:%Y-%m}", first, by_month.get(first, {})))
    return TestCalendar(today, _with_bars(months))


def due_in(key: str, *, today: dt.date) -> TestDateQuerySet:
    """The dates of one line of the calendar, soonest first. Raises Refused for no such line."""
    dates = _waiting().with_lot().order_by("due_on", "pk")
    if key == OVERDUE:
        return dates.filter(due_on__lt=today)
    first, until = _month_named(key), month_after(today, MONTHS_AHEAD)
    if not month_after(today, 0) <= first <= until:
        raise Refused(
            _("The calendar goes from %(first)s to %(last)s; choose a month of it.")
            % {"first": f"{today:%Y-%m}", "last": f"{until:%Y-%m}"},
            field="month",
        )
    return dates.filter(due_on__gte=max(first, today), due_on__lt=month_after(first, 1))


def month_after(day: dt.date, number: int) -> dt.date:
    """The first day of the month that comes so many months after that of a day."""
    count = day.year * 12 + day.month - 1 + number
    return dt.date(count // 12, count % 12 + 1, 1)


def _month_named(key: str) -> dt.date:
    try:
        return dt.date.fromisoformat(f"{key}-01")
    except ValueError:
        raise Refused(
            _("“%(month)s” is not a month; write it like 2027-03.") % {"month": key[:20]},
            field="month",
        ) from None


def _waiting() -> TestDateQuerySet:
    """Dates of lots with seed left and no test planned or running, and what a test costs."""
    left = Cast("lot__loose", BigIntegerField()) + F("lot__packed")
    planned = GerminationTest.objects.planned().filter(lot=OuterRef("lot"))
    dates = TestDate.objects.with_seed().being_tested(False).filter(~Exists(planned))
    return dates.annotate(left=left).annotate(cost=_cost())


def _cost() -> Case:
    """`suggested_size`, asked of the database: the seeds that a lot's test will cost."""
    usual = [dishes * each for dishes, each in SIZES]
    sizes = [When(left__gte=10 * seeds, then=Value(seeds)) for seeds in usual]
    few = Least(F("left"), Value(SMALLEST), output_field=BigIntegerField())
    return Case(*sizes, default=few, output_field=BigIntegerField())


_SUMS: dict[str, Any] = {
    "lots": Count("pk"),
    "first_tests": Count("pk", filter=Q(kind=TestDate.Kind.FIRST)),
    "seeds": Sum("cost"),
}


def _month(key: str, first: dt.date | None, sums: dict[str, Any]) -> Month:
    return Month(
        key, first, sums.get("lots", 0), sums.get("first_tests", 0), sums.get("seeds") or 0
    )


def _with_bars(months: list[Month]) -> list[Month]:
    most = max(month.seeds for month in months)
    return [
        Month(m.key, m.first, m.lots, m.first_tests, m.seeds, bar_of(m.seeds, most))
        for m in months
    ]


def bar_of(part: int, most: int) -> int:
    """The length of a bar beside the longest, 0 to 100; whatever there is can be seen."""
    return max(1, round(BAR * part / most)) if part else 0
