"""How allauth makes a member of ours."""

from __future__ import annotations

from allauth.account.adapter import DefaultAccountAdapter

from accounts.models import Community


class MemberAdapter(DefaultAccountAdapter):
    def is_open_for_signup(self, request) -> bool:
        return Community.current().open_to_applications
