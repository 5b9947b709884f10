"""The pages of a loan: guidance and confirming, and what becomes of it."""

from __future__ import annotations

from functools import partial

from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import DetailView

from accounts.access import DeskPage, MemberPage
from accounts.models import Garden, Member
from accounts.roles import COORDINATE, SERVE_DESK
from library.errors import Refused
from library.germination.advice import warning_of
from library.lending import services
from library.lending.finding import members_named, packet_scanned
from library.lending.forms.loans import CloseForm, ExtendForm, GardenForm, LendForm
from library.lending.forms.sowing import SowingForm
from library.lending.models import Loan
from library.lending.services.reserve import reserve_of
from library.lending.services.seasons import garden_of
from library.lending.views.base import StrOrPromise, VerbButton, VerbPage
from library.lending.views.desk import member_asked
from library.provenance.warnings import warnings_of
from library.stock.models import Packet
from library.stock.services import UnknownCode


class LoanNewPage(MemberPage, VerbPage):
    """Guidance for a packet, then one button. The desk first says for whom."""

    template_name = "lending/loan_new.html"
    form_class = LendForm

    @cached_property
    def packet(self) -> Packet:
        try:
            return packet_scanned(self.request.GET.get("packet", ""))
        except UnknownCode as unknown:
            raise Http404(str(unknown)) from unknown

    @cached_property
    def for_others(self) -> bool:
        return self.request.user.has_perm(SERVE_DESK)

    @cached_property
    def borrower(self) -> Member | None:
        """Who borrows: a member for themselves; at the desk nobody until one is chosen."""
        return member_asked(self.request) if self.for_others else self.request.user

    @cached_property
    def gardens(self) -> list[Garden]:
        """The borrower's gardens, for those who may know of them."""
        user, person = self.request.user, self.borrower
        if person is None or not (person == user or user.has_perm(COORDINATE)):
            return []
        return list(Garden.objects.filter(member=person))

    @cached_property
    def garden(self) -> Garden | None:
        """The garden that was chosen, else the borrower's usual one."""
        asked = self.request.GET.get("garden")
        chosen = next((each for each in self.gardens if str(each.pk) == asked), None)
        return garden_of(self.borrower, chosen) if self.borrower else None

    def get_form_kwargs(self) -> dict:
        overrides = self.request.user.has_perm(COORDINATE)
        return super().get_form_kwargs() | {"overrides": overrides}

    def get_context_data(self, **kwargs) -> dict:
        lot = self.packet.lot
        return super().get_context_data(
            packet=self.packet,
            lot=lot,
            variety=lot.variety,
            borrower=self.borrower,
            gardens=self.gardens,
            garden=self.garden,
            for_others=self.for_others,
            people=self._people(),
            who=self.request.GET.get("who", ""),
            **self._guidance(),
            why_not=self._why_not(),
            reserve=reserve_of(lot.variety),
            **kwargs,
        )

    def get(self, request, *args, **kwargs):
        context = self.get_context_data(**kwargs)
        return self.render_to_response(context, status=context["sowing_form"].status)

    def _guidance(self) -> dict:
        """The guidance, with the stand and the losses that the address asks for."""
        lot = self.packet.lot
        form = SowingForm(self.request.GET)
        guidance = form.told_by(
            partial(
                services.guidance_for,
                variety=lot.variety,
                lot=lot,
                garden=self.garden,
                on=self.today,
            )
        )
        return {"guidance": guidance} | form.shown_with(
            guidance.advice, self.packet, self.request.GET
        )

    def _people(self):
        asked = self.request.GET.get("who", "")
        return members_named(asked) if self.for_others and asked else []

    def _why_not(self) -> str:
        return services.why_not_lend(packet=self.packet, borrower=self.borrower)

    def act(self, form):
        if self.borrower is None:
            raise Refused(_("Choose who borrows it first."))
        loan = services.lend_packet(
            packet=self.packet,
            borrower=self.borrower,
            on=self.today,
            by=self.asker,
            garden=self.garden,
            override_reason=form.cleaned_data.get("override_reason", ""),
        )
        told = {"variety": self.packet.lot.variety.name, "name": self.borrower.display_name}
        if not self.for_others:
            messages.success(self.request, _("%(variety)s is kept for you at the desk.") % told)
            return loan
        messages.success(self.request, _("Lent %(variety)s to %(name)s.") % told)
        return f"{reverse('desk')}?member={self.borrower.pk}"


