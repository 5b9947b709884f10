"""What whoever runs the machine types."""

from __future__ import annotations

import getpass
import io
import sys
from urllib.parse import urlsplit

import pytest
from allauth.account.models import EmailAddress
from django.core.management import CommandError, call_command

from accounts.models import ApiToken, Member
from accounts.roles import Role


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def run(*arguments) -> str:
    out = io.StringIO()
    call_command(*arguments, stdout=out)
    return out.getvalue()


@pytest.fixture
def typed(monkeypatch):
    def type_in(*passwords):
        answers = iter(passwords)
        monkeypatch.setattr(sys, "stdin", Terminal())
        monkeypatch.setattr(getpass, "getpass", lambda prompt: next(answers))

    return type_in


def test_the_first_administrator_is_made_with_a_typed_password(db, typed):
    typed("long beans in rows", "long beans in rows")

    run("member", "Ada@Example.org", "--role", "administrator", "--name", "Ada")

    ada = Member.objects.get()
    assert (ada.email, ada.display_name, ada.role) == (
        "ada@example.org",
        "Ada",
        "administrator",
    )
    assert ada.is_approved
    assert ada.check_password("long beans in rows")
    assert EmailAddress.objects.get().verified


@pytest.mark.parametrize("passwords", [("short", "short"), ("long beans", "other beans")])
def test_a_poor_or_mistyped_password_makes_nobody(db, typed, passwords):
    typed(*passwords)

    with pytest.raises(CommandError):
        run("member", "ada@example.org")

    assert Member.objects.count() == 0


def test_without_a_terminal_a_link_to_set_the_password_is_printed_and_works(db, client):
    printed = run("member", "ada@example.org", "--link")
    page = urlsplit(printed.split()[-1]).path

    form = client.get(page, follow=True)
    set_at = form.redirect_chain[-1][0]
    client.post(set_at, {"password1": "long beans in rows", "password2": "long beans in rows"})

    assert Member.objects.get().check_password("long beans in rows")
    assert "token_fail" not in form.context or not form.context["token_fail"]


@pytest.mark.parametrize("email", ["wren@example.org", "not an email"])
def test_a_member_that_cannot_be_is_refused_in_one_sentence(member, email):
    with pytest.raises(CommandError, match="email"):
        run("member", email, "--link", "--name", "another")


def test_a_printed_token_opens_the_api(member, api):
    secret = run("token", "WREN@example.org", "--name", "sheet").strip()

    response = api.get("/api/me/", headers={"Authorization": f"Token {secret}"})

    assert response.status_code == 200
    assert ApiToken.objects.get().name == "sheet"


@pytest.mark.parametrize("who", ["nobody@example.org", "fledgling@example.org"])
def test_a_token_for_nobody_or_an_applicant_is_refused(applicant, who):
    with pytest.raises(CommandError):
        run("token", who)

    assert ApiToken.objects.count() == 0


def test_djangos_own_superuser_is_an_administrator_by_role(db):
    run("createsuperuser", "--noinput", "--email", "ada@example.org")

    ada = Member.objects.get()
    assert (ada.role, ada.is_approved, ada.is_superuser) == (Role.ADMINISTRATOR, True, False)
