"""Methods that a route does not take, forged requests, and keys that open nothing."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.test import Client

from tests.permissions.asking import ask, changed, send
from tests.permissions.routes import METHODS, every_route
from tests.permissions.table import READING, ROWS, WRITING, Row

ROUTES = every_route()
# One row of each route, to have its address.
ONE_EACH = list({row.route: row for row in ROWS}.values())
API = [row for row in ROWS if row.cell("anonymous") == "401"]


def rows(some: list[Row]):
    return pytest.mark.parametrize("row", some, ids=str)


def someone_who_may(row: Row) -> str:
    return "owner" if row.cell("administrator") in ("403", "404") else "administrator"


@rows(ONE_EACH)
def test_a_method_that_a_route_does_not_take_is_said_to_be_so(world, row):
    client = world.client(someone_who_may(row))
    address = row.address(world)

    for method in {*METHODS, "TRACE", "BREW"} - ROUTES[row.route]:
        answer = send(client, method, address)

        assert answer.word == "405", method
        assert not changed(world, answer)


@rows(ONE_EACH)
def test_nobody_unknown_learns_more_by_another_method(world, row):
    address = row.address(world)
    due = {row.cell("anonymous").rstrip("*="), "401", "in", "405"}

    for method in {*METHODS, "OPTIONS"} - ROUTES[row.route]:
        answer = send(world.client("anonymous"), method, address)

        assert answer.word in (due | {"200"} if method == "OPTIONS" else due), method
        assert not changed(world, answer)


@rows(READING)
def test_head_answers_as_get_does_and_says_nothing(world, row):
    who = someone_who_may(row)

    answer = send(world.client(who), "HEAD", row.address(world))

    assert answer.word == row.cell(who).rstrip("*")
    assert answer.response.content == b""
    assert not changed(world, answer)


# Its address is the secret, and no cookie is looked at (RFC 8058: a mail program posts it).
NO_COOKIE_NEEDED = {"reminder-stop"}


@rows([row for row in WRITING if row.route not in NO_COOKIE_NEEDED])
def test_a_forged_request_is_refused(world, row):
    """A page elsewhere makes a signed-in browser send the form, without our token."""
    who = someone_who_may(row)
    client = Client(enforce_csrf_checks=True)
    client.cookies[settings.SESSION_COOKIE_NAME] = world.sessions[who]

    answer = ask(world, row, who, client=client)

    assert answer.word == "403"
    assert not changed(world, answer)


@rows([row for row in ROWS if row.route in {api.route for api in API}])
def test_a_token_of_nobody_is_401_for_whatever_it_asks(world, row):
    client = Client(headers={"Authorization": "Token " + "0" * 64})

    answer = ask(world, row, "anonymous", client=client)

    assert answer.word == "401"
    assert not changed(world, answer)


@rows([row for row in ROWS if row.route in {api.route for api in API}])
def test_a_members_token_opens_what_signing_in_opens(world, row):
    client = Client(headers={"Authorization": f"Token {world.secret}"})

    answer = ask(world, row, "owner", client=client)

    assert answer.word == row.cell("owner").rstrip("*")
