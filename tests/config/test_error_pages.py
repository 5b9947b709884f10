"""Pages for what went wrong say so in a sentence, with the right status."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied, SuspiciousOperation
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


def test_broken_page_tells_nothing_of_the_inside(visitor):
    response = visitor.get("/broken/")

    assert response.content.decode().find("on fire") == -1


def test_broken_page_needs_no_database(rf, django_db_blocker):
    from django.views.defaults import server_error

    with django_db_blocker.block():
        response = server_error(rf.get("/"))

    assert heading(response) == "Something broke on our side"
