"""What the bench adds to the page of a lot, and to the desk."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from accounts.roles import COORDINATE, SERVE_DESK
from library.germination.dates import DISAGREE
from library.germination.models import (
    BenchRules,
    GerminationTest,
    LotEstimate,
    PlannedSowing,
    TestDate,
)
from library.germination.pictures.reading import small_curve_of
from library.germination.results import result_of
from library.germination.words import alive
from library.stock.models import Lot

State = GerminationTest.State


def tests_of_lot(request: HttpRequest, lot: Lot) -> dict[str, Any] | None:
    """The lot page's panel: how much is alive, the next test and why, and the tests so far;
    nothing for a lot that another library kept.
    """
    if lot.is_elsewhere:
        return None
    rules = BenchRules.current()
    tests = list(lot.germination_tests.with_results())
    results = [(test, result_of(test, rules=rules)) for test in tests]
    date = TestDate.objects.filter(lot=lot).first()
    estimate = LotEstimate.objects.filter(lot=lot).first()
    desk, today = request.user.has_perm(SERVE_DESK), timezone.localdate()
    picture = small_curve_of(lot, results=results, rules=rules, date=date, for_desk=desk)
    return {
        "lot": lot,
        "estimate": estimate,
        "alive": alive(picture.now, standard_percent=rules.standard_percent) if picture else "",
        "date": date,
        "picture": picture,
        "running": _first(tests, State.RUNNING),
        "planned": _first(tests, State.PLANNED),
        "tests": results,
        # What it is wanted for may name somebody.
        "sowings": PlannedSowing.objects.filter(lot=lot).to_come(today) if desk else [],
        "desk": desk,
        "coordinator": request.user.has_perm(COORDINATE),
        "again": DISAGREE,
    }


def living_seed_of(request: HttpRequest, *subject: Any) -> dict[str, Any] | None:
    """A link to the living seed of everything, or of the crop whose page it is."""
    crop = subject[0] if subject else None
    return None if crop and crop.is_counted_in_plant_parts else {"crop": crop}


def _first(tests: list[GerminationTest], state: str) -> GerminationTest | None:
    return next((test for test in tests if test.state == state), None)


def tests_for_desk(request: HttpRequest, *subject: Any) -> dict[str, Any] | None:
    """The desk's panel: how many tests lie on the window sill."""
    running = GerminationTest.objects.running().count()
    return {"running": running} if running else None
