"""The desk: scan, lend, take back, receive. Each common thing is at most two taps away."""

from __future__ import annotations

from urllib.parse import urlencode

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.views.generic import TemplateView

from accounts.access import DeskPage
from accounts.models import Member
from library.errors import Refused
from library.lending.finding import members_named
from library.lending.models import Deposit, Loan, Return
from library.stock.models import Lot, Packet
from library.stock.service_pages import number_asked
from library.stock.services import find_by_code

SHOWN = 20


class DeskHomePage(DeskPage, TemplateView):
    """A big field to scan into, and what waits. ``member`` is who stands at the desk."""

    template_name = "lending/desk.html"

    def get(self, request: HttpRequest, *args, **kwargs) -> HttpResponse:
        code = request.GET.get("code", "").strip()
        if not code:
            return super().get(request, *args, **kwargs)
        try:
            return redirect(self._way_for(find_by_code(code)))
        except Refused as refusal:
            context = self.get_context_data(code=code, wrong=str(refusal))
            return self.render_to_response(context, status=refusal.status)

    def get_context_data(self, **kwargs) -> dict:
        today = timezone.localdate()
        open_loans = Loan.objects.with_details()
        who = self.request.GET.get("who", "")
        return super().get_context_data(
            person=self.person,
            who=who,
            people=members_named(who),
            their_loans=_first(open_loans.open().of(self.person)) if self.person else [],
            to_hand_over=_first(
                open_loans.to_hand_over().with_estimates().order_by("lent_on", "pk")
            ),
            never_collected=_first(open_loans.never_collected(today)),
            deposits=_first(Deposit.objects.waiting().with_details()),
            returns=_first(Return.objects.waiting().with_details()),
            overdue=_first(open_loans.collected().overdue(today)),
            today=today,
            **kwargs,
        )

    @cached_property
    def person(self) -> Member | None:
        return member_asked(self.request)

    def _way_for(self, found: Lot | Packet) -> str:
        """Where a scanned thing leads: to lending it, to its loan, or to its own page."""
        if isinstance(found, Lot):
            return found.get_absolute_url()
        if found.state == Packet.State.ON_SHELF:
            return lending_address(found, self.person)
        loan = found.loans.open().first()
        if found.state == Packet.State.LENT and loan is not None:
            return loan.get_absolute_url()
        return reverse("packet", args=[found.code])


class MemberSuggestions(DeskPage, TemplateView):
    """Members whose display name holds what is being typed; a part of the page for htmx."""

    template_name = "lending/includes/members.html"

    def get_context_data(self, **kwargs) -> dict:
        asked = self.request.GET
        found = members_named(asked.get("who", ""))
        return super().get_context_data(
            people=found,
            packet_code=asked.get("packet", ""),
            who=asked.get("who", ""),
            **kwargs,
        )


def member_asked(request: HttpRequest) -> Member | None:
    """The approved member that the address names, if it does."""
    key = number_asked(request.GET.get("member", ""))
    return Member.objects.active().filter(pk=key).first() if key is not None else None


def lending_address(packet: Packet, person: Member | None) -> str:
    asked = {"packet": packet.code} | ({"member": person.pk} if person else {})
    return f"{reverse('loan-new')}?{urlencode(asked)}"


def _first(rows: QuerySet) -> list:
    """As many as a page shows, and one more to know whether there are more."""
    return list(rows[: SHOWN + 1])
