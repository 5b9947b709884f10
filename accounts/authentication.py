"""Who calls the API: a member's token."""

from __future__ import annotations

import datetime as dt

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from knox.auth import TokenAuthentication as KnoxAuthentication
from rest_framework.exceptions import AuthenticationFailed

from accounts.models import ApiToken, Member

NOTED_AT_MOST_EVERY = dt.timedelta(minutes=1)


class TokenAuthentication(KnoxAuthentication):
    """``Authorization: Token …`` of an approved member; anything else is 401."""

    def authenticate_credentials(self, token: bytes) -> tuple[Member, ApiToken]:
        try:
            token.decode("ascii")
        except UnicodeDecodeError as error:
            raise AuthenticationFailed(_("Invalid token.")) from error
        return super().authenticate_credentials(token)

    def _cleanup_token(self, auth_token: ApiToken) -> bool:
        """Our tokens do not expire; the base class would read all of a member's each time."""
        return False

    def validate_user(self, auth_token: ApiToken) -> tuple[Member, ApiToken]:
        if not auth_token.user.is_approved:
            raise AuthenticationFailed(_("This token's owner is not a member."))
        note_use(auth_token)
        return auth_token.user, auth_token


def note_use(token: ApiToken) -> None:
    """Remember when a token was last used, to the minute: one write, not one for each call."""
    now = timezone.now()
    before = now - NOTED_AT_MOST_EVERY
    if token.last_used_at is not None and token.last_used_at > before:
        return
    stale = Q(last_used_at=None) | Q(last_used_at__lte=before)
    ApiToken.objects.filter(stale, pk=token.pk).update(last_used_at=now)
