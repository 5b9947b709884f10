"""Stopping a plan, deciding pairs before the next one, and asking the growers."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.generic import View

from accounts.access import CoordinatorPage
from library.errors import Refused
from library.growouts.forms.plans import PinForm
from library.growouts.models import Pin, Plan, PlannedPair, Season
from library.growouts.services import plans as services
from library.lending.views.base import VerbPage
from library.stock.service_pages import number_asked

MOST_PINS = 1000


class OnPlan(CoordinatorPage, View):
    """A POST that does one thing to a plan and goes back to it; a refusal is a message."""

    http_method_names = ["post"]

    def act(self, plan: Plan) -> str:
        """Call the service; return what the next page says."""
        raise NotImplementedError

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        plan = get_object_or_404(Plan.objects.select_related("season"), pk=pk)
        try:
            messages.success(request, self.act(plan))
        except Refused as refusal:
            messages.error(request, str(refusal))
        return redirect(plan)

    def asked_pairs(self, plan: Plan, name: str) -> list[PlannedPair]:
        asked = [number_asked(text) for text in self.request.POST.getlist(name)]
        rows = plan.pairs.filter(pk__in=[key for key in asked if key is not None])
        return list(rows.select_related("variety", "garden"))


class StopPlan(OnPlan):
    def act(self, plan: Plan) -> str:
        services.stop_plan(plan=plan, by=self.request.user)
        return _("Stopping: the best so far is taken.")


class SendOffers(OnPlan):
    """The ticked pairs, or with ``all`` every one."""

    def act(self, plan: Plan) -> str:
        pairs = None if "all" in self.request.POST else self.asked_pairs(plan, "pair")
        if pairs == []:
            raise Refused(_("Tick first whom to ask."))
        sent = services.send_offers(
            plan=plan, pairs=pairs, on=timezone.localdate(), by=self.request.user
        )
        for refused in sent.refused:
            messages.warning(self.request, refused)
        if not sent:
            return _("Everybody was asked already; nobody is asked twice.")
        return ngettext("%(n)s offer was sent.", "%(n)s offers were sent.", len(sent)) % {
            "n": len(sent)
        }


class PinPair(OnPlan):
    """A pair of this plan is kept in the next one, or never made again."""

    def act(self, plan: Plan) -> str:
        for kind in Pin.Kind.values:
            for pair in self.asked_pairs(plan, kind):
                services.pin(
                    season=plan.season,
                    variety=pair.variety,
                    garden=pair.garden,
                    kind=kind,
                    by=self.request.user,
                )
                return _("Noted. It holds from the next plan on.")
        raise Refused(_("Say which pair."))


class PinsPage(CoordinatorPage, VerbPage):
    """What is decided before the plan: pairs that are kept, and pairs that are never made."""

    template_name = "growouts/plans/pins.html"
    form_class = PinForm
    done = gettext_lazy("Noted. It holds from the next plan on.")

    @cached_property
    def season(self) -> Season:
        return get_object_or_404(Season, year=self.kwargs["year"])

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"season": self.season}

    def get_initial(self) -> dict[str, Any]:
        asked = {name: self.request.GET.get(name, "") for name in ("variety", "garden")}
        return super().get_initial() | {k: number_asked(v) for k, v in asked.items()}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        pins = self.season.pins.select_related("variety", "garden__member", "made_by")
        return super().get_context_data(season=self.season, pins=pins[:MOST_PINS], **kwargs)

    def act(self, form: Any) -> str:
        services.pin(season=self.season, by=self.asker, **form.cleaned_data)
        return reverse("growout-pins", args=[self.season.year])


class Unpin(CoordinatorPage, View):
    http_method_names = ["post"]

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        pin = get_object_or_404(Pin.objects.select_related("season"), pk=pk)
        try:
            services.unpin(pin=pin, by=self.request.user)
            messages.success(request, _("The next plan is free in this again."))
        except Refused as refusal:
            messages.error(request, str(refusal))
        return redirect("growout-pins", pin.season.year)
