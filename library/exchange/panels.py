"""What the exchange adds to the pages of the apps below it."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from accounts.roles import COORDINATE, SERVE_DESK
from library.catalogue.models import Crop
from library.exchange.models import ChainImport
from library.hooks import Panel, register_panel
from library.stock.models import Lot


def register() -> None:
    register_panel("desk", Panel("exchange/desk_panel.html", chains_at_the_desk, order=80))
    register_panel("lot_chain_actions", Panel("exchange/chain_files.html", files_of_chain))
    register_panel("account", Panel("exchange/own_panel.html", own_data, order=90))
    register_panel("crop", Panel("exchange/crop_files.html", files_of_crop, order=90))


def chains_at_the_desk(request: HttpRequest, person=None) -> dict[str, Any] | None:
    """The way to bring a chain in, and how many wait; not while somebody is served."""
    if person is not None or not request.user.has_perm(SERVE_DESK):
        return None
    return {
        "waiting": ChainImport.objects.waiting().count(),
        "may_take_all": request.user.has_perm(COORDINATE),
    }


def own_data(request: HttpRequest, person=None) -> dict[str, Any]:
    """The way to one's own archive."""
    return {}


def files_of_chain(request: HttpRequest, lot: Lot) -> dict[str, Any]:
    """The ways to take a chain along."""
    return {"lot": lot}


def files_of_crop(request: HttpRequest, crop: Crop) -> dict[str, Any]:
    """The ways to take the list of lots along: of the crop, and of all."""
    return {"crop": crop}