class LoanPage(MemberPage, DetailView):
    template_name = "lending/loan.html"

    def get_queryset(self):
        return Loan.objects.visible_to(self.request.user).with_details()

    def get(self, request, *args, **kwargs):
        self.object = self.get_object()
        context = self.get_context_data()
        form = context.get("sowing_form")
        return self.render_to_response(context, status=form.status if form else 200)

    def get_context_data(self, **kwargs) -> dict:
        user, loan = self.request.user, self.object
        mine = loan.borrower_id == user.pk
        if loan.is_open:
            kwargs |= self._sowing(loan.packet)
        return super().get_context_data(
            mine=mine,
            at_desk=user.has_perm(SERVE_DESK),
            garden=loan.garden if mine or user.has_perm(COORDINATE) else None,
            garden_can_change=mine or user.has_perm(COORDINATE),
            today=timezone.localdate(),
            announced=loan.is_open and loan.waiting_return(),
            answers=loan.return_links.select_related("seed_return__lot").order_by("pk"),
            events=loan.events.select_related("by"),
            **kwargs,
        )

    def _sowing(self, packet: Packet) -> dict:
        """How much to sow, for the stand and the losses that the address asks for."""
        form = SowingForm(self.request.GET)
        advice = form.told_by(
            partial(services.sowing_advice_for, lot=packet.lot, on=timezone.localdate())
        )
        told = {"warning": warning_of(packet.lot), "off_types": warnings_of(packet.lot)}
        return form.shown_with(advice, packet) | told


class OneLoan(VerbPage):
    """A form about one loan that the reader may see and that is open."""

    @cached_property
    def loan(self) -> Loan:
        rows = Loan.objects.visible_to(self.request.user).with_details()
        return get_object_or_404(rows, pk=self.kwargs["pk"])

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(loan=self.loan, **kwargs)


class LoanClosePage(MemberPage, OneLoan):
    """The honest endings: the crop failed, or there is nothing to bring back."""

    template_name = "lending/loan_close.html"
    form_class = CloseForm
    done = gettext_lazy("Thank you for telling us. The loan is closed.")

    def get_initial(self) -> dict:
        return {"outcome": self.request.GET.get("outcome", "")}

    def act(self, form):
        return services.close_loan(
            loan=self.loan, on=self.today, by=self.asker, **form.cleaned_data
        )


class LoanExtendPage(DeskPage, OneLoan):
    template_name = "lending/loan_extend.html"
    form_class = ExtendForm
    done = gettext_lazy("The due date was changed.")

    def act(self, form):
        return services.extend_loan(
            loan=self.loan, on=self.today, by=self.asker, **form.cleaned_data
        )


class LoanGardenPage(MemberPage, OneLoan):
    """Only the borrower and coordinators know the borrower's gardens."""

    template_name = "lending/loan_garden.html"
    form_class = GardenForm
    done = gettext_lazy("The garden was changed.")

    def dispatch(self, request, *args, **kwargs):
        user = request.user
        if user.is_authenticated and not user.has_perm(COORDINATE):
            get_object_or_404(Loan.objects.filter(borrower=user), pk=kwargs["pk"])
        return super().dispatch(request, *args, **kwargs)

    def get_form_kwargs(self) -> dict:
        return super().get_form_kwargs() | {"borrower": self.loan.borrower}

    def get_initial(self) -> dict:
        return {"garden": self.loan.garden_id}

    def act(self, form):
        return services.change_garden(
            loan=self.loan, on=self.today, by=self.asker, **form.cleaned_data
        )


class HandOver(DeskPage, VerbButton):
    rows = Loan.objects.all()
    done: StrOrPromise = gettext_lazy("Handed over.")

    def act(self, row):
        together = services.hand_over_together(loan=row, on=self.today, by=self.asker)
        if len(together) > 1:
            self.done = _("Handed over: all %(n)s packets that go together.") % {
                "n": len(together)
            }
        return f"{reverse('desk')}?member={row.borrower_id}"


class TakeBack(DeskPage, VerbButton):
    rows = Loan.objects.all()
    done = gettext_lazy("The packet is back on the shelf.")

    def act(self, row):
        services.take_back_unopened(loan=row, on=self.today, by=self.asker)
        return f"{reverse('desk')}?member={row.borrower_id}"


class CancelLoan(MemberPage, VerbButton):
    rows = Loan.objects.all()
    done = gettext_lazy("The packet is back on the shelf.")

    def act(self, row):
        services.cancel_uncollected(loan=row, on=self.today, by=self.asker)
        return reverse("my-seed" if row.borrower == self.asker else "desk")
