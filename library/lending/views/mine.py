"""One's own seed, and the rules that everybody lends and borrows by."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.generic import TemplateView

from accounts.access import CoordinatorPage, MemberPage
from library.catalogue.models import Caution
from library.lending import services
from library.lending.forms.rules import RulesForm
from library.lending.models import Deposit, LendingRules, Loan, Return
from library.lending.views.base import VerbPage
from library.provenance.warnings import warnings_of_lots
from library.stock.models import Lot

SHOWN = 30


class MySeedPage(MemberPage, TemplateView):
    """What I have out and when it is due, what I brought, and what I grew."""

    template_name = "lending/my_seed.html"

    def get_context_data(self, **kwargs) -> dict:
        user = self.request.user
        loans = Loan.objects.of(user).with_details()
        history = Paginator(loans.closed().order_by("-closed_on", "-pk"), SHOWN)
        announced = loans.announced().values_list("pk", flat=True)
        out = list(loans.open())
        return super().get_context_data(
            loans=out,
            off_types=warnings_of_lots([loan.packet.lot for loan in out]),
            announced=set(announced),
            page_obj=history.get_page(self.request.GET.get("page")),
            deposits=Deposit.objects.of(user).with_details()[:SHOWN],
            returns=Return.objects.of(user).with_details()[:SHOWN],
            grown=Lot.objects.filter(grower=user).with_variety()[:SHOWN],
            rules=LendingRules.current(),
            today=timezone.localdate(),
            **kwargs,
        )


class ExchangeRulesPage(TemplateView):
    """The rules of exchange: anyone may read them before joining."""

    template_name = "lending/exchange_rules.html"

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(
            rules=LendingRules.current(),
            cautions=Caution.objects.filter(for_everything=True).order_by("topic"),
            **kwargs,
        )


class LendingRulesPage(CoordinatorPage, VerbPage):
    template_name = "lending/rules.html"
    form_class = RulesForm
    done = gettext_lazy("The rules are kept. Loans that are out stay as they are.")

    def get_form_kwargs(self) -> dict:
        return super().get_form_kwargs() | {"instance": LendingRules.current()}

    def act(self, form):
        services.change_lending_rules(by=self.asker, **form.cleaned_data)
        return reverse("lending-rules")
