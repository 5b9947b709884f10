"""The pages of seed brought in."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy
from django.views.generic import DetailView, TemplateView

from accounts.access import DeskPage, MemberPage
from accounts.roles import SERVE_DESK
from library.catalogue.models import Variety
from library.catalogue.names import fold
from library.lending import services
from library.lending.finding import borrower_named
from library.lending.forms.deposits import (
    DeclineForm,
    DepositForm,
    DeskDepositForm,
    ReceiveDepositForm,
)
from library.lending.models import Deposit, LendingRules
from library.lending.views.base import ReceivingPage, VerbButton, VerbPage, counted_or_weighed
from library.stock.models import Growing
from library.stock.service_pages import number_asked

MOST_NAMES = 12


class DepositNewPage(MemberPage, VerbPage):
    """A member offers seed, after reading what may not be brought."""

    template_name = "lending/deposit_new.html"
    form_class = DepositForm
    done = gettext_lazy("Thank you. Bring it to the desk when you come by.")

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(rules=LendingRules.current(), **kwargs)

    def act(self, form):
        return services.propose_deposit(depositor=self.asker, on=self.today, **form.proposal())


class DepositAtDeskPage(DeskPage, ReceivingPage):
    """Seed that comes over the desk without being offered first."""

    template_name = "lending/deposit_desk.html"
    form_class = DeskDepositForm

    def act(self, form):
        name, user = form.cleaned_data["depositor"], self.request.user
        person = borrower_named(name, by=user, field="depositor") if name else None
        return services.deposit_at_desk(
            on=self.today, by=user, depositor=person, **form.brought()
        )


class DepositPage(MemberPage, DetailView):
    template_name = "lending/deposit.html"

    def get_queryset(self):
        return Deposit.objects.visible_to(self.request.user).with_details()

    def get_context_data(self, **kwargs) -> dict:
        user = self.request.user
        return super().get_context_data(
            at_desk=user.has_perm(SERVE_DESK),
            mine=self.object.depositor_id == user.pk,
            growing=growing_rows(self.object.growing),
            **kwargs,
        )


class OneDeposit(DeskPage, VerbPage):
    @cached_property
    def deposit(self) -> Deposit:
        rows = Deposit.objects.visible_to(self.request.user).with_details()
        return get_object_or_404(rows, pk=self.kwargs["pk"])

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(deposit=self.deposit, **kwargs)


class DepositReceivePage(OneDeposit, ReceivingPage):
    template_name = "lending/deposit_receive.html"
    form_class = ReceiveDepositForm

    def get_initial(self) -> dict:
        deposit = self.deposit
        return {
            "crop": deposit.crop_id or (deposit.variety and deposit.variety.crop_id),
            "name": deposit.what,
            **counted_or_weighed(deposit),
            "harvest_year": deposit.harvest_year,
        }

    def act(self, form):
        return services.receive_deposit(
            deposit=self.deposit, on=self.today, by=self.asker, **form.received()
        )


class DepositDeclinePage(OneDeposit):
    template_name = "lending/deposit_decline.html"
    form_class = DeclineForm
    done = gettext_lazy("Declined. The depositor is told by mail.")

    def act(self, form):
        services.decline_deposit(
            deposit=self.deposit, on=self.today, by=self.asker, **form.cleaned_data
        )
        return reverse("desk")


class WithdrawDeposit(MemberPage, VerbButton):
    rows = Deposit.objects.all()
    done = gettext_lazy("Withdrawn.")

    def act(self, row):
        return services.withdraw_deposit(deposit=row, on=self.today, by=self.asker)


class NameSuggestions(MemberPage, TemplateView):
    """Names of varieties that begin with what is being typed; options for a list."""

    template_name = "lending/includes/names.html"

    def get_context_data(self, **kwargs) -> dict:
        typed = fold(self.request.GET.get("name", "")[:120])
        cards = Variety.objects.filter(names__folded__startswith=typed)
        crop = number_asked(self.request.GET.get("crop", ""))
        if crop is not None:
            cards = cards.filter(crop=crop)
        sought = typed and "\x00" not in typed  # which PostgreSQL breaks at
        names = cards.distinct().order_by("name") if sought else Variety.objects.none()
        return super().get_context_data(
            cards=names.select_related("crop")[:MOST_NAMES], **kwargs
        )


def growing_rows(facts: dict[str, Any]) -> list[tuple[Any, Any]]:
    """What was told of how it grew, with labels, for a list of facts."""
    shown = {name: value for name, value in facts.items() if value not in (None, "")}
    growing = Growing(**shown)
    rows = []
    for name in shown:
        field: Any = Growing._meta.get_field(name)
        display = getattr(growing, f"get_{name}_display", None)
        rows.append((field.verbose_name, display() if display else shown[name]))
    return rows
