"""The library's own rules for its bench, and what they ask of a new lot."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import transaction
from django.utils.translation import gettext as _

from library.errors import Refused
from library.germination.dates import first_test
from library.germination.models import BenchRules, TestDate
from library.stock.models import Lot
from library.stock.services.checks import kept_here, whole

RULES = tuple(field.name for field in BenchRules._meta.fields if not field.primary_key)


@transaction.atomic
def expect_first_test(*, lot: Lot, on: dt.date) -> TestDate:
    """Set the day of a new lot's first test, and hold the lot until then if the rules say so.

    A lot that has its day already keeps it. Its estimate follows when it is first moved or
    tested, or with the daily job: the desk does not wait for it.
    """
    kept_here(lot)
    rules = BenchRules.current()
    advice = first_test(lot, received_on=on, rules=rules)
    date, new = TestDate.objects.get_or_create(
        lot=lot,
        defaults={
            "kind": TestDate.Kind.FIRST,
            "due_on": advice.due_on,
            "rule": advice.rule,
            "inputs": dict(advice.inputs),
            "source": advice.source,
        },
    )
    if new and rules.hold_until_tested:
        Lot.objects.filter(pk=lot.pk).update(awaits_first_test=True)
        lot.awaits_first_test = True
    return date


@transaction.atomic
def save_bench_rules(*, by, **rules: Any) -> BenchRules:
    """The library's own standard, its risks, and what a test may cost; the rest stays."""
    if unknown := set(rules) - set(RULES):
        raise Refused(
            _("The bench has no rule called %(name)s.") % {"name": min(unknown)},
            field=min(unknown),
        )
    current = BenchRules.current()
    current.refresh_from_db(from_queryset=BenchRules.objects.select_for_update())
    for name, value in rules.items():
        if name != "hold_until_tested":
            least, most = limits_of(name)
            whole(value, field=name, least=least, most=most)
        setattr(current, name, value)
    current.save(update_fields=list(rules))
    return current


def limits_of(name: str) -> tuple[int, int]:
    """The least and the most that a rule of the bench may say."""
    field: Any = BenchRules._meta.get_field(name)
    least = [v.limit_value for v in field.validators if isinstance(v, MinValueValidator)]
    most = [v.limit_value for v in field.validators if isinstance(v, MaxValueValidator)]
    return max(least), min(most)
