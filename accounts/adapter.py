"""How allauth lets people in: who may sign up, and by which invitation."""

from __future__ import annotations

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest
from django.utils import timezone

from accounts.models import Community, Invitation

HELD_INVITATION = "invitation"


class MemberAdapter(DefaultAccountAdapter):
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return Community.current().open_to_applications or held_invitation(request) is not None


def hold_invitation(request: HttpRequest, invitation: Invitation) -> None:
    """Remember, for this browser, which invitation's link was opened."""
    request.session[HELD_INVITATION] = str(invitation.key)


def held_invitation(request: HttpRequest) -> Invitation | None:
    """The invitation whose link was opened in this browser, while it is still good."""
    key = request.session.get(HELD_INVITATION)
    if key is None:
        return None
    return Invitation.objects.usable(timezone.now()).filter(key=key).first()


def let_invitation_go(request: HttpRequest) -> None:
    request.session.pop(HELD_INVITATION, None)
