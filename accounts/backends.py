"""Roles as Django permissions."""

from __future__ import annotations

from django.contrib.auth.backends import BaseBackend

from accounts.roles import PERMISSIONS_OF


class RoleBackend(BaseBackend):
    """Gives an approved member the permissions of their role, and nobody else any."""

    def get_user_permissions(self, user_obj, obj=None) -> set[str]:
        if obj is not None or not getattr(user_obj, "is_approved", False):
            return set()
        return set(PERMISSIONS_OF[user_obj.role])

    def get_all_permissions(self, user_obj, obj=None) -> set[str]:
        return self.get_user_permissions(user_obj, obj)

    def has_perm(self, user_obj, perm, obj=None) -> bool:
        return perm in self.get_user_permissions(user_obj, obj)

    def has_module_perms(self, user_obj, app_label) -> bool:
        return app_label == "accounts" and bool(self.get_user_permissions(user_obj))
