"""What a household's plans add to lower pages: at home and with one's own seed."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from accounts.roles import BORROW
from library.hooks import Panel, register_panel
from library.household.models import SavingPlan

MOST_SHOWN = 3


def register() -> None:
    register_panel("home", Panel("household/panel_home.html", home_panel, order=45))
    register_panel("my-seed", Panel("household/panel_my_seed.html", home_panel, order=40))


def home_panel(request: HttpRequest, _subject: Any = None) -> dict[str, Any] | None:
    """The lists of this season and the next, or that one could be made."""
    user = request.user
    if not user.is_authenticated or not user.has_perm(BORROW):
        return None
    this_year = timezone.localdate().year
    plans = SavingPlan.objects.of(user).filter(year__gte=this_year).with_details()
    return {"plans": list(plans.order_by("year", "pk")[:MOST_SHOWN])}
