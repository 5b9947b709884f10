"""The addresses that Django's admin and allauth bring, by what they have in common."""

from __future__ import annotations

import pytest
from django.contrib import admin
from django.urls import reverse

from tests.permissions.asking import changed, send
from tests.permissions.routes import every_pattern
from tests.permissions.world import ACTORS

OURS = {"accounts", "catalogue", "lending", "outbox"}
# Django's and allauth's own models: their admin asks for permissions that no role has.
THEIRS = {"auth", "account", "mfa"}
MODELS = sorted((m._meta.app_label, m._meta.model_name) for m in admin.site._registry)
NOT_ADMINISTRATORS = [who for who in ACTORS if who != "administrator"]
WITH_A_KEY = {
    "account_confirm_email": ["of-nobody:1x:y"],
    "account_reset_password_from_key": ["1x", "set-password"],
}
SIGNING_IN = sorted({n for n, _p in every_pattern() if n.startswith(("account_", "mfa_"))})
# What somebody who is not signed in may open.
FOR_ANYONE = {
    "account_confirm_email",
    "account_confirm_login_code",
    "account_email_verification_sent",
    "account_inactive",
    "account_login",
    "account_logout",
    "account_reset_password",
    "account_reset_password_done",
    "account_reset_password_from_key",
    "account_reset_password_from_key_done",
    "account_signup",
    "mfa_authenticate",
}


def admin_address(label: str, model: str, page: str, *args) -> str:
    return reverse(f"admin:{label}_{model}_{page}", args=args)


def test_every_model_of_the_admin_is_known_to_this_table():
    assert {label for label, _model in MODELS} == OURS | THEIRS


@pytest.mark.parametrize("who", NOT_ADMINISTRATORS)
def test_the_admin_is_closed_to_all_but_administrators(world, who):
    for label, model in MODELS:
        for page in ("changelist", "add"):
            answer = send(world.client(who), "GET", admin_address(label, model, page))

            assert answer.word == "302"
            assert answer.location.startswith("/admin/login/?next=")


@pytest.mark.parametrize(("label", "model"), MODELS)
def test_administrators_read_our_records_in_the_admin(world, label, model):
    answer = send(
        world.client("administrator"), "GET", admin_address(label, model, "changelist")
    )

    assert answer.word == ("200" if label in OURS else "403")


@pytest.mark.parametrize(("label", "model"), MODELS)
def test_an_administrator_reads_one_record_and_its_history(world, label, model):
    kinds = {(m._meta.app_label, m._meta.model_name): m for m in admin.site._registry}
    record = kinds[label, model].objects.first()
    due = "200" if label in OURS else "403"

    for page in ("change", "history"):
        if record is not None:
            address = admin_address(label, model, page, record.pk)
            assert send(world.client("administrator"), "GET", address).word == due


@pytest.mark.parametrize(("label", "model"), MODELS)
def test_nobody_writes_in_the_admin(world, label, model):
    kinds = {(m._meta.app_label, m._meta.model_name): m for m in admin.site._registry}
    record = kinds[label, model].objects.first()
    addresses = [admin_address(label, model, "add")]
    if record is not None:
        addresses += [
            admin_address(label, model, page, record.pk) for page in ("change", "delete")
        ]

    for address in addresses:
        answer = send(world.client("administrator"), "POST", address, {"post": "yes"})

        assert answer.word == "403"
        assert not changed(world, answer)


def test_the_admin_has_no_way_of_signing_in_of_its_own(world):
    answer = send(world.client("anonymous"), "GET", reverse("admin:login"))

    assert answer.word == "in"


@pytest.mark.parametrize("name", SIGNING_IN)
@pytest.mark.parametrize("who", ["anonymous", "applicant", "owner"])
def test_pages_about_signing_in_never_break(world, name, who):
    answer = send(world.client(who), "GET", reverse(name, args=WITH_A_KEY.get(name)))

    # 403: there is no password, or no second factor, to give again.
    assert answer.word in ("200", "302", "in", "403", "404")
    assert not answer.location.startswith(("//", "http"))
    if who == "anonymous" and name not in FOR_ANYONE:
        assert answer.word == "in"
    assert not changed(world, answer)


@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/", "//elsewhere.example/x"])
@pytest.mark.parametrize("name", ["account_login", "account_logout", "account_signup"])
def test_signing_in_and_out_lead_to_no_other_site(world, name, elsewhere):
    for who in ("anonymous", "owner"):
        address = f"{reverse(name)}?next={elsewhere}"
        for method in ("GET", "POST"):
            answer = send(world.client(who), method, address, {"next": elsewhere})

            assert "elsewhere.example" not in answer.location
