"""What commitments add to other pages: the loan, the variety, the season."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from accounts.roles import BORROW, COORDINATE
from library.catalogue.models import Variety
from library.growouts.commitments.listing import listed, with_late_steps
from library.growouts.models import Commitment, Season
from library.hooks import Panel, register_panel
from library.lending.models import Loan

SHOWN = 12
FOLDER = "growouts/commitments"


def register() -> None:
    register_panel("loan", Panel(f"{FOLDER}/panel_loan.html", loan_panel, order=20))
    register_panel("variety", Panel(f"{FOLDER}/panel_variety.html", variety_panel, order=40))
    register_panel("season", Panel(f"{FOLDER}/panel_season.html", season_panel, order=30))


def loan_panel(request: HttpRequest, loan: Loan) -> dict[str, Any] | None:
    """That the packet was lent under a promise; with a way there for who may see it."""
    rows = Commitment.objects.filter(lent__loan=loan).select_related("season")
    commitment = rows.first()
    if commitment is None:
        return None
    user = request.user
    return {
        "commitment": commitment,
        "may_see": commitment.grower_id == user.pk or user.has_perm(COORDINATE),
    }


def variety_panel(request: HttpRequest, variety: Variety) -> dict[str, Any] | None:
    """Who grows it in seasons that are not over, to members; offers to coordinators only."""
    user = request.user
    if not user.is_authenticated or not user.has_perm(BORROW):
        return None
    leads = user.has_perm(COORDINATE)
    rows = Commitment.objects.filter(variety=variety, season__closed_on=None)
    rows = rows.promised() | rows.waiting() if leads else rows.promised()
    found = list(rows.select_related("season", "grower").order_by("season__year", "pk")[:SHOWN])
    return {"commitments": found, "leads": leads, "reader": user} if found else None


def season_panel(request: HttpRequest, season: Season) -> dict[str, Any] | None:
    """How many wait, grow, are late or failed, and those that somebody has to see to."""
    user = request.user
    if not user.is_authenticated or not user.has_perm(COORDINATE):
        return None
    today, rows = timezone.localdate(), season.commitments.all()
    late = with_late_steps(rows, today)
    failed = rows.not_taken_over()
    return {
        "season": season,
        "waiting": rows.waiting().count(),
        "growing": rows.growing().count(),
        "late": list(listed(late.order_by("pk")[:SHOWN], on=today)),
        "late_count": late.count(),
        "failed": list(failed.select_related("variety", "grower").order_by("pk")[:SHOWN]),
        "failed_count": failed.count(),
    }
