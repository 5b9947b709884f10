"""Applying, being answered, roles, invitations and leaving."""

from __future__ import annotations

import datetime as dt

import pytest
from allauth.account.models import EmailAddress
from django.utils import timezone

from accounts import services
from accounts.models import (
    ApiToken,
    Community,
    Garden,
    Invitation,
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


# Invitations ----------------------------------------------------------------------------


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


# Leaving --------------------------------------------------------------------------------


@pytest.fixture
def leaver(make_member):
    person = services.make_member(
        email="kite@example.org",
        display_name="kite",
        password=PASSWORD,
        introduction="At the mill.",
    )
    services.add_garden(
        member=person, by=person, name="mill", latitude="54.46", longitude="-3.02"
    )
    services.make_token(member=person, name="sheet")
    return person


def test_of_somebody_who_left_nothing_personal_is_kept(leaver):
    gone = services.leave(member=leaver, by=leaver)

    assert gone.display_name == f"former member {leaver.pk}"
    assert gone.email == f"former-{leaver.pk}@former-member.invalid"
    assert gone.introduction == ""
    assert (gone.is_active, gone.membership) == (False, Membership.LEFT)
    assert not gone.has_usable_password()
    for model, field in [(Garden, "member"), (ApiToken, "user"), (EmailAddress, "user")]:
        assert model.objects.filter(**{field: leaver}).count() == 0


def test_the_name_stays_for_those_who_ask(leaver):
    gone = services.leave(member=leaver, by=leaver, keep_name=True)

    assert gone.display_name == "kite"
    assert gone.email != "kite@example.org"


def test_whoever_leaves_is_signed_out_everywhere(client, leaver):
    client.force_login(leaver)
    signed_in = client.get("/").wsgi_request.user.is_authenticated

    services.leave(member=leaver, by=leaver)

    assert signed_in
    assert not client.get("/").wsgi_request.user.is_authenticated


def test_waiting_letters_to_somebody_who_left_are_dropped_and_sent_ones_emptied(
    leaver, applicant, coordinator
):
    services.approve(member=applicant, by=coordinator)
    sent = Message.objects.get()
    Message.objects.update(sent_at=timezone.now())
    services.leave(member=applicant, by=applicant)

    sent.refresh_from_db()
    assert (sent.text, sent.html, sent.subject) == ("", "", "")
    assert sent.to == f"former-{applicant.pk}@former-member.invalid"


def test_a_person_leaves_once(leaver):
    services.leave(member=leaver, by=leaver)

    with pytest.raises(Conflict, match="already left"):
        services.leave(member=leaver, by=leaver)


def test_a_coordinator_may_end_a_membership_but_not_a_coordinators(
    leaver, coordinator, make_member, member
):
    other_coordinator = make_member("eagle", role=Role.COORDINATOR)
    services.leave(member=leaver, by=coordinator, note="Moved away.")

    with pytest.raises(NotAllowed):
        services.leave(member=other_coordinator, by=coordinator)
    with pytest.raises(NotAllowed):
        services.leave(member=coordinator, by=member)

    assert history(leaver)[-1] == (Kind.LEFT, "owl", "Moved away.")


def test_somebody_who_left_may_apply_again_as_somebody_new(leaver):
    services.leave(member=leaver, by=leaver)

    again = apply(email="kite@example.org", display_name="kite")

    assert again.pk != leaver.pk


# The community --------------------------------------------------------------------------


def test_only_administrators_change_the_librarys_settings(administrator, coordinator):
    services.save_community(by=administrator, name="Tarn Hollow", time_zone="Europe/London")

    with pytest.raises(NotAllowed):
        services.save_community(by=coordinator, name="Mine")

    assert Community.current().name == "Tarn Hollow"


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("time_zone", "Tarn/Hollow"),
        ("language", "xx"),
        ("name", ""),
        ("last_spring_frost", "02-30"),
        ("last_spring_frost", "05-10"),
        ("colour", "green"),
    ],
)
def test_settings_that_make_no_sense_are_refused_at_their_field(administrator, field, value):
    with pytest.raises(Refused) as refused:
        services.save_community(by=administrator, **{field: value})

    expected = "first_autumn_frost" if value == "05-10" else field
    assert refused.value.field == expected
    assert Community.current().name == "Seed library"
