"""Leaving and what is forgotten then; the community's settings."""

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
    Member,
    Membership,
    MembershipEvent,
)
from accounts.roles import Role
from accounts.tasks import forget_unconfirmed_applications
from library.errors import Conflict, NotAllowed, Refused
from library.outbox.models import Message

Kind = MembershipEvent.Kind
PASSWORD = "a-long-password"


def history(member):
    return list(member.events.values_list("kind", "by__display_name", "note"))


def apply(**given):
    asked = {"email": "lark@example.org", "password": PASSWORD, "display_name": "lark", **given}
    return services.apply(**asked)


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


def test_applications_that_nobody_confirmed_are_deleted_after_thirty_days(applicant, member):
    old = apply()
    young = apply(email="finch@example.org", display_name="finch")
    now = timezone.now()
    month_ago = now - dt.timedelta(days=31)
    Member.objects.exclude(pk=young.pk).update(applied_at=month_ago)

    gone = forget_unconfirmed_applications()

    assert gone == 1
    assert set(Member.objects.all()) == {applicant, member, young}
    assert not Member.objects.filter(pk=old.pk).exists()


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
