"""Answering an offer, reporting a step, and how a promise ends."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import View

from accounts.access import CoordinatorPage, MemberPage
from accounts.models import Garden
from library.errors import Refused
from library.growouts.forms.commitments import (
    AcceptForm,
    DeclineForm,
    FailForm,
    ReportForm,
    WithdrawForm,
)
from library.growouts.models import Commitment, Milestone
from library.growouts.services import commitments as services
from library.growouts.services.milestones import report_milestone
from library.stock.service_pages import ServicePage, number_asked


class OfCommitment(ServicePage):
    """A page that does one thing to one commitment; another's is not there."""

    request: Any
    kwargs: dict

    @cached_property
    def commitment(self) -> Commitment:
        rows = Commitment.objects.visible_to(self.request.user).with_details()
        return get_object_or_404(rows, pk=self.kwargs["pk"])

    def back_to(self) -> str:
        return self.commitment.get_absolute_url()

    def crumbs(self) -> list[tuple[str, str]]:
        return [(self.back_to(), self.commitment.variety.name)]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(commitment=self.commitment, **kwargs)


class OwnCommitment(MemberPage, OfCommitment):
    """For the grower alone: nobody answers for them."""

    @cached_property
    def commitment(self) -> Commitment:
        rows = Commitment.objects.of(self.request.user).with_details()
        return get_object_or_404(rows, pk=self.kwargs["pk"])


class AcceptPage(OwnCommitment):
    form_class = AcceptForm
    heading = gettext_lazy("Yes, I will grow it")
    lead = gettext_lazy(
        "The packets are set aside for you at the desk, and the days of your garden are noted."
    )
    submit = gettext_lazy("I promise")
    done = gettext_lazy("Thank you! Your packets wait at the desk.")

    def act(self, asked: dict[str, Any]) -> Commitment:
        return services.accept(
            commitment=self.commitment, on=timezone.localdate(), by=self.request.user, **asked
        )


class DeclinePage(OwnCommitment):
    form_class = DeclineForm
    heading = gettext_lazy("No, not this one")
    lead = gettext_lazy("Nothing follows from it. Somebody else is asked.")
    submit = gettext_lazy("I will not grow it")
    done = gettext_lazy("Thank you for answering.")

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "commitment": self.commitment}

    def act(self, asked: dict[str, Any]) -> Commitment:
        return services.decline(
            commitment=self.commitment, on=timezone.localdate(), by=self.request.user, **asked
        )


class FailPage(MemberPage, OfCommitment):
    form_class = FailForm
    heading = gettext_lazy("The crop failed")
    lead = gettext_lazy(
        "Crops fail; it happens to everyone. With the cause somebody else may still grow it "
        "this season."
    )
    submit = gettext_lazy("It failed")
    done = gettext_lazy("Noted. Thank you for telling.")

    def act(self, asked: dict[str, Any]) -> Commitment:
        return services.fail(
            commitment=self.commitment, on=timezone.localdate(), by=self.request.user, **asked
        )


class WithdrawPage(CoordinatorPage, OfCommitment):
    form_class = WithdrawForm
    heading = gettext_lazy("Call it off")
    lead = gettext_lazy("The grower is told why. What was set aside goes back on the shelf.")
    submit = gettext_lazy("Call it off")
    danger = True
    done = gettext_lazy("Called off.")

    def act(self, asked: dict[str, Any]) -> Commitment:
        return services.withdraw(
            commitment=self.commitment, on=timezone.localdate(), by=self.request.user, **asked
        )


class ReportPage(MemberPage, OfCommitment):
    """A step is reported, from a phone in the garden as like as not."""

    template_name = "growouts/commitments/report.html"
    form_class = ReportForm
    submit = gettext_lazy("Report")
    done = gettext_lazy("Noted.")

    @cached_property
    def milestone(self) -> Milestone:
        return get_object_or_404(self.commitment.milestones, kind=self.kwargs["kind"])

    @property
    def heading(self) -> Any:
        return (
            f"{self.milestone.get_kind_display().capitalize()}: {self.commitment.variety.name}"
        )

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "milestone": self.milestone}

    def act(self, asked: dict[str, Any]):
        return report_milestone(
            milestone=self.milestone,
            today=timezone.localdate(),
            by=self.request.user,
            **asked,
        )

    def form_valid(self, form: Any) -> HttpResponse:
        form.cleaned_data = form.told()
        return super().form_valid(form)


class OfferReplacement(CoordinatorPage, View):
    """One button beside each candidate: asks them to take over what failed."""

    http_method_names = ["post"]

    def post(self, request: Any, pk: int) -> HttpResponse:
        failed = get_object_or_404(Commitment.objects.with_details(), pk=pk)
        key = number_asked(request.POST.get("garden", ""))
        garden = get_object_or_404(Garden.objects.select_related("member"), pk=key)
        try:
            made = services.offer_replacement(
                failed=failed, garden=garden, on=timezone.localdate(), by=request.user
            )
        except Refused as refusal:
            messages.error(request, str(refusal))
            return redirect(failed)
        told = _("%(name)s is asked to take over.") % {"name": made.grower.display_name}
        messages.success(request, told)
        return redirect(made)
