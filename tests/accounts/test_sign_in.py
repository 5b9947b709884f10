"""Signing up, confirming, signing in, second factors, and coming by invitation."""

from __future__ import annotations

import re

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import (
    SECRET_SESSION_KEY,
    format_hotp_value,
    hotp_value,
    yield_hotp_counters_from_time,
)
from django.urls import reverse

from accounts import services
from accounts.models import Invitation, Member, Membership
from accounts.roles import Role
from library.outbox.models import Message

PASSWORD = "long beans in rows"
APPLICATION = {
    "email": "Lark@Example.org",
    "display_name": "lark",
    "password1": PASSWORD,
    "password2": PASSWORD,
    "introduction": "I grow beans.",
}


@pytest.fixture(autouse=True)
def letters_go_to_the_outbox(settings):
    """As on the real site; the test runner puts another backend in its place."""
    settings.EMAIL_BACKEND = "library.outbox.backend.OutboxBackend"


def sign_in(client, email, password=PASSWORD, **more):
    return client.post(reverse("account_login"), {"login": email, "password": password, **more})


def is_signed_in(client) -> bool:
    return "_auth_user_id" in client.session


def link_in_last_letter(to: str) -> str:
    text = Message.objects.filter(to=to).order_by("-pk").first().text
    return re.search(r"https?://[^/\s]+(/\S+)", text)[1]


def confirm(client, email):
    page = link_in_last_letter(email)
    return client.post(page)


@pytest.fixture
def gardener(db):
    return services.make_member(
        email="finch@example.org", display_name="finch", password=PASSWORD
    )


# Applying -------------------------------------------------------------------------------


def test_signing_up_is_an_application_that_waits_for_confirmation(client, db):
    page = client.get(reverse("account_signup"))
    response = client.post(reverse("account_signup"), APPLICATION)

    member = Member.objects.get()
    assert page.status_code == 200
    assert response.url == reverse("account_email_verification_sent")
    assert (member.email, member.membership) == ("lark@example.org", Membership.APPLIED)
    assert member.introduction == "I grow beans."
    assert not is_signed_in(client)


def test_with_an_unconfirmed_email_nobody_signs_in(client, db):
    client.post(reverse("account_signup"), APPLICATION)
    client.session.flush()

    response = sign_in(client, "lark@example.org")

    assert response.url == reverse("account_email_verification_sent")
    assert not is_signed_in(client)


def test_coordinators_hear_of_an_application_when_its_email_is_confirmed(client, coordinator):
    client.post(reverse("account_signup"), APPLICATION)
    before = Message.objects.filter(to=coordinator.email).count()

    confirm(client, "lark@example.org")

    assert before == 0
    assert Message.objects.filter(to=coordinator.email).count() == 1
    assert EmailAddress.objects.get(email="lark@example.org").verified
    assert list(Member.objects.waiting().values_list("display_name", flat=True)) == ["lark"]


def test_whoever_confirms_signs_in_with_the_email_in_any_case(client, db):
    client.post(reverse("account_signup"), APPLICATION)
    confirm(client, "lark@example.org")
    client.logout()

    response = sign_in(client, "LARK@example.ORG")

    assert response.url == reverse("home")
    assert is_signed_in(client)


def test_signing_up_with_a_known_email_tells_the_browser_nothing(client, gardener):
    known = client.post(
        reverse("account_signup"), {**APPLICATION, "email": "finch@example.org"}
    )
    letter = Message.objects.get()
    unknown = client.post(reverse("account_signup"), {**APPLICATION, "display_name": "another"})

    assert (known.status_code, known.url) == (unknown.status_code, unknown.url)
    assert letter.to == "finch@example.org"
    assert Member.objects.filter(email="finch@example.org").get() == gardener


def test_a_wrong_password_and_an_unknown_email_are_told_alike(client, gardener):
    wrong = sign_in(client, "finch@example.org", "not this one at all")
    unknown = sign_in(client, "nobody@example.org", "not this one at all")

    sentences = [r.context["form"].errors for r in (wrong, unknown)]
    assert sentences[0] == sentences[1]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"display_name": "finch"}, "display_name"),
        ({"display_name": "FINCH"}, "display_name"),
        ({"display_name": "fin\u202ech"}, "display_name"),
        ({"display_name": "a\nb: c"}, "display_name"),
        ({"display_name": ""}, "display_name"),
        ({"display_name": "x" * 61}, "display_name"),
        ({"email": "lark"}, "email"),
        ({"password1": "short", "password2": "short"}, "password1"),
        ({"password2": "something else entirely"}, "password2"),
        ({"introduction": "x" * 2001}, "introduction"),
    ],
)
def test_an_application_with_bad_input_is_refused_at_its_field(client, gardener, change, field):
    response = client.post(reverse("account_signup"), {**APPLICATION, **change})

    errors = response.context["form"].errors
    assert list(errors) == [field]
    assert Member.objects.count() == 1


