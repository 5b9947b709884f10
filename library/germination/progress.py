"""How far a test has come: what is counted, what is to be counted next, what was corrected."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from django.db.models import Model
from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from library.germination.models import DayCount, GerminationTest, Replicate, TestAmendment
from library.germination.services.counts import COUNTS

BY_DAY = ("normal", "abnormal", "dead")


@dataclass(frozen=True)
class NextCount:
    """The count that comes next, and the day it is due."""

    is_final: bool
    on: dt.date

    def is_due(self, today: dt.date) -> bool:
        return self.on <= today

    def sentence(self, today: dt.date) -> str:
        """Such as "Final count in 3 days, on 28 November 2026"."""
        days = (self.on - today).days
        if days == 0:
            return _("Final count today") if self.is_final else _("First count today")
        words = {"days": abs(days), "on": date_format(self.on)}
        if days < 0 and self.is_final:
            late = ngettext(
                "Final count was due yesterday, on %(on)s",
                "Final count was due %(days)s days ago, on %(on)s",
                -days,
            )
        elif days < 0:
            late = ngettext(
                "First count was due yesterday, on %(on)s",
                "First count was due %(days)s days ago, on %(on)s",
                -days,
            )
        elif self.is_final:
            late = ngettext(
                "Final count tomorrow, on %(on)s",
                "Final count in %(days)s days, on %(on)s",
                days,
            )
        else:
            late = ngettext(
                "First count tomorrow, on %(on)s",
                "First count in %(days)s days, on %(on)s",
                days,
            )
        return late % words


def counts_ahead(test: GerminationTest) -> list[NextCount]:
    """The published counts of what lies in the dishes now, those still to be made.

    A group of few seeds that was sown later is counted later by as much. Needs ``replicates``
    and their ``day_counts``.
    """
    lying = open_dishes(test)
    if not lying:
        return []
    newest = max((dish.sown_on or test.started_on) for dish in lying)
    counted = max((c.on for dish in lying for c in dish.day_counts.all()), default=None)
    later = newest - test.started_on
    ahead = []
    if test.first_count_on:
        first = test.first_count_on + later
        if counted is None or counted < first:
            ahead.append(NextCount(is_final=False, on=first))
    if test.final_count_on:
        ahead.append(NextCount(is_final=True, on=test.final_count_on + later))
    return ahead


def open_dishes(test: GerminationTest) -> list[Replicate]:
    """The dishes of which seeds are still to be accounted for."""
    return [dish for dish in test.replicates.all() if dish.counted_on is None]


@dataclass(frozen=True)
class DishDays:
    """One dish: what was counted on a day, and on the others."""

    dish: Replicate
    today: DayCount | None
    others: list[DayCount]

    @property
    def counted(self) -> int:
        return sum(getattr(self.dish, name) for name in BY_DAY)

    @property
    def left(self) -> int:
        return self.dish.seeds - self.counted


def dish_days(dish: Replicate, on: dt.date) -> DishDays:
    counts = list(dish.day_counts.all())
    return DishDays(
        dish=dish,
        today=next((c for c in counts if c.on == on), None),
        others=[c for c in counts if c.on != on],
    )


def counted_by_day(test: GerminationTest) -> list[tuple[dt.date, list[tuple[int, DayCount]]]]:
    """The day counts of a test: for each day the dishes counted, by number."""
    days: dict[dt.date, list[tuple[int, DayCount]]] = defaultdict(list)
    for dish in test.replicates.all():
        for count in dish.day_counts.all():
            days[count.on].append((dish.number, count))
    return sorted(days.items())


@dataclass(frozen=True)
class Corrected:
    """An amendment as it is shown."""

    amendment: TestAmendment
    what: str
    old: str
    new: str


def in_words(amendment: TestAmendment) -> Corrected:
    old, new = amendment.old_value, amendment.new_value
    if isinstance(new, dict):
        # In the order of the form: a JSON column of PostgreSQL keeps its own.
        counted = [name for name in COUNTS if name in new]
        changed = [name for name in counted if new[name] != (old or {}).get(name)]
        number = "".join(filter(str.isdigit, amendment.field))
        what = _("Dish %(number)s") % {"number": number}
        return Corrected(amendment, what, _counts(old or {}, changed), _counts(new, changed))
    what = capfirst(_label(GerminationTest, amendment.field))
    return Corrected(amendment, what, _day(old), _day(new))


def _counts(counts: dict[str, Any], names: list[str]) -> str:
    return ", ".join(f"{_label(Replicate, name)} {counts.get(name, 0)}" for name in names)


def _label(model: type[Model], name: str) -> str:
    field: Any = model._meta.get_field(name)
    return str(field.verbose_name)


def _day(value: Any) -> str:
    try:
        return date_format(dt.date.fromisoformat(str(value)))
    except ValueError:
        return str(value)
