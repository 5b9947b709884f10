"""What lending adds to the pages of the apps below it."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.roles import COORDINATE, SERVE_DESK
from library.catalogue.models import Variety
from library.germination.advice import packet_seeds
from library.hooks import Panel, register_panel
from library.lending.forms.sowing import SowingForm
from library.lending.models import Deposit, Loan, Return
from library.lending.services import reserve_of, sowing_advice_for, why_not_lend
from library.lending.services.reserve import Reserve
from library.stock.models import Lot, Packet

SHOWN = 6
MOST_PACKETS = 200


def register() -> None:
    register_panel("lot", Panel("lending/panel_lot.html", lot_panel, order=20))
    register_panel("packet", Panel("lending/panel_packet.html", packet_panel, order=20))
    register_panel("packet", Panel("lending/panel_sowing.html", sowing_panel, order=30))
    register_panel("label", Panel("germination/includes/sowing_text.html", label_panel))
    register_panel("pack", Panel("lending/panel_pack.html", pack_panel))
    register_panel("variety", Panel("lending/panel_variety.html", variety_panel, order=5))
    register_panel("home", Panel("lending/panel_home.html", home_panel, order=20))
    register_panel("bench", Panel("lending/panel_bench.html", bench_panel, order=60))


def lot_panel(request: HttpRequest, lot: Lot) -> dict[str, Any] | None:
    """The lot's packets, each with a button; or why there is none."""
    on_shelf = lot.packets.on_shelf()
    packets = list(on_shelf.order_by("seeds", "code")[:SHOWN])
    if not packets:
        return None
    more = on_shelf.count() - len(packets)
    return _standing(request, packets[0]) | {"packets": packets, "more": more}


def packet_panel(request: HttpRequest, packet: Packet) -> dict[str, Any] | None:
    """Borrowing the packet, or its loan for those who may see it."""
    if packet.state == Packet.State.LENT:
        loan = Loan.objects.visible_to(request.user).open().filter(packet=packet).first()
        return {"loan": loan} if loan else None
    if packet.state != Packet.State.ON_SHELF:
        return None
    return _standing(request, packet)


def sowing_panel(request: HttpRequest, packet: Packet) -> dict[str, Any] | None:
    """How much of the packet to sow, for the stand and the losses that the address asks for.

    What is not there to be sown has no advice.
    """
    if packet.state not in (Packet.State.ON_SHELF, Packet.State.LENT):
        return None
    form = SowingForm(request.GET)
    advice = form.told_by(partial(sowing_advice_for, lot=packet.lot, on=timezone.localdate()))
    return form.shown_with(advice, packet)


def label_panel(request: HttpRequest, lot: Lot) -> dict[str, Any]:
    """What stands on each label of the lot's packets."""
    return {"advice": sowing_advice_for(lot=lot, on=timezone.localdate())}


def pack_panel(request: HttpRequest, lot: Lot) -> dict[str, Any]:
    """How many seeds to put into a packet."""
    advice = sowing_advice_for(lot=lot, on=timezone.localdate())
    return {"advice": advice, "each": packet_seeds(advice), "lot": lot}


def variety_panel(request: HttpRequest, variety: Variety) -> dict[str, Any]:
    """The packets of the variety that can be borrowed now, and the reserve explained."""
    reserve = reserve_of(variety)
    packets = list(
        Packet.objects.on_shelf()
        .filter(lot__variety=variety)
        .select_related("lot")
        .order_by("-lot__harvest_year", "code")[:MOST_PACKETS]
    )
    free = [packet for packet in packets if _is_free(packet, reserve)]
    return {
        "packets": _one_of_each_lot(free)[:SHOWN],
        "reserve": reserve,
        "why_not": "" if free else _why_none(packets, reserve),
        "signed_in": request.user.is_authenticated,
        "at_desk": request.user.has_perm(SERVE_DESK),
    }


def home_panel(request: HttpRequest, _subject=None) -> dict[str, Any] | None:
    """What waits at the desk, for those who serve there; what is due has a panel of its own."""
    if not request.user.has_perm(SERVE_DESK):
        return None
    return {
        "to_hand_over": Loan.objects.to_hand_over().count(),
        "deposits": Deposit.objects.waiting().count(),
        "returns": Return.objects.waiting().count(),
    }


def bench_panel(request: HttpRequest, _subject=None) -> dict[str, Any] | None:
    """Deposits and returns that wait to be received."""
    if not request.user.has_perm(SERVE_DESK):
        return None
    return {
        "deposits": list(Deposit.objects.waiting().with_details()[: SHOWN + 15]),
        "returns": list(Return.objects.waiting().with_details()[: SHOWN + 15]),
    }


def _standing(request: HttpRequest, packet: Packet) -> dict[str, Any]:
    """Whether the reader can borrow or lend the packet, and if not, why."""
    user = request.user
    at_desk = user.is_authenticated and user.has_perm(SERVE_DESK)
    known = {"packet": packet, "signed_in": user.is_authenticated, "at_desk": at_desk}
    if not user.is_authenticated:
        return known | {"why_not": ""}
    # A coordinator may lend against all but the reserve, and is told so on the next page.
    if user.has_perm(COORDINATE):
        reserve = reserve_of(packet.lot.variety)
        held = "" if reserve.allows(packet) else _why_none([packet], reserve)
        return known | {"why_not": held}
    return known | {"why_not": why_not_lend(packet=packet, borrower=user)}


def _is_free(packet: Packet, reserve: Reserve) -> bool:
    lot = packet.lot
    held = lot.awaits_first_test or lot.withheld_reason
    return not held and reserve.allows(packet)


def _one_of_each_lot(packets: list[Packet]) -> list[Packet]:
    """The first packet of each lot: the others hold the same seed."""
    return list({packet.lot_id: packet for packet in reversed(packets)}.values())[::-1]


def _why_none(packets: list[Packet], reserve: Reserve) -> str:
    if not packets:
        return _("No packet of it is on the shelf.")
    if not any(reserve.allows(packet) for packet in packets):
        return _("What is here is the reserve: seed from which the library would regrow it.")
    if any(packet.lot.awaits_first_test for packet in packets):
        return _("What is here waits for its first germination test.")
    return _("What is here is withheld.")
