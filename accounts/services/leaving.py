"""Leaving, and what the library then forgets."""

from __future__ import annotations

import datetime as dt

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.db import transaction
from django.db.models.functions import Now
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import (
    ApiToken,
    Garden,
    IdempotencyKey,
    Invitation,
    Member,
    Membership,
    MembershipEvent,
)
from accounts.roles import ADMINISTER, COORDINATE
from accounts.services.checks import checked_note, must_hold
from accounts.services.history import tell
from accounts.services.membership import keep_an_administrator, lock_administrators
from library import hooks
from library.errors import Conflict
from library.outbox.models import Message

UNCONFIRMED_FOR = dt.timedelta(days=30)


@transaction.atomic
def leave(*, member: Member, by: Member, keep_name: bool = False, note: str = "") -> Member:
    """End a membership: by the member, or by a coordinator for somebody else.

    The email, the introduction, gardens, keys and second factors are forgotten, and so is the
    name unless ``keep_name``. What was lent, returned and noted stays, under the name left.
    """
    if by.pk != member.pk:
        must_hold(by, COORDINATE)
        if member.has_perm(COORDINATE):
            must_hold(by, ADMINISTER)
    administrators = lock_administrators()
    member = Member.objects.select_for_update().get(pk=member.pk)
    if member.membership == Membership.LEFT:
        raise Conflict(_("%(name)s has already left.") % {"name": member})
    keep_an_administrator(member, administrators)
    note = checked_note(note)
    hooks.tell("member_leaves", member=member, on=timezone.localdate(), by=by)
    forget(member, keep_name=keep_name)
    tell(MembershipEvent.Kind.LEFT, member, by=by, note=note)
    return member


def forget(member: Member, *, keep_name: bool) -> None:
    """Everything personal; the row stays, because loans and lots point to it."""
    email, nowhere = member.email, f"former-{member.pk}@former-member.invalid"
    Garden.objects.filter(member=member).delete()
    ApiToken.objects.filter(user=member).delete()
    IdempotencyKey.objects.filter(member=member).delete()
    Authenticator.objects.filter(user=member).delete()
    EmailAddress.objects.filter(user=member).delete()
    Invitation.objects.filter(accepted_by=member).update(email=nowhere)
    Invitation.objects.open().filter(email=email).update(withdrawn_at=Now(), email=nowhere)
    member.events.update(note="")
    _forget_mail(email, nowhere)
    member.email = nowhere
    if not keep_name:
        member.display_name = _("former member %(number)d") % {"number": member.pk}
    member.introduction = member.decision_note = member.time_zone = member.language = ""
    member.wants_reminders = member.wants_news = member.is_superuser = False
    member.is_active, member.membership = False, Membership.LEFT
    member.last_login = None
    member.set_unusable_password()  # and with it every session ends
    member.save()


@transaction.atomic
def forget_unconfirmed(*, now: dt.datetime, after: dt.timedelta = UNCONFIRMED_FOR) -> int:
    """Delete applications whose email nobody confirmed in time; how many there were.

    Anyone can type another's address: it must not be held for good, nor the name.
    """
    stale = (
        Member.objects.telling_confirmed()
        .filter(membership=Membership.APPLIED, email_is_confirmed=False)
        .filter(last_login=None, applied_at__lt=now - after)
    )
    keys = list(stale.values_list("pk", flat=True))
    Member.objects.filter(pk__in=keys).delete()
    return len(keys)


def _forget_mail(email: str, nowhere: str) -> None:
    """Waiting mail is not sent any more; of sent mail the address and the words go."""
    mail = Message.objects.filter(to=email)
    mail.filter(sent_at=None, failed_at=None, dropped_at=None).update(dropped_at=Now())
    mail.update(to=nowhere, subject="", text="", html="")
