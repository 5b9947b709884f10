"""Looking at the desk's records in Django's admin. They are changed through the services."""

from __future__ import annotations

from django.contrib import admin

from accounts.admin import ReadOnlyAdmin
from library.lending.models import Deposit, LendingRules, Loan, Return


@admin.register(Loan)
class LoanAdmin(ReadOnlyAdmin):
    list_display = ["pk", "packet", "borrower", "lent_on", "due_on", "outcome"]
    list_filter = ["outcome"]
    list_select_related = ["packet", "borrower"]


@admin.register(Deposit)
class DepositAdmin(ReadOnlyAdmin):
    list_display = ["pk", "what", "depositor", "state", "proposed_at"]
    list_filter = ["state"]
    list_select_related = ["depositor", "variety"]


@admin.register(Return)
class ReturnAdmin(ReadOnlyAdmin):
    list_display = ["pk", "member", "state", "announced_at", "lot"]
    list_filter = ["state"]
    list_select_related = ["member", "lot"]


@admin.register(LendingRules)
class LendingRulesAdmin(ReadOnlyAdmin):
    list_display = ["max_open_loans", "max_packets_of_variety", "grace_days", "reserve_sowings"]
