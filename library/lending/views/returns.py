"""The pages of seed brought back."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy
from django.views.generic import DetailView

from accounts.access import DeskPage, MemberPage
from accounts.roles import COORDINATE, SERVE_DESK
from library import hooks
from library.lending import services
from library.lending.forms.returns import AnnounceForm, DeskReturnForm, ReceiveReturnForm
from library.lending.models import Loan, Return
from library.lending.querysets import LoanQuerySet
from library.lending.services.growing import FACTS
from library.lending.views.base import ReceivingPage, VerbButton, VerbPage, counted_or_weighed
from library.lending.views.deposits import growing_rows
from library.stock.service_pages import number_asked


class OfLoan(VerbPage):
    """A return that begins with one loan; others of the same variety can be added."""

    @cached_property
    def loan(self) -> Loan:
        key = number_asked(self.request.GET.get("loan", ""))
        return get_object_or_404(self.loans().with_details(), pk=key)

    def loans(self) -> LoanQuerySet:
        """The loans that the reader may answer here."""
        raise NotImplementedError

    @cached_property
    def siblings(self) -> LoanQuerySet:
        """The borrower's open loans of the variety, this one among them."""
        loan = self.loan
        same = Loan.objects.open().collected().of(loan.borrower)
        return same.of_variety(loan.packet.lot.variety).with_details()

    def get_initial(self) -> dict:
        year = max(self.today.year, self.loan.lent_on.year)
        initial = {"loans": [self.loan.pk], "harvest_year": year}
        for told in hooks.ask("growing_of_loan", loan=self.loan):
            initial |= told
        return initial

    def get_form_kwargs(self) -> dict:
        species = self.loan.packet.lot.variety.crop.species
        told = {"loans": self.siblings, "dioecious": species.dioecious}
        return super().get_form_kwargs() | told

    def get_context_data(self, **kwargs) -> dict:
        variety = self.loan.packet.lot.variety
        return super().get_context_data(loan=self.loan, variety=variety, **kwargs)


class ReturnNewPage(MemberPage, OfLoan):
    """A member announces seed of their own loans."""

    template_name = "lending/return_new.html"
    form_class = AnnounceForm
    done = gettext_lazy("Thank you. Bring the seed to the desk when you come by.")

    def loans(self) -> LoanQuerySet:
        return Loan.objects.of(self.request.user)

    def get_form_kwargs(self) -> dict:
        return super().get_form_kwargs() | {"member": self.request.user}

    def act(self, form):
        user = self.request.user
        return services.announce_return(
            member=user, on=self.today, by=user, **form.told(), **form.quantity()
        )


class ReturnAtDeskPage(DeskPage, OfLoan, ReceivingPage):
    """Seed that comes back over the desk without being announced."""

    template_name = "lending/return_desk.html"
    form_class = DeskReturnForm

    def loans(self) -> LoanQuerySet:
        return Loan.objects.all()

    def get(self, request: HttpRequest, *args, **kwargs) -> HttpResponse:
        """Seed that was announced is received as announced, wherever the desk came from."""
        announced = self.loan.waiting_return()
        if announced is not None:
            return redirect("return-receive", announced.pk)
        return super().get(request, *args, **kwargs)

    def get_form_kwargs(self) -> dict:
        return super().get_form_kwargs() | {"lent": self.loan.packet.lot.variety}

    def act(self, form):
        return services.return_at_desk(
            on=self.today, by=self.asker, **form.told(), **form.received()
        )


class ReturnPage(MemberPage, DetailView):
    template_name = "lending/return.html"
    context_object_name = "seed_return"

    def get_queryset(self):
        return Return.objects.visible_to(self.request.user).with_details()

    def get_context_data(self, **kwargs) -> dict:
        user, seed_return = self.request.user, self.object
        mine = seed_return.member_id == user.pk
        facts = {name: getattr(seed_return, name) for name in FACTS}
        return super().get_context_data(
            mine=mine,
            at_desk=user.has_perm(SERVE_DESK),
            garden=seed_return.garden if mine or user.has_perm(COORDINATE) else None,
            growing=growing_rows(facts),
            **kwargs,
        )


class ReturnReceivePage(DeskPage, ReceivingPage):
    template_name = "lending/return_receive.html"
    form_class = ReceiveReturnForm

    @cached_property
    def seed_return(self) -> Return:
        rows = Return.objects.visible_to(self.request.user).with_details()
        return get_object_or_404(rows, pk=self.kwargs["pk"])

    @cached_property
    def lent(self):
        return self.seed_return.loan_links.all()[0].loan.packet.lot.variety

    def get_form_kwargs(self) -> dict:
        return super().get_form_kwargs() | {"lent": self.lent}

    def get_initial(self) -> dict:
        return counted_or_weighed(self.seed_return)

    def get_context_data(self, **kwargs) -> dict:
        facts = {name: getattr(self.seed_return, name) for name in FACTS}
        return super().get_context_data(
            seed_return=self.seed_return,
            variety=self.lent,
            growing=growing_rows(facts),
            **kwargs,
        )

    def act(self, form):
        return services.receive_return(
            seed_return=self.seed_return,
            on=self.today,
            by=self.asker,
            **form.received(),
        )


class WithdrawReturn(MemberPage, VerbButton):
    rows = Return.objects.all()
    done = gettext_lazy("Withdrawn. The loan stays open.")

    def act(self, row):
        return services.withdraw_return(seed_return=row, by=self.asker)
