"""What is due, how one wants to be told, what one was told; for coordinators all of it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.csrf import csrf_exempt
from django.views.generic import ListView, TemplateView, View

from accounts.access import CoordinatorPage, MemberPage, MemberRequest
from library.errors import Refused
from library.lending.views.base import VerbPage
from library.reminders import choosing
from library.reminders.due import kind_of
from library.reminders.forms import StateForm, WishesForm
from library.reminders.models import Reminder
from library.reminders.panels import LOOKS_AHEAD
from library.reminders.querysets import STATES
from library.reminders.services import items_for
from library.reminders.stopping import EVERY_KIND, read_stop
from library.reminders.wishes import wishes_of

SHOWN = 50


class DuePage(MemberPage, TemplateView):
    template_name = "reminders/due.html"

    def get_context_data(self, **kwargs) -> dict:
        today = timezone.localdate()
        items = items_for(self.request.user, today + LOOKS_AHEAD)
        return super().get_context_data(items=items, today=today, **kwargs)


class WishesPage(MemberPage, VerbPage):
    """How one wants to be reminded, and what one was sent."""

    template_name = "reminders/wishes.html"
    form_class = WishesForm
    done = gettext_lazy("Saved.")

    def get_initial(self) -> dict[str, Any]:
        wishes = wishes_of(self.asker)
        return {
            "rhythm": wishes.rhythm,
            "quiet_from": wishes.quiet_from,
            "quiet_until": wishes.quiet_until,
            "muted": wishes.muted,
        }

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"member": self.asker}

    def act(self, form: Any) -> str:
        choosing.save_wishes(member=self.asker, **form.cleaned_data)
        return reverse("reminder-wishes")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        mine = Reminder.objects.of(self.asker).with_mail().order_by("-planned_at", "-pk")
        return super().get_context_data(sent=list(mine[:SHOWN]), **kwargs)


class RemindersPage(CoordinatorPage, ListView):
    """What was planned, sent, failed and why, the newest first."""

    template_name = "reminders/list.html"
    paginate_by = SHOWN

    def get_queryset(self):
        rows = Reminder.objects.with_mail().order_by("-planned_at", "-pk")
        state = self.request.GET.get("state", "")
        return rows.in_state(state) if state in STATES else rows

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        form = StateForm(self.request.GET or None)
        counts = {
            state: Reminder.objects.in_state(state).count() for state in ("failed", "planned")
        }
        return super().get_context_data(filter=form, counts=counts, **kwargs)


class SendAgain(CoordinatorPage):
    http_method_names = ["post"]

    def post(self, request: MemberRequest, pk: int) -> HttpResponse:
        reminder = get_object_or_404(Reminder, pk=pk)
        try:
            choosing.send_again(reminder=reminder, by=request.user)
        except Refused as refusal:
            messages.error(request, str(refusal))
        else:
            messages.success(request, _("It is sent again."))
        return redirect("reminder-list")


@method_decorator(csrf_exempt, name="dispatch")
class StopPage(View):
    """One kind is stopped by its link: asked once on a page, or by a mail program's one click.

    No cookie says who asks, so there is nothing that another site could ride on.
    """

    http_method_names = ["get", "head", "post", "options"]

    def get(self, request: HttpRequest, token: str) -> HttpResponse:
        return self._page(request, token, stopped=False)

    def post(self, request: HttpRequest, token: str) -> HttpResponse:
        member, kind = self._asked(token)
        choosing.stop_kind(member=member, kind=kind)
        return self._page(request, token, stopped=True)

    def _asked(self, token: str) -> tuple[Any, str]:
        asked = read_stop(token)
        if asked is None:
            raise Http404
        return asked

    def _page(self, request: HttpRequest, token: str, *, stopped: bool) -> HttpResponse:
        _member, kind = self._asked(token)
        context = {"kind": kind_of(kind), "stopped": stopped, "every": kind == EVERY_KIND}
        return render(request, "reminders/stop.html", context)
