"""What provenance adds to the pages of a lot and of a packet."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from accounts.roles import BORROW, COORDINATE
from library.hooks import Panel, register_panel
from library.provenance.chain import chain_up
from library.provenance.purity import cautions_about
from library.provenance.story import overview
from library.provenance.warnings import warnings_of
from library.stock.models import Lot, Packet


def register() -> None:
    register_panel("lot", Panel("provenance/panel_warnings.html", warnings_of_lot, order=5))
    register_panel(
        "packet", Panel("provenance/panel_warnings.html", warnings_of_packet, order=5)
    )
    register_panel("lot_chain", Panel("provenance/story/lot_link.html", chain_in_short))
    register_panel(
        "packet", Panel("provenance/story/packet_link.html", chain_of_packet, order=80)
    )


def warnings_of_lot(request: HttpRequest, lot: Lot) -> dict[str, Any] | None:
    """The reports that warn of the lot; for a member also the way to make one."""
    warnings = warnings_of(lot)
    may_report = request.user.has_perm(BORROW)
    if not warnings and not may_report:
        return None
    return {
        "lot": lot,
        "warnings": warnings,
        "cautions": cautions_about([lot] if warnings else []),
        "may_report": may_report,
        "coordinates": request.user.has_perm(COORDINATE),
    }


def warnings_of_packet(request: HttpRequest, packet: Packet) -> dict[str, Any] | None:
    """What its lot's page warns of."""
    return warnings_of_lot(request, packet.lot)


def chain_in_short(request: HttpRequest, lot: Lot) -> dict[str, Any]:
    """A few sentences and the way to the story; five queries, however long the chain."""
    return {"lot": lot, "overview": overview(chain_up(lot))}


def chain_of_packet(request: HttpRequest, packet: Packet) -> dict[str, Any]:
    """The way to the story of a packet's lot."""
    return {"lot": packet.lot}
