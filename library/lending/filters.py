"""What the lists can be asked for."""

from __future__ import annotations

from typing import Any

import django_filters
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.catalogue.models import Variety
from library.lending.models import Deposit, Loan, Return

LOAN_STATES = [
    ("to_collect", _("to be handed over")),
    ("out", _("handed over and open")),
    ("open", _("open, handed over or not")),
    ("overdue", _("open and due before today")),
    ("closed", _("closed")),
]


class _Mine(django_filters.FilterSet):
    """``mine=true``: one's own only, also for the desk, which sees everybody's."""

    mine = django_filters.BooleanFilter(method="only_mine", label=_("only my own"))

    def only_mine(self, rows: Any, name: str, mine: bool) -> QuerySet:
        return rows.of(self.request.user) if mine else rows


class LoanFilter(_Mine):
    state = django_filters.ChoiceFilter(choices=LOAN_STATES, method="in_state")
    due_from = django_filters.DateFilter("due_on", "gte")
    due_until = django_filters.DateFilter("due_on", "lte")
    variety = django_filters.ModelChoiceFilter(
        field_name="packet__lot__variety", queryset=Variety.objects.all()
    )
    outcome = django_filters.ChoiceFilter(choices=Loan.Outcome)

    class Meta:
        model = Loan
        fields: list[str] = []

    def in_state(self, loans: Any, name: str, state: str) -> QuerySet:
        if state == "overdue":
            return loans.overdue(timezone.localdate())
        if state == "out":
            return loans.open().collected()
        words = {"to_collect": loans.to_hand_over, "open": loans.open, "closed": loans.closed}
        return words[state]()


class DepositFilter(_Mine):
    state = django_filters.ChoiceFilter(choices=Deposit.State)
    variety = django_filters.ModelChoiceFilter(queryset=Variety.objects.all())

    class Meta:
        model = Deposit
        fields: list[str] = []


class ReturnFilter(_Mine):
    state = django_filters.ChoiceFilter(choices=Return.State)
    variety = django_filters.ModelChoiceFilter(
        field_name="loan_links__loan__packet__lot__variety",
        queryset=Variety.objects.all(),
        distinct=True,
    )

    class Meta:
        model = Return
        fields: list[str] = []
