"""Django's admin, for administrators to look: changes go through the pages and the services."""

from __future__ import annotations

from allauth.account.decorators import secure_admin_login
from django.contrib import admin

from accounts.models import ApiToken, Community, Garden, Invitation, Member, MembershipEvent
from accounts.roles import ADMINISTER

# Signing in to the admin is signing in to the site: confirmed email, second factor, limits.
admin.site.login = secure_admin_login(admin.site.login)  # type: ignore[method-assign]


class ReadOnly:
    """Administrators read; nobody writes past the services. For admins and their inlines."""

    def has_view_permission(self, request, obj=None) -> bool:
        return request.user.has_perm(ADMINISTER)

    def has_module_permission(self, request) -> bool:
        return request.user.has_perm(ADMINISTER)

    def has_add_permission(self, request, *args) -> bool:
        return False

    def has_change_permission(self, request, obj=None) -> bool:
        return False

    def has_delete_permission(self, request, obj=None) -> bool:
        return False


class ReadOnlyAdmin(ReadOnly, admin.ModelAdmin):
    pass


@admin.register(Member)
class MemberAdmin(ReadOnlyAdmin):
    list_display = ["display_name", "email", "role", "membership", "applied_at"]
    list_filter = ["role", "membership"]
    search_fields = ["display_name", "email"]
    exclude = ["password", "groups", "user_permissions", "display_name_key"]


@admin.register(MembershipEvent)
class MembershipEventAdmin(ReadOnlyAdmin):
    list_display = ["at", "member", "kind", "role", "by"]
    list_filter = ["kind"]
    list_select_related = ["member", "by"]


@admin.register(Invitation)
class InvitationAdmin(ReadOnlyAdmin):
    list_display = ["email", "role", "invited_by", "invited_at", "expires_at", "accepted_at"]
    list_select_related = ["invited_by"]
    exclude = ["key"]


@admin.register(Garden)
class GardenAdmin(ReadOnlyAdmin):
    list_display = ["name", "member", "placed", "is_default"]
    list_select_related = ["member"]


@admin.register(ApiToken)
class ApiTokenAdmin(ReadOnlyAdmin):
    list_display = ["name", "user", "created", "last_used_at"]
    list_select_related = ["user"]
    exclude = ["digest"]


@admin.register(Community)
class CommunityAdmin(ReadOnlyAdmin):
    list_display = ["name", "place", "open_to_applications", "catalogue_is_public"]
