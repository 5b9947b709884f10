"""Invitations: a coordinator's yes before the question."""

from __future__ import annotations

import datetime as dt
import uuid

from allauth.account.models import EmailAddress
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts import mail
from accounts.models import Invitation, Member, Membership, MembershipEvent
from accounts.roles import ADMINISTER, COORDINATE, PERMISSIONS_OF, Role
from accounts.services.checks import clean, must_hold, tidy_email
from accounts.services.history import tell
from accounts.services.membership import new_member
from library.errors import Conflict, Refused

GOOD_FOR = dt.timedelta(days=21)


class UnknownInvitation(Refused):
    """A key that belongs to no invitation (404)."""

    status = 404
    code = "unknown_invitation"


@transaction.atomic
def invite(*, email: str, by: Member, role: str = Role.MEMBER) -> Invitation:
    """Invite an address; only an administrator invites coordinators and administrators."""
    must_hold(by, COORDINATE)
    now = timezone.now()
    invitation = Invitation(
        email=tidy_email(email),
        role=role,
        invited_by=by,
        invited_at=now,
        expires_at=now + GOOD_FOR,
    )
    clean(invitation, but=("invited_by", "accepted_by"))
    if COORDINATE in PERMISSIONS_OF[invitation.role]:
        must_hold(by, ADMINISTER)
    _refuse_if_known(invitation.email)
    expired = Invitation.objects.open().filter(email=invitation.email, expires_at__lte=now)
    expired.update(withdrawn_at=now)
    try:
        with transaction.atomic():
            invitation.save()
    except IntegrityError as error:
        raise Conflict(
            _("%(email)s is already invited. Withdraw that invitation to send a new one.")
            % {"email": invitation.email},
            field="email",
        ) from error
    _send(invitation)
    return invitation


def _refuse_if_known(email: str) -> None:
    member = Member.objects.filter(email=email).first()
    if member is None:
        return
    if member.membership == Membership.APPROVED:
        raise Refused(_("%(email)s is already a member.") % {"email": email}, field="email")
    raise Refused(
        _("%(email)s has already applied. Approve the application instead.") % {"email": email},
        field="email",
    )


def _send(invitation: Invitation) -> None:
    mail.send_to_address(
        "invitation",
        email=invitation.email,
        key=f"invitation:{invitation.key}",
        context={"invitation": invitation},
        path="invitation",
        path_arguments={"key": invitation.key},
        source=f"invitation:{invitation.pk}",
    )


@transaction.atomic
def withdraw_invitation(*, invitation: Invitation, by: Member) -> Invitation:
    must_hold(by, COORDINATE)
    open_row = Invitation.objects.open().filter(pk=invitation.pk)
    if not open_row.update(withdrawn_at=timezone.now()):
        raise Conflict(_("This invitation was already used or withdrawn."))
    invitation.refresh_from_db()
    return invitation


@transaction.atomic
def accept_invitation(
    *, key: uuid.UUID | str, display_name: str, password: str | None, introduction: str = ""
) -> Member:
    """Become a member at once, with the invitation's role.

    The link went to the invited address alone, so whoever has it has read mail there: the
    address counts as confirmed.
    """
    invitation = usable_invitation(key)
    member = new_member(
        email=invitation.email,
        password=password,
        display_name=display_name,
        introduction=introduction,
        role=invitation.role,
        membership=Membership.APPROVED,
        decided_at=timezone.now(),
        decided_by_id=invitation.invited_by_id,
    )
    _use(invitation, member)
    return member


@transaction.atomic
def accept_as_applicant(*, key: uuid.UUID | str, member: Member) -> Member:
    """The same for somebody who applied from the invited address before the mail came."""
    invitation = usable_invitation(key)
    if invitation.email != member.email:
        raise Refused(_("This invitation was sent to another email address."))
    waiting = Member.objects.filter(
        pk=member.pk, membership__in=[Membership.APPLIED, Membership.DECLINED]
    )
    if not waiting.update(
        membership=Membership.APPROVED,
        role=invitation.role,
        decided_at=timezone.now(),
        decided_by=invitation.invited_by_id,
    ):
        raise Conflict(_("You are already a member."))
    EmailAddress.objects.filter(user=member, email=invitation.email).update(verified=True)
    member.refresh_from_db()
    _use(invitation, member)
    return member


def usable_invitation(key: uuid.UUID | str) -> Invitation:
    """The invitation of this key, or a refusal that says why it is no use any more."""
    invitation = (
        Invitation.objects.select_related("invited_by").filter(key=_as_uuid(key)).first()
    )
    if invitation is None:
        raise UnknownInvitation(
            _("There is no such invitation. Copy the whole link from the mail.")
        )
    if invitation.accepted_at:
        raise Conflict(_("This invitation was already used. Sign in instead."))
    if invitation.withdrawn_at:
        raise Conflict(_("This invitation was withdrawn. Ask your library for a new one."))
    if invitation.expires_at <= timezone.now():
        raise Conflict(_("This invitation has expired. Ask your library for a new one."))
    return invitation


def _as_uuid(key: uuid.UUID | str) -> uuid.UUID:
    """The key, or one that belongs to no invitation."""
    try:
        return key if isinstance(key, uuid.UUID) else uuid.UUID(str(key))
    except ValueError:
        return uuid.UUID(int=0)


def _use(invitation: Invitation, member: Member) -> None:
    """Exactly one person uses it, whoever else reads the same link at this moment."""
    now = timezone.now()
    usable = Invitation.objects.usable(now).filter(pk=invitation.pk)
    if not usable.update(accepted_at=now, accepted_by=member):
        raise Conflict(_("This invitation was used or withdrawn a moment ago."))
    tell(MembershipEvent.Kind.INVITED, member, by=invitation.invited_by)
