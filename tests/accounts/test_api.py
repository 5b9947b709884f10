"""Oneself over the API, and the tokens that scripts come with."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from accounts import services
from accounts.models import ApiToken, Membership
from accounts.roles import Role

NOON = dt.datetime(2026, 5, 10, 12, tzinfo=dt.UTC)


@pytest.fixture
def token(member):
    return services.make_token(member=member, name="sheet")


def auth(secret):
    return {"Authorization": f"Token {secret}"}


def test_whoever_asks_learns_who_they_are_and_what_they_may_do(api, desk):
    api.force_authenticate(desk)

    assert api.get("/api/me/").json() == {
        "id": desk.pk,
        "email": "heron@example.org",
        "role": "desk",
        "membership": "approved",
        "permissions": ["accounts.borrow", "accounts.serve_desk"],
        "display_name": "heron",
        "time_zone": "",
        "language": "",
        "wants_reminders": True,
        "wants_news": False,
    }


def test_an_applicant_learns_that_they_may_nothing_yet(api, applicant):
    api.force_authenticate(applicant)

    body = api.get("/api/me/").json()

    assert (body["membership"], body["permissions"]) == ("applied", [])


def test_nobody_is_told_anything_without_signing_in(api, db):
    response = api.get("/api/me/")

    assert response.status_code == 401
    assert response.headers["WWW-Authenticate"] == "Token"


def test_preferences_are_changed_one_by_one(api, member):
    api.force_authenticate(member)

    response = api.patch("/api/me/", {"time_zone": "Europe/London", "wants_news": True})

    member.refresh_from_db()
    assert response.json()["time_zone"] == "Europe/London"
    assert (member.time_zone, member.wants_news, member.wants_reminders) == (
        "Europe/London",
        True,
        True,
    )


@pytest.mark.parametrize("field", ["role", "membership", "email", "permissions", "id"])
def test_nobody_raises_themselves_over_the_api(api, member, field):
    api.force_authenticate(member)

    response = api.patch("/api/me/", {field: "administrator", "is_superuser": True})

    member.refresh_from_db()
    assert response.status_code == 200
    assert (member.role, member.is_superuser) == (Role.MEMBER, False)
    assert member.email == "wren@example.org"


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("display_name", ""),
        ("display_name", "rook"),
        ("display_name", "a\u202eb"),
        ("display_name", "x" * 61),
        ("display_name", 7 * [1]),
        ("time_zone", "Tarn/Hollow"),
        ("language", "xx"),
        ("wants_news", "perhaps"),
    ],
)
def test_a_bad_preference_is_refused_at_its_field(api, member, other_member, field, value):
    api.force_authenticate(member)

    response = api.patch("/api/me/", {field: value})

    body = response.json()
    assert response.status_code == 400
    assert field in (body.get("field"), *body)


# Tokens ---------------------------------------------------------------------------------


def test_a_token_opens_what_its_owner_may_do(api, token):
    _row, secret = token

    assert api.get("/api/me/", headers=auth(secret)).json()["display_name"] == "wren"


@pytest.mark.parametrize(
    "header", ["Token", "Token x", "Token a b", "Token \xff\xfe", "Token " + "a" * 5000]
)
def test_a_header_that_holds_no_token_is_refused(api, db, header):
    assert api.get("/api/me/", headers={"Authorization": header}).status_code == 401


@pytest.mark.parametrize("membership", [m for m in Membership if m != Membership.APPROVED])
def test_the_token_of_somebody_who_is_no_member_opens_nothing(api, token, member, membership):
    _row, secret = token
    member.membership = membership
    member.is_active = membership != Membership.LEFT
    member.save()

    assert api.get("/api/me/", headers=auth(secret)).status_code == 401


def test_the_use_of_a_token_is_noted_once_a_minute(api, token, django_assert_num_queries):
    row, secret = token
    seen = []
    with time_machine.travel(NOON, tick=False) as clock:
        for seconds in (0, 30, 31):
            clock.shift(seconds)
            api.get("/api/me/", headers=auth(secret))
            row.refresh_from_db()
            seen.append(row.last_used_at - NOON)
        api.get("/api/me/", headers=auth(secret))
        with django_assert_num_queries(2):  # the community, the token with its owner
            api.get("/api/me/", headers=auth(secret))

    assert [s.total_seconds() for s in seen] == [0, 0, 61]


def test_only_the_digest_of_a_token_is_kept(token):
    row, secret = token

    kept = [str(value) for value in ApiToken.objects.values().get(pk=row.pk).values()]

    assert secret not in kept
    assert row.token_key == secret[: len(row.token_key)]


def test_an_applicant_makes_no_token(applicant):
    with pytest.raises(Exception, match="Only an approved member"):
        services.make_token(member=applicant, name="x")