def test_a_closed_library_shows_no_form_and_takes_no_application(client, db):
    services.save_community(by=None, open_to_applications=False)

    page = client.get(reverse("account_signup"))
    client.post(reverse("account_signup"), APPLICATION)

    assert page.status_code == 200
    assert "display_name" not in page.content.decode()
    assert Member.objects.count() == 0


@pytest.mark.parametrize(
    "next_page", ["https://evil.example/", "//evil.example/", "javascript:x"]
)
def test_signing_in_never_leads_off_the_site(client, gardener, next_page):
    response = sign_in(client, "finch@example.org", next=next_page)

    assert response.url == reverse("home")


def test_guessing_passwords_is_slowed_down(client, gardener):
    for _attempt in range(6):
        sign_in(client, "finch@example.org", "not this one at all")

    response = sign_in(client, "finch@example.org")

    assert not is_signed_in(client)
    assert "Too many failed login attempts" in response.content.decode()


def test_somebody_who_left_cannot_sign_in(client, gardener):
    Member.objects.update(is_active=False, membership=Membership.LEFT)

    sign_in(client, "finch@example.org")

    assert not is_signed_in(client)


def test_the_admin_has_no_door_of_its_own(client, administrator):
    response = client.get("/admin/", follow=True)
    posted = client.post(
        "/admin/login/", {"username": administrator.email, "password": "a-long-password"}
    )

    assert response.redirect_chain[-1][0].startswith(reverse("account_login"))
    assert posted.url.startswith(reverse("account_login"))
    assert not is_signed_in(client)


def test_administrators_read_in_the_admin_and_write_nothing(client, administrator, member):
    client.force_login(administrator)

    listed = client.get("/admin/accounts/member/")
    changed = client.post(
        f"/admin/accounts/member/{member.pk}/change/", {"display_name": "changed"}
    )

    assert listed.status_code == 200
    assert client.get(f"/admin/accounts/member/{member.pk}/change/").status_code == 200
    assert changed.status_code == 403
    assert Member.objects.filter(display_name="changed").count() == 0


def test_a_coordinator_does_not_get_into_the_admin(client, coordinator):
    client.force_login(coordinator)

    response = client.get("/admin/accounts/member/")

    assert response.status_code == 302


# Passwords ------------------------------------------------------------------------------


def test_a_forgotten_password_is_set_anew_by_mail(client, gardener):
    client.post(reverse("account_reset_password"), {"email": "finch@example.org"})
    form = client.get(link_in_last_letter("finch@example.org"), follow=True)
    client.post(
        form.redirect_chain[-1][0],
        {"password1": "another long one", "password2": "another long one"},
    )

    sign_in(client, "finch@example.org", "another long one")

    assert is_signed_in(client)


def test_asking_to_reset_tells_nothing_about_who_is_known(client, gardener):
    known, unknown = (
        client.post(reverse("account_reset_password"), {"email": email})
        for email in ("finch@example.org", "nobody@example.org")
    )

    assert (known.status_code, known.url) == (unknown.status_code, unknown.url)


# Another email --------------------------------------------------------------------------


def ask_to_change_email(client, email):
    page = reverse("account_email")
    asked = client.post(page, {"action_add": "", "email": email})
    return client.post(asked.url, {"password": PASSWORD}, follow=True)


def test_a_new_email_counts_once_it_is_confirmed(client, gardener):
    sign_in(client, "finch@example.org")
    ask_to_change_email(client, "Goldfinch@Example.org")
    before = Member.objects.get().email
    confirm(client, "goldfinch@example.org")

    assert (before, Member.objects.get().email) == (
        "finch@example.org",
        "goldfinch@example.org",
    )
    assert list(EmailAddress.objects.values_list("email", "verified")) == [
        ("goldfinch@example.org", True)
    ]


