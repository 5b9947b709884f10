"""Applying, being answered, and roles."""

from __future__ import annotations

import datetime as dt

from allauth.account.models import EmailAddress
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts import mail
from accounts.models import Community, Member, Membership, MembershipEvent
from accounts.roles import ADMINISTER, COORDINATE, Role
from accounts.services.checks import checked_note, clean, free_name, must_hold, tidy_email
from accounts.services.history import tell
from library.errors import Conflict, Refused

Kind = MembershipEvent.Kind


@transaction.atomic
def apply(
    *, email: str, password: str | None, display_name: str, introduction: str = ""
) -> Member:
    """Ask to become a member. The email is still to be confirmed by its owner."""
    if not Community.current().open_to_applications:
        raise Refused(_("This library takes new members by invitation only."))
    member = new_member(
        email=email,
        password=password,
        display_name=display_name,
        introduction=introduction,
        confirmed=False,
    )
    tell(Kind.APPLIED, member, by=member)
    return member


@transaction.atomic
def make_member(
    *,
    email: str,
    display_name: str,
    role: str = Role.MEMBER,
    membership: str = Membership.APPROVED,
    password: str | None = None,
    at: dt.datetime | None = None,
    by: Member | None = None,
    **preferences,
) -> Member:
    """A member with a confirmed email, without application or invitation.

    For whoever runs the machine (``manage.py member``) and for the demo community; ``by`` is
    None for the former. Without a password the member sets one by the reset link.
    """
    member = new_member(
        email=email,
        password=password,
        display_name=display_name,
        role=role,
        membership=membership,
        applied_at=at or timezone.now(),
        decided_at=(at or timezone.now()) if membership == Membership.APPROVED else None,
        **preferences,
    )
    kind = Kind.ADDED if membership == Membership.APPROVED else Kind.APPLIED
    event = tell(kind, member, by=by)
    if at is not None:
        MembershipEvent.objects.filter(pk=event.pk).update(at=at)
    return member


def new_member(
    *, email: str, password: str | None, display_name: str, confirmed: bool = True, **fields
) -> Member:
    """The rows of a new person; the caller holds the transaction and tells the history."""
    member = Member(email=tidy_email(email), display_name=free_name(display_name), **fields)
    clean(member, but=("password", "display_name_key", "decided_by"))
    if Member.objects.filter(email=member.email).exists():
        raise _email_taken()
    member.set_password(password)
    try:
        with transaction.atomic():
            member.save()
            EmailAddress.objects.create(
                user=member, email=member.email, primary=True, verified=confirmed
            )
    except IntegrityError as error:  # somebody took the email or the name this very moment
        raise Conflict(
            _("This email or name was taken a moment ago. Choose another.")
        ) from error
    return member


def _email_taken() -> Refused:
    return Refused(_("Somebody here already has this email address."), field="email")


@transaction.atomic
def announce_application(*, member: Member) -> None:
    """Tell the coordinators, once the email is confirmed; telling twice is telling once."""
    if member.membership != Membership.APPLIED:
        return
    for coordinator in Member.objects.coordinators():
        mail.send(
            "new_application",
            to=coordinator,
            key=f"application:{member.pk}:{coordinator.pk}",
            context={"applicant": member},
            path="members",
            source=f"application:{member.pk}:{coordinator.pk}",
        )


@transaction.atomic
def approve(*, member: Member, by: Member, note: str = "") -> Member:
    """Let an applicant in; also one who was declined before."""
    must_hold(by, COORDINATE)
    return _answer(member, Membership.APPROVED, by=by, note=note)


@transaction.atomic
def decline(*, member: Member, by: Member, note: str = "") -> Member:
    """Say no to an applicant, with a word why; it may be changed to yes later."""
    must_hold(by, COORDINATE)
    return _answer(member, Membership.DECLINED, by=by, note=note)


ANSWERABLE: dict[str, list[Membership]] = {
    Membership.APPROVED: [Membership.APPLIED, Membership.DECLINED],
    Membership.DECLINED: [Membership.APPLIED],
}


def _answer(member: Member, answer: str, *, by: Member | None, note: str) -> Member:
    """One conditional update decides which of two coordinators was first."""
    note = checked_note(note)
    now = timezone.now()
    waiting = Member.objects.filter(pk=member.pk, membership__in=ANSWERABLE[answer])
    if not waiting.update(membership=answer, decided_at=now, decided_by=by, decision_note=note):
        member.refresh_from_db()
        raise Conflict(
            _("%(name)s has been answered already: %(membership)s.")
            % {"name": member, "membership": member.get_membership_display().lower()}
        )
    member.refresh_from_db()
    event = tell(answer, member, by=by, note=note)
    mail.send(
        answer,
        to=member,
        key=f"membership:{event.pk}",
        context={"note": note},
        path="home",
        source=f"member:{member.pk}",
    )
    return member


@transaction.atomic
def change_role(*, member: Member, role: str, by: Member, note: str = "") -> Member:
    """Give an approved member another role; the library always keeps one administrator."""
    must_hold(by, ADMINISTER)
    if role not in Role.values:
        raise Refused(
            _("“%(role)s” is not a role. Choose one of: %(roles)s.")
            % {"role": str(role)[:40], "roles": ", ".join(Role.values)},
            field="role",
        )
    administrators = lock_administrators()
    member = Member.objects.select_for_update().get(pk=member.pk)
    if not member.is_approved:
        raise Refused(_("Only an approved member can have a role."), field="role")
    if member.role == role:
        return member
    if role != Role.ADMINISTRATOR:
        keep_an_administrator(member, administrators)
    before, member.role = member.role, role
    member.is_superuser = False
    member.save(update_fields=["role", "is_superuser"])
    tell(Kind.ROLE, member, by=by, note=checked_note(note), role_before=before)
    return member


def lock_administrators() -> list[int]:
    """Keys of all administrators, locked in order: two who demote each other take turns."""
    rows = Member.objects.administrators().order_by("pk").select_for_update()
    return list(rows.values_list("pk", flat=True))


def keep_an_administrator(member: Member, administrators: list[int]) -> None:
    if administrators == [member.pk]:
        raise Refused(
            _("%(name)s is the last administrator. Make somebody else an administrator first.")
            % {"name": member}
        )
