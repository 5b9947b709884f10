"""Invitations: used once, by the invited, while they are good."""

from __future__ import annotations

import datetime as dt

import pytest
from allauth.account.models import EmailAddress
from django.utils import timezone

from accounts import services
from accounts.models import (
    Invitation,
    Member,
    MembershipEvent,
)
from accounts.roles import Role
from library.errors import Conflict, NotAllowed, Refused
from library.outbox.models import Message

Kind = MembershipEvent.Kind
PASSWORD = "a-long-password"


def history(member):
    return list(member.events.values_list("kind", "by__display_name", "note"))


def apply(**given):
    asked = {"email": "lark@example.org", "password": PASSWORD, "display_name": "lark", **given}
    return services.apply(**asked)


def test_who_uses_an_invitation_is_a_member_at_once_with_its_role(administrator):
    invitation = services.invite(
        email="Lark@Example.org", role=Role.COORDINATOR, by=administrator
    )
    member = services.accept_invitation(
        key=invitation.key, display_name="lark", password=PASSWORD
    )

    assert member.is_approved
    assert (member.email, member.role) == ("lark@example.org", Role.COORDINATOR)
    assert list(EmailAddress.objects.filter(user=member).values_list("verified")) == [(True,)]
    assert history(member) == [(Kind.INVITED, "swan", "")]


def test_an_invitation_is_sent_to_the_invited_address_with_its_link(coordinator):
    invitation = services.invite(email="lark@example.org", by=coordinator)

    letter = Message.objects.get()
    assert letter.to == "lark@example.org"
    assert f"/account/invitation/{invitation.key}/" in letter.text
    assert f"/account/invitation/{invitation.key}/" in letter.html


def test_an_invitation_is_used_once(coordinator):
    invitation = services.invite(email="lark@example.org", by=coordinator)
    services.accept_invitation(key=invitation.key, display_name="lark", password=PASSWORD)

    with pytest.raises(Conflict, match="already used"):
        services.accept_invitation(key=invitation.key, display_name="finch", password=PASSWORD)

    assert not Member.objects.filter(display_name="finch").exists()


def test_an_expired_invitation_is_refused_and_can_be_sent_anew(coordinator):
    old = services.invite(email="lark@example.org", by=coordinator)
    Invitation.objects.update(expires_at=timezone.now() - dt.timedelta(seconds=1))

    with pytest.raises(Conflict, match="has expired"):
        services.accept_invitation(key=old.key, display_name="lark", password=PASSWORD)
    new = services.invite(email="lark@example.org", by=coordinator)

    assert Member.objects.count() == 1
    assert list(Invitation.objects.open()) == [new]


def test_a_withdrawn_invitation_is_refused(coordinator):
    invitation = services.invite(email="lark@example.org", by=coordinator)
    services.withdraw_invitation(invitation=invitation, by=coordinator)

    with pytest.raises(Conflict, match="was withdrawn"):
        services.accept_invitation(key=invitation.key, display_name="lark", password=PASSWORD)
    with pytest.raises(Conflict):
        services.withdraw_invitation(invitation=invitation, by=coordinator)


@pytest.mark.parametrize("key", ["", "nonsense", "9d5b6a3e-6f0e-4a0e-9a51-2f5f7f0f6d11"])
def test_a_key_of_no_invitation_is_refused(db, key):
    with pytest.raises(Refused, match="no such invitation"):
        services.accept_invitation(key=key, display_name="lark", password=PASSWORD)


def test_an_address_has_one_open_invitation(coordinator):
    services.invite(email="lark@example.org", by=coordinator)

    with pytest.raises(Conflict, match="already invited"):
        services.invite(email="LARK@example.org", by=coordinator)

    assert Message.objects.count() == 1


def test_members_and_applicants_are_not_invited(coordinator, member, applicant):
    for somebody, sentence in [(member, "already a member"), (applicant, "already applied")]:
        with pytest.raises(Refused, match=sentence):
            services.invite(email=somebody.email, by=coordinator)


@pytest.mark.parametrize("role", [Role.COORDINATOR, Role.ADMINISTRATOR])
def test_a_coordinator_cannot_invite_somebody_of_their_own_rank_or_above(coordinator, role):
    with pytest.raises(NotAllowed):
        services.invite(email="lark@example.org", role=role, by=coordinator)


def test_an_invitation_to_an_unknown_role_is_refused(administrator):
    with pytest.raises(Refused) as refused:
        services.invite(email="lark@example.org", role="emperor", by=administrator)

    assert refused.value.field == "role"


def test_an_applicant_who_is_invited_too_is_approved_by_the_link(coordinator):
    invitation = services.invite(email="lark@example.org", by=coordinator, role=Role.DESK)
    applicant = apply()

    member = services.accept_as_applicant(key=invitation.key, member=applicant)

    assert member.is_approved
    assert member.role == Role.DESK


def test_somebody_elses_invitation_does_not_let_an_applicant_in(coordinator, applicant):
    invitation = services.invite(email="lark@example.org", by=coordinator)

    with pytest.raises(Refused, match="another email address"):
        services.accept_as_applicant(key=invitation.key, member=applicant)

    assert Invitation.objects.open().count() == 1