def test_nobody_takes_over_the_email_of_somebody_else(client, gardener, member):
    sign_in(client, "finch@example.org")
    ask_to_change_email(client, member.email)

    confirmed = EmailAddress.objects.filter(email=member.email, verified=True)
    assert confirmed.get().user == member
    assert Member.objects.get(pk=gardener.pk).email == "finch@example.org"


# Invitations ----------------------------------------------------------------------------


@pytest.fixture
def invitation(administrator):
    return services.invite(email="lark@example.org", role=Role.DESK, by=administrator)


def test_an_invited_person_signs_up_and_is_in_at_once(client, invitation):
    page = link_in_last_letter("lark@example.org")
    shown = client.get(page)
    to_form = client.post(page)
    form = client.get(to_form.url)
    response = client.post(to_form.url, {**APPLICATION, "email": "crow@example.org"})

    member = Member.objects.get(display_name="lark")
    assert shown.status_code == 200
    assert 'value="lark@example.org"' in form.content.decode()
    assert response.url == reverse("home")
    assert is_signed_in(client)
    assert member.is_approved
    assert (member.email, member.role) == ("lark@example.org", Role.DESK)


def test_an_invitation_opens_a_library_that_is_closed(client, invitation):
    services.save_community(by=None, open_to_applications=False)
    client.post(reverse("invitation", args=[invitation.key]))

    client.post(reverse("account_signup"), APPLICATION)

    assert Member.objects.get(display_name="lark").is_approved


@pytest.mark.parametrize("spoil", ["withdrawn_at", "expires_at"])
def test_an_invitation_that_was_spoilt_after_its_link_was_opened_lets_nobody_in(
    client, invitation, administrator, spoil
):
    client.post(reverse("invitation", args=[invitation.key]))
    Invitation.objects.update(**{spoil: invitation.invited_at})

    page = client.get(reverse("invitation", args=[invitation.key]))
    client.post(reverse("account_signup"), APPLICATION)

    assert page.status_code == 409
    assert Member.objects.get(display_name="lark").membership == Membership.APPLIED


def test_a_key_of_no_invitation_gets_a_page_that_says_so(client, db):
    page = client.get(reverse("invitation", args=["9d5b6a3e-6f0e-4a0e-9a51-2f5f7f0f6d11"]))

    assert page.status_code == 404
    assert "There is no such invitation." in page.content.decode()


def test_an_applicant_who_signed_in_uses_the_invitation_with_one_press(client, invitation):
    applicant = services.make_member(
        email="lark@example.org", display_name="lark", membership=Membership.APPLIED
    )
    client.force_login(applicant)

    client.post(reverse("invitation", args=[invitation.key]))

    applicant.refresh_from_db()
    assert (applicant.is_approved, applicant.role) == (True, Role.DESK)


def test_a_member_cannot_raise_themselves_by_somebody_elses_invitation(
    client, invitation, member
):
    client.force_login(member)

    response = client.post(reverse("invitation", args=[invitation.key]))

    member.refresh_from_db()
    assert response.status_code == 400
    assert member.role == Role.MEMBER


# Second factor --------------------------------------------------------------------------


def code_for(secret: str) -> str:
    counter = next(yield_hotp_counters_from_time())
    return format_hotp_value(hotp_value(secret, counter))


def test_a_second_factor_is_set_up_asked_for_and_replaced_by_a_recovery_code(client, gardener):
    sign_in(client, "finch@example.org")
    asked_again = client.get(reverse("mfa_activate_totp"))
    shown = client.post(asked_again.url, {"password": PASSWORD}, follow=True)
    secret = client.session[SECRET_SESSION_KEY]
    client.post(reverse("mfa_activate_totp"), {"code": code_for(secret)})
    codes = client.get(reverse("mfa_view_recovery_codes")).content.decode()
    recovery = re.search(r"\b\d{8}\b", codes)[0]
    client.logout()

    asked = sign_in(client, "finch@example.org")
    before = is_signed_in(client)
    wrong = client.post(asked.url, {"code": "000000"})
    client.post(asked.url, {"code": recovery})

    assert set(Authenticator.objects.values_list("type", flat=True)) == {
        "totp",
        "recovery_codes",
    }
    assert secret in shown.content.decode()
    assert asked.url == reverse("mfa_authenticate")
    assert (before, wrong.status_code) == (False, 200)
    assert is_signed_in(client)
