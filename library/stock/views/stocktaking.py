"""Counting the stock, on a phone in front of the shelf."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.forms import Form, IntegerField
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import TemplateView, View

from accounts.access import DeskPage
from library.errors import Refused
from library.stock import forms, services
from library.stock.models import Lot, Packet, StockTake
from library.stock.places import PlaceTree
from library.stock.service_pages import ServicePage

LOTS_ON_A_PAGE = 50


class StockTakesPage(DeskPage, ServicePage):
    """Start a stock-taking; those that were."""

    template_name = "stock/stock_takes.html"
    form_class = forms.StartStockTakeForm
    heading = gettext_lazy("Stock-taking")
    lead = gettext_lazy("Count what is there. Differences are written when you close it.")
    submit = gettext_lazy("Start counting")
    done = ""

    def act(self, asked: dict[str, Any]):
        return services.start_stock_take(by=self.request.user, **asked)

    def where_next(self, result: StockTake) -> str:
        return reverse("stock-take", args=[result.pk])

    def back_to(self) -> str:
        return reverse("storage")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        takes = StockTake.objects.select_related("storage_place", "started_by")
        return super().get_context_data(takes=takes.order_by("-pk")[:20], **kwargs)


class _OfStockTake(DeskPage):
    @cached_property
    def stock_take(self) -> StockTake:
        takes = StockTake.objects.select_related("storage_place")
        return get_object_or_404(takes, pk=self.kwargs["pk"])

    def lots(self):
        """The lots that this stock-taking is about."""
        if self.stock_take.storage_place_id is None:
            return Lot.objects.with_seed()
        within = PlaceTree().within(self.stock_take.storage_place_id)
        return Lot.objects.with_seed().lying_in(within)


class StockTakePage(_OfStockTake, TemplateView):
    """What is to be counted and what was; scanning a code opens its lot."""

    template_name = "stock/stock_take.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        code = request.GET.get("code")
        if not code:
            return super().get(request, *args, **kwargs)
        try:
            found = services.find_by_code(code)
        except Refused as refusal:
            context = self.get_context_data(refusal=refusal, code=code, **kwargs)
            return self.render_to_response(context, status=refusal.status)
        lot = found.lot if isinstance(found, Packet) else found
        tick = f"?tick={found.code}" if isinstance(found, Packet) else ""
        return HttpResponseRedirect(
            reverse("stock-count", args=[self.stock_take.pk, lot.number]) + tick
        )

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        lines = self.stock_take.lines.select_related("lot__variety").prefetch_related("missing")
        counted = [line.lot_id for line in lines]
        rest = self.lots().exclude(pk__in=counted).with_variety().order_by("number")
        return super().get_context_data(
            stock_take=self.stock_take,
            lines=lines,
            page_obj=Paginator(rest, LOTS_ON_A_PAGE).get_page(self.request.GET.get("page")),
            **kwargs,
        )


class CountForm(Form):
    loose = IntegerField(label=gettext_lazy("In the jar"), min_value=0)


class CountLotPage(_OfStockTake, View):
    """The jar's count, and the packets ticked off by hand or by scanner."""

    @cached_property
    def lot(self) -> Lot:
        return get_object_or_404(Lot.objects.with_variety(), number=self.kwargs["number"])

    def get(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        line = self.stock_take.lines.filter(lot=self.lot).first()
        ticked = {request.GET.get("tick", "")}
        if line:
            gone = set(line.missing.values_list("code", flat=True))
            ticked |= {packet.code for packet in self.on_shelf if packet.code not in gone}
        form = CountForm(initial={"loose": line.counted_loose if line else None})
        return self.page(form, ticked)

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        ticked = set(request.POST.getlist("here"))
        if "tick" in request.POST:
            return self._tick(request.POST.get("code", ""), ticked)
        if "all" in request.POST:
            codes = {packet.code for packet in self.on_shelf}
            return self.page(self._unbound(), ticked | codes)
        form = CountForm(request.POST)
        if not form.is_valid():
            return self.page(form, ticked, status=400)
        try:
            self._count(form.cleaned_data["loose"], ticked)
        except Refused as refusal:
            form.add_error("loose" if refusal.field == "loose" else None, str(refusal))
            return self.page(form, ticked, status=refusal.status)
        return HttpResponseRedirect(reverse("stock-take", args=[self.stock_take.pk]))

    def _count(self, loose: int, ticked: set[str]) -> None:
        services.count_lot(
            stock_take=self.stock_take,
            lot=self.lot,
            loose=loose,
            missing_packets=[p for p in self.on_shelf if p.code not in ticked],
            found_again=[p for p in self.missing if p.code in ticked],
            by=self.request.user,
        )

    def _tick(self, code: str, ticked: set[str]) -> HttpResponse:
        """Tick the scanned packet and show the form again, all else as it was."""
        try:
            found = services.find_by_code(code)
        except Refused as refusal:
            return self.page(self._unbound(), ticked, said=str(refusal), status=refusal.status)
        codes = {packet.code for packet in [*self.on_shelf, *self.missing]}
        if isinstance(found, Packet) and found.code in codes:
            return self.page(self._unbound(), ticked | {found.code})
        said = _("%(code)s is not a packet of this lot that should be here.") % {"code": code}
        return self.page(self._unbound(), ticked, said=said, status=400)

    def _unbound(self) -> CountForm:
        return CountForm(initial={"loose": self.request.POST.get("loose", "")})

    @cached_property
    def on_shelf(self) -> list[Packet]:
        return list(self.lot.packets.on_shelf())

    @cached_property
    def missing(self) -> list[Packet]:
        return list(self.lot.packets.filter(state=Packet.State.MISSING))

    def page(
        self, form: CountForm, ticked: set[str], *, said: str = "", status: int = 200
    ) -> HttpResponse:
        context = {
            "stock_take": self.stock_take,
            "lot": self.lot,
            "form": form,
            "on_shelf": self.on_shelf,
            "missing": self.missing,
            "ticked": ticked,
            "said": said,
        }
        return render(self.request, "stock/stock_count.html", context, status=status)


class CloseStockTakePage(_OfStockTake, ServicePage):
    form_class = Form
    heading = gettext_lazy("Close the stock-taking")
    lead = gettext_lazy(
        "Every difference is written into the ledger. Lots that nobody counted stay as they "
        "are."
    )
    submit = gettext_lazy("Close and write the differences")
    done = gettext_lazy("Closed. The ledger says what was found.")

    def act(self, asked: dict[str, Any]):
        return services.close_stock_take(stock_take=self.stock_take, by=self.request.user)

    def back_to(self) -> str:
        return reverse("stock-take", args=[self.stock_take.pk])

    def crumbs(self) -> list[tuple[str, str]]:
        return [(reverse("stock-takes"), _("Stock-taking"))]
