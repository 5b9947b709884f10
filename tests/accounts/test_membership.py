"""Applying, being answered, and roles."""

from __future__ import annotations

import pytest
from allauth.account.models import EmailAddress

from accounts import services
from accounts.models import (
    Member,
    Membership,
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


# Applying -------------------------------------------------------------------------------


def test_an_application_waits_unconfirmed_and_is_written_in_the_history(db):
    member = apply(introduction="I grow beans.")

    assert (member.membership, member.role) == (Membership.APPLIED, Role.MEMBER)
    assert member.check_password(PASSWORD)
    assert list(EmailAddress.objects.values_list("email", "verified")) == [
        ("lark@example.org", False)
    ]
    assert history(member) == [(Kind.APPLIED, "lark", "")]


def test_an_email_in_capitals_is_the_same_email(db):
    apply(email="  LARK@Example.ORG ")

    with pytest.raises(Refused) as refused:
        apply(email="lark@example.org", display_name="another lark")

    assert refused.value.field == "email"
    assert Member.objects.get().email == "lark@example.org"


@pytest.mark.parametrize("email", ["", "lark", "lark@", "@example.org", "a b@example.org"])
def test_an_email_that_is_none_is_refused(db, email):
    with pytest.raises(Refused) as refused:
        apply(email=email)

    assert refused.value.field == "email"
    assert Member.objects.count() == 0


def test_a_library_that_is_closed_takes_no_applications(db):
    services.save_community(by=None, open_to_applications=False)

    with pytest.raises(Refused, match="by invitation only"):
        apply()

    assert Member.objects.count() == 0


def test_an_application_counts_as_waiting_once_its_email_is_confirmed(db):
    member = apply()
    before = list(Member.objects.waiting())
    EmailAddress.objects.update(verified=True)

    assert before == []
    assert list(Member.objects.waiting()) == [member]


def test_each_coordinator_is_told_once_of_an_application(applicant, coordinator, member):
    services.announce_application(member=applicant)
    services.announce_application(member=applicant)

    assert list(Message.objects.values_list("to", flat=True)) == [coordinator.email]


def test_the_letter_to_the_coordinators_names_the_applicant_but_not_the_email(
    applicant, coordinator
):
    services.announce_application(member=applicant)

    letter = Message.objects.get()
    assert letter.subject == "fledgling would like to join Seed library"
    assert applicant.email not in letter.text + letter.html + letter.subject


# Being answered -------------------------------------------------------------------------


def test_an_approved_applicant_is_a_member_and_is_told(applicant, coordinator):
    member = services.approve(member=applicant, by=coordinator, note="See you on Saturday.")

    assert member.is_approved
    assert member.decided_by == coordinator
    assert history(member) == [(Kind.APPROVED, "owl", "See you on Saturday.")]
    letter = Message.objects.get()
    assert (letter.to, letter.subject) == (member.email, "Welcome to Seed library")
    assert "See you on Saturday." in letter.text


def test_a_declined_applicant_is_told_and_may_be_approved_later(applicant, coordinator):
    answers = [
        answer(member=applicant, by=coordinator).membership
        for answer in (services.decline, services.approve)
    ]

    assert answers == [Membership.DECLINED, Membership.APPROVED]
    assert [kind for kind, _by, _note in history(applicant)] == [Kind.DECLINED, Kind.APPROVED]
    assert list(Message.objects.order_by("pk").values_list("subject", flat=True)) == [
        "Your application to Seed library",
        "Welcome to Seed library",
    ]


@pytest.mark.parametrize("answer", [services.approve, services.decline])
def test_an_applicant_is_answered_once(applicant, coordinator, answer):
    services.approve(member=applicant, by=coordinator)

    with pytest.raises(Conflict):
        answer(member=applicant, by=coordinator)

    assert Message.objects.count() == 1
    assert len(history(applicant)) == 1


@pytest.mark.parametrize("role", [Role.MEMBER, Role.DESK])
def test_only_coordinators_answer_applications(applicant, make_member, role):
    somebody = make_member("somebody", role=role)

    with pytest.raises(NotAllowed):
        services.approve(member=applicant, by=somebody)
    with pytest.raises(NotAllowed):
        services.decline(member=applicant, by=somebody)

    applicant.refresh_from_db()
    assert applicant.membership == Membership.APPLIED


def test_a_note_that_is_too_long_is_refused_and_nothing_is_decided(applicant, coordinator):
    with pytest.raises(Refused) as refused:
        services.approve(member=applicant, by=coordinator, note="x" * 2001)

    applicant.refresh_from_db()
    assert refused.value.field == "note"
    assert applicant.membership == Membership.APPLIED


# Roles ----------------------------------------------------------------------------------


def test_a_changed_role_is_written_in_the_history_with_the_one_before(member, administrator):
    services.change_role(member=member, role=Role.DESK, by=administrator, note="Saturdays")

    event = member.events.get()
    assert (event.role_before, event.role, event.by, event.note) == (
        Role.MEMBER,
        Role.DESK,
        administrator,
        "Saturdays",
    )


def test_a_coordinator_does_not_change_roles(member, coordinator):
    with pytest.raises(NotAllowed):
        services.change_role(member=member, role=Role.DESK, by=coordinator)


def test_an_unknown_role_is_refused_by_name(member, administrator):
    with pytest.raises(Refused, match="“emperor” is not a role"):
        services.change_role(member=member, role="emperor", by=administrator)


def test_an_applicant_has_no_role_to_change(applicant, administrator):
    with pytest.raises(Refused, match="Only an approved member"):
        services.change_role(member=applicant, role=Role.DESK, by=administrator)


def test_the_last_administrator_cannot_be_demoted(administrator):
    with pytest.raises(Refused, match="the last administrator"):
        services.change_role(member=administrator, role=Role.MEMBER, by=administrator)

    administrator.refresh_from_db()
    assert administrator.role == Role.ADMINISTRATOR


def test_the_last_administrator_cannot_leave(administrator, coordinator):
    with pytest.raises(Refused, match="the last administrator"):
        services.leave(member=administrator, by=administrator)


def test_one_of_two_administrators_may_be_demoted_or_leave(administrator, make_member):
    second = make_member("goose", role=Role.ADMINISTRATOR)
    third = make_member("gander", role=Role.ADMINISTRATOR)

    services.leave(member=third, by=third)
    services.change_role(member=second, role=Role.MEMBER, by=administrator)

    assert list(Member.objects.administrators()) == [administrator]
