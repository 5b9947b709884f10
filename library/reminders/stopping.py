"""The link by which a kind of reminder is stopped without signing in (RFC 8058).

Of a mail that gathers many kinds it stops every kind that was not promised.
"""

from __future__ import annotations

from django.conf import settings
from django.core import signing
from django.urls import reverse

from accounts.models import Member

EVERY_KIND = "every-kind"  # that was not promised; no app declares a kind of this name
SALT = "library.reminders.stop"


def stop_link(member: Member, kind: str) -> str:
    """The whole address; whoever holds it can stop this kind for this member, nothing else."""
    token = signing.dumps([member.pk, kind], salt=SALT, compress=False)
    return settings.SITE_URL + reverse("reminder-stop", args=[token])


def read_stop(token: str) -> tuple[Member, str] | None:
    """The member and the kind; None when the link is not ours, or they have left."""
    try:
        key, kind = signing.loads(token, salt=SALT)
        member = Member.objects.active().get(pk=key)
    except (signing.BadSignature, ValueError, TypeError, Member.DoesNotExist):
        return None
    return member, kind
