"""Pages for what went wrong say so in a sentence, with the right status."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client, override_settings
from django.urls import path

from library.config.urls import urlpatterns as site
from library.errors import Refused


def forbidden(request):
    raise PermissionDenied


def suspicious(request):
    raise SuspiciousOperation


def broken(request):
    raise RuntimeError("the database is on fire")


def refused(request):
    error = Refused("Packet P-7QK2-4X is lent already.")
    error.status = 409
    raise error


urlpatterns = [
    *site,
    path("forbidden/", forbidden),
    path("suspicious/", suspicious),
    path("broken/", broken),
    path("refused/", refused),
]


@pytest.fixture
def visitor(db):
    with override_settings(ROOT_URLCONF=__name__):
        yield Client(raise_request_exception=False, enforce_csrf_checks=True)


def heading(response) -> str:
    return response.content.decode().split("<h1>")[1].split("</h1>")[0]


@pytest.mark.parametrize(
    ("address", "status", "sentence"),
    [
        ("/nowhere/", 404, "There is no such page"),
        ("/forbidden/", 403, "This is not open to you"),
        ("/suspicious/", 400, "The request was not understood"),
        ("/broken/", 500, "Something broke on our side"),
        ("/refused/", 409, "That is no longer possible"),
    ],
)
def test_what_went_wrong_is_said_in_a_sentence(visitor, address, status, sentence):
    response = visitor.get(address)

    assert (response.status_code, heading(response)) == (status, sentence)


def test_form_without_its_token_says_nothing_was_changed(visitor):
    response = visitor.post("/account/login/", {"login": "wren@example.org"})

    assert (response.status_code, heading(response)) == (403, "The form was too old")


WRITTEN = {
    "text": "Set well.\n<script>alert(1)</script> & more",
    "readers": ["members", "me"],
    "password": "not-to-be-seen",
    "new_password2": "not-to-be-seen",
    "csrfmiddlewaretoken": "not-to-be-seen",
    "dishes-TOTAL_FORMS": "not-to-be-seen",
    "empty": " ",
}


def test_what_was_typed_in_a_form_that_was_too_old_comes_back(visitor):
    page = "http://testserver/varieties/1/notes/add/?not=repeated"

    response = visitor.post("/varieties/1/notes/add/", WRITTEN, headers={"Referer": page})

    shown = response.content.decode()
    assert response.status_code == 403
    assert "Set well.\n&lt;script&gt;alert(1)&lt;/script&gt; &amp; more</textarea>" in shown
    assert "<script>alert" not in shown
    assert shown.count("<textarea") == 3
    assert "not-to-be-seen" not in shown
    # Not in an address, where it would be kept in histories and logs, nor ready to be sent.
    assert 'href="/varieties/1/notes/add/"' in shown
    assert "<form" not in shown
    assert "no-store" in response["Cache-Control"]


@pytest.mark.parametrize(
    "sender",
    [
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null", "Referer": "http://testserver/"},
        {"Referer": "http://testserver.elsewhere.example/"},
        {"Origin": "https://elsewhere.example", "Referer": "http://testserver/"},
        {},
    ],
)
def test_what_another_site_sends_is_never_shown(visitor, sender):
    response = visitor.post("/varieties/1/notes/add/", WRITTEN, headers=sender)

    assert response.status_code == 403
    assert "Set well" not in response.content.decode()


def test_files_in_a_form_that_was_too_old_are_to_be_chosen_again(visitor):
    file = SimpleUploadedFile("leaf.jpg", b"not much of a picture", "image/jpeg")
    page = {"Origin": "http://testserver", "Referer": "http://testserver/photos/of-lot/1/add/"}

    response = visitor.post(
        "/photos/of-lot/1/add/", {"photo": file, "caption": "leaf"}, headers=page
    )

    assert "Files have to be chosen again." in response.content.decode()


def test_broken_page_tells_nothing_of_the_inside(visitor):
    response = visitor.get("/broken/")

    assert response.content.decode().find("on fire") == -1


def test_broken_page_needs_no_database(rf, django_db_blocker):
    from django.views.defaults import server_error

    with django_db_blocker.block():
        response = server_error(rf.get("/"))

    assert heading(response) == "Something broke on our side"
