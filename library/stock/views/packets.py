"""The page of a packet, its labels, and the page that finds what a code is on."""

from __future__ import annotations

import io
from typing import Any

import segno
from django.conf import settings
from django.forms import Form
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy as _
from django.views.generic import DetailView, FormView, View

from accounts.access import CataloguePage, DeskPage
from accounts.roles import SERVE_DESK
from library.errors import Refused
from library.stock import forms, services
from library.stock.models import Lot, Packet
from library.stock.places import PlaceTree
from library.stock.service_pages import ServicePage

MOST_LABELS = 1000


class PacketPage(CataloguePage, DetailView):
    template_name = "stock/packet.html"
    slug_field = slug_url_kwarg = "code"
    context_object_name = "packet"

    def get_queryset(self):
        return Packet.objects.visible_to(self.request.user).with_lot()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        if self.request.user.has_perm(SERVE_DESK):
            context["desk"] = True
            context["path"] = PlaceTree().path(self.object.storage_place_id)
        return context


class PacketQr(CataloguePage, View):
    """The packet's address as a QR code; its text is on the label beside it."""

    def get(self, request: HttpRequest, code: str) -> HttpResponse:
        packet = get_object_or_404(Packet.objects.visible_to(request.user), code=code)
        picture = io.BytesIO()
        # Level Q still reads with a quarter of the label smudged or creased. Scanners want dark
        # on light, so the light is painted too: the page around it may be dark.
        segno.make(settings.SITE_URL + packet.get_absolute_url(), error="q").save(
            picture, kind="svg", scale=4, border=4, light="#fff", xmldecl=False
        )
        return HttpResponse(picture.getvalue(), content_type="image/svg+xml")


class LabelPage(DeskPage, DetailView):
    """Labels for packets of one lot, for the browser's own printing."""

    template_name = "stock/labels.html"
    slug_field = slug_url_kwarg = "number"
    context_object_name = "lot"

    def get_queryset(self):
        return Lot.objects.kept_here().with_variety()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        packets = self.object.packets.on_shelf()
        codes = self.request.GET.get("codes", "")
        if codes:
            asked = [code for code in codes.split(",")[:MOST_LABELS] if code.isprintable()]
            packets = packets.filter(code__in=asked)
        return super().get_context_data(packets=packets[:MOST_LABELS], **kwargs)


class ScanPage(CataloguePage, FormView):
    """Type or scan a code: leads to the lot or packet that carries it."""

    template_name = "stock/scan.html"
    form_class = forms.ScanForm
    http_method_names = ["get", "head", "options"]

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if "code" not in request.GET:
            return super().get(request, *args, **kwargs)
        form = self.form_class(request.GET)
        if not form.is_valid():
            return self._again(form, 400)
        try:
            found = services.find_by_code(form.cleaned_data["code"])
        except Refused as refusal:
            form.add_error("code", str(refusal))
            return self._again(form, refusal.status)
        return HttpResponseRedirect(found.get_absolute_url())

    def _again(self, form, status: int) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=status)


class PacketAction(DeskPage, ServicePage):
    """A page about one packet; done, it leads back to the packet."""

    form_class: type[Form] = forms.ReasonOnDayForm

    @cached_property
    def packet(self) -> Packet:
        return get_object_or_404(Packet.objects.with_lot(), code=self.kwargs["code"])

    def back_to(self) -> str:
        return self.packet.get_absolute_url()

    def crumbs(self) -> list[tuple[str, str]]:
        lot = self.packet.lot
        return [
            (lot.variety.get_absolute_url(), lot.variety.name),
            (lot.get_absolute_url(), lot.number),
            (self.packet.get_absolute_url(), self.packet.code),
        ]


class UnpackPage(PacketAction):
    heading = _("Empty the packet into the jar")
    submit = _("Empty it")

    def act(self, asked: dict[str, Any]):
        return services.unpack(packet=self.packet, by=self.request.user, **asked)


class DiscardPacketPage(PacketAction):
    heading = _("Discard the packet")
    submit = _("Discard")
    danger = True

    def act(self, asked: dict[str, Any]):
        return services.discard(
            lot=self.packet.lot, packet=self.packet, by=self.request.user, **asked
        )


class GivePacketPage(PacketAction):
    heading = _("Give the packet away")
    lead = _("For good: no loan, and nothing is due.")
    submit = _("Give away")

    def act(self, asked: dict[str, Any]):
        return services.give_away(
            lot=self.packet.lot, packet=self.packet, by=self.request.user, **asked
        )


class MovePacketPage(PacketAction):
    form_class = forms.PacketMoveForm
    heading = _("Move the packet")

    def get_initial(self) -> dict[str, Any]:
        return super().get_initial() | {"storage_place": self.packet.storage_place_id or ""}

    def act(self, asked: dict[str, Any]):
        return services.move_packet(packet=self.packet, by=self.request.user, **asked)
