"""Keys for scripts. The secret is shown once; only its digest is kept."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import ApiToken, Member
from accounts.services.checks import clean
from library.errors import NotAllowed, Refused

MOST_TOKENS = 20


@transaction.atomic
def make_token(*, member: Member, name: str) -> tuple[ApiToken, str]:
    """A new token and its secret, which cannot be had again."""
    member = Member.objects.select_for_update().get(pk=member.pk)
    if not member.is_approved:
        raise NotAllowed(_("Only an approved member can make a token."))
    name = " ".join(name.split())
    clean(ApiToken(name=name), but=("digest", "token_key", "user", "expiry"))
    if ApiToken.objects.filter(user=member).count() >= MOST_TOKENS:
        raise Refused(
            _("You have %(most)d tokens. Revoke one that you no longer use.")
            % {"most": MOST_TOKENS}
        )
    return ApiToken.objects.create(user=member, expiry=None, name=name)


@transaction.atomic
def revoke_token(*, token: ApiToken, by: Member) -> None:
    """From now on the token opens nothing. Revoking it twice is revoking it once."""
    if token.user_id != by.pk:
        raise NotAllowed(_("Only the member whose token it is can revoke it."))
    ApiToken.objects.filter(pk=token.pk).delete()
