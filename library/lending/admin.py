"""Looking at the desk's records in Django's admin. They are changed through the services."""

from __future__ import annotations

from django.contrib import admin

from library.lending.models import Deposit, LendingRules, Loan, Return


class ReadOnly(admin.ModelAdmin):
    def has_add_permission(self, request) -> bool:
        return False

    def has_change_permission(self, request, obj=None) -> bool:
        return False

    def has_delete_permission(self, request, obj=None) -> bool:
        return False


@admin.register(Loan)
class LoanAdmin(ReadOnly):
    list_display = ["pk", "packet", "borrower", "lent_on", "due_on", "outcome"]
    list_filter = ["outcome"]
    list_select_related = ["packet", "borrower"]


@admin.register(Deposit)
class DepositAdmin(ReadOnly):
    list_display = ["pk", "what", "depositor", "state", "proposed_at"]
    list_filter = ["state"]
    list_select_related = ["depositor", "variety"]


@admin.register(Return)
class ReturnAdmin(ReadOnly):
    list_display = ["pk", "member", "state", "announced_at", "lot"]
    list_filter = ["state"]
    list_select_related = ["member", "lot"]


@admin.register(LendingRules)
class LendingRulesAdmin(ReadOnly):
    list_display = ["max_open_loans", "max_packets_of_variety", "grace_days", "reserve_sowings"]
