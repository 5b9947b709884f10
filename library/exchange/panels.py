"""What the exchange adds to the pages of the apps below it."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from accounts.roles import SERVE_DESK
from library.exchange.models import ChainImport
from library.hooks import Panel, register_panel


def register() -> None:
    register_panel("desk", Panel("exchange/desk_panel.html", chains_at_the_desk, order=80))


def chains_at_the_desk(request: HttpRequest, person=None) -> dict[str, Any] | None:
    """The way to bring a chain in, and how many wait; not while somebody is served."""
    if person is not None or not request.user.has_perm(SERVE_DESK):
        return None
    return {"waiting": ChainImport.objects.waiting().count()}
