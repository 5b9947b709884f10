"""Addresses, questions and forms that somebody made up to break something."""

from __future__ import annotations

from unittest import mock
from urllib.parse import quote

import pytest
from django.db import connection
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from tests.permissions.asking import changed, send
from tests.permissions.table import READING, ROWS, THINGS, WRITING
from tests.permissions.test_methods import someone_who_may

HUGE = str(10**30)
IDS = ["0", "-1", HUGE, "9" * 5000, "nonsense", "\x00", "é'\"<"]
# A number too large for a database, one too long for Python, and text that PostgreSQL cannot
# keep. SQLite minds only the first; the other two are tried on PostgreSQL.
VALUES = [HUGE, "9" * 5000, "\x00é'\"<"]
if connection.vendor != "postgresql":
    VALUES = VALUES[:1]
# One row of each route: its methods find the thing in the same way.
WITH_AN_ID = list({row.route: row for row in ROWS if row.names[0] in THINGS}.values())


def addresses_with(address: str, args: list, hostile: str) -> list[str]:
    """The address with each of its ids in turn made hostile."""
    parts = address.split("/")
    found = []
    for arg in map(str, args):
        for place, part in enumerate(parts):
            if part == arg or part.startswith(f"{arg}-"):
                changed_part = quote(hostile) + part[len(arg) :]
                found.append("/".join([*parts[:place], changed_part, *parts[place + 1 :]]))
    return found


@pytest.mark.parametrize("row", WITH_AN_ID, ids=str)
def test_an_id_of_nothing_is_not_found(world, row):
    args = row.args(world)
    client = world.client(someone_who_may(row))

    for hostile in IDS:
        addresses = addresses_with(row.address(world), args, hostile)
        assert addresses
        for address in addresses:
            answer = send(client, row.method, address, row.sent(world, "administrator"))

            assert answer.word == "404", hostile[:40]
            assert not changed(world, answer)


def names_asked_for(client, address: str) -> set[str]:
    """The names that a page looks for in its address."""
    names: set[str] = set()

    def noting(method: str):
        plain = getattr(MultiValueDict, method)

        def noted(self, key, *args, **kwargs):
            names.add(key)
            return plain(self, key, *args, **kwargs)

        return mock.patch.object(QueryDict, method, noted)

    with noting("get"), noting("getlist"), noting("__contains__"), noting("__getitem__"):
        send(client, "GET", address)
    return {name for name in names if isinstance(name, str)}


@pytest.mark.parametrize("row", READING, ids=str)
def test_no_question_in_an_address_breaks_a_page(world, row):
    client = world.client(someone_who_may(row))
    address = row.address(world)
    joined = "&" if "?" in address else "?"

    for name in names_asked_for(client, address):
        for value in VALUES:
            asked = f"{address}{joined}{quote(name)}={quote(value)}"
            answer = send(client, "GET", asked)

            assert answer.response.status_code < 500, (name, value[:40])
            assert not changed(world, answer)


@pytest.mark.parametrize("row", WRITING, ids=str)
def test_no_value_in_a_form_breaks_a_page(world, row):
    who = someone_who_may(row)
    client = world.client(who)
    sent = row.sent(world, who)

    for name in sent:
        for value in VALUES:
            answer = send(client, row.method, row.address(world), sent | {name: value})

            assert answer.response.status_code < 500, (name, value[:40])
            if answer.response.status_code >= 400:
                assert not changed(world, answer)
                continue
            return  # it was taken, as a name may be; what follows is about another world
