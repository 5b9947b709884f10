"""What an administrator sees of the outbox: how mail fares, never what it says."""

from __future__ import annotations

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from library.outbox.models import Message, Periodic
from library.outbox.services import try_again

ADMINISTER = "accounts.administer"  # by name: the accounts lie above the outbox


class ReadOnlyAdmin(admin.ModelAdmin):
    def has_view_permission(self, request, obj=None) -> bool:
        return request.user.has_perm(ADMINISTER)

    def has_module_permission(self, request) -> bool:
        return request.user.has_perm(ADMINISTER)

    def has_add_permission(self, request) -> bool:
        return False

    def has_change_permission(self, request, obj=None) -> bool:
        return False

    def has_delete_permission(self, request, obj=None) -> bool:
        return False


@admin.register(Message)
class MessageAdmin(ReadOnlyAdmin):
    fields = readonly_fields = (
        "to", "subject", "created_at", "not_before", "attempts", "last_error", "sent_at",
        "failed_at", "dropped_at",
    )  # fmt: skip
    list_display = ["to", "subject", "created_at", "attempts", "sent_at", "failed_at"]
    list_filter = ["sent_at", "failed_at"]
    actions = ["deliver_again"]

    @admin.action(description=_("Try to deliver again"), permissions=["view"])
    def deliver_again(self, request, queryset) -> None:
        again = sum(try_again(message=message) for message in queryset)
        self.message_user(request, _("%(n)d will be tried again.") % {"n": again})


@admin.register(Periodic)
class PeriodicAdmin(ReadOnlyAdmin):
    list_display = readonly_fields = ("name", "last_run_at", "last_finished_at", "last_error")
