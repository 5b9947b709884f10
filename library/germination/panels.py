"""What the bench adds to the page of a lot."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from accounts.roles import SERVE_DESK
from library.germination.dates import DISAGREE
from library.germination.models import BenchRules, TestDate
from library.germination.results import result_of
from library.stock.models import Lot


def tests_of_lot(request: HttpRequest, lot: Lot) -> dict[str, Any]:
    """The lot page's panel: tests, the next day, and why that day."""
    rules = BenchRules.current()
    tests = list(lot.germination_tests.with_results())
    return {
        "lot": lot,
        "date": TestDate.objects.filter(lot=lot).first(),
        "tests": [(test, result_of(test, rules=rules)) for test in tests],
        "desk": request.user.has_perm(SERVE_DESK),
        "again": DISAGREE,
    }
