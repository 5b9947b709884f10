"""Signing in by email, and roles as Django permissions."""

from __future__ import annotations

from allauth.account.auth_backends import AuthenticationBackend

from accounts.roles import PERMISSIONS_OF


class RoleBackend(AuthenticationBackend):
    """Gives an approved member the permissions of their role, and nobody else any.

    It is the only backend: groups and single permissions are not used, and not looked up.
    """

    def get_user_permissions(self, user_obj, obj=None) -> set[str]:
        if obj is not None or not getattr(user_obj, "is_approved", False):
            return set()
        return set(PERMISSIONS_OF[user_obj.role])

    def get_group_permissions(self, user_obj, obj=None) -> set[str]:
        return set()

    def get_all_permissions(self, user_obj, obj=None) -> set[str]:
        return self.get_user_permissions(user_obj, obj)

    def has_perm(self, user_obj, perm, obj=None) -> bool:
        return perm in self.get_user_permissions(user_obj, obj)

    def has_module_perms(self, user_obj, app_label) -> bool:
        return app_label == "accounts" and bool(self.get_user_permissions(user_obj))
