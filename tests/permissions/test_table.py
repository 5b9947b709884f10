"""Every address of the site, asked for by everybody."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.permissions.asking import ask, changed, send
from tests.permissions.routes import every_route
from tests.permissions.table import QUERY, READING, ROWS, SENT, THINGS, Row
from tests.permissions.world import ACTORS

DONE = {"200", "201", "204", "302"}
# Routes of libraries, which test_borrowed.py tries by what they have in common.
BORROWED = ("admin:", "account_", "mfa_")


def cases(rows: list[Row], actors: list[str]) -> list:
    return [pytest.param(row, who, id=f"{row}-{who}") for row in rows for who in actors]


@pytest.mark.parametrize(("row", "who"), cases(ROWS, ACTORS))
def test_everyone_gets_what_the_table_says(world, row, who):
    due = row.cell(who)

    answer = ask(world, row, who)

    assert answer.word == due.rstrip("*=")
    does_something = row.method != "GET" and answer.word in DONE and not due.endswith("=")
    assert changed(world, answer) is does_something
    if answer.word == "in":
        assert answer.leads_back_to == (answer.address if row.method == "GET" else "/")
    elif answer.location:
        assert answer.location.startswith("/")
        assert not answer.location.startswith("//")
        # Whoever was sent on may see where they were sent to.
        assert send(answer.response.client, "GET", answer.location).word == "200"


@pytest.mark.parametrize(("row", "who"), cases(READING, ["anonymous", "applicant"]))
def test_a_catalogue_kept_to_members_is_kept_from_everybody_else(world, row, who):
    type(world.community).objects.update(catalogue_is_public=False)

    answer = ask(world, row, who)

    assert answer.word == cell_when_kept_to_members(row, who, answer.address)
    told = answer.response.getvalue().decode("utf-8", "replace")  # an archive is no text
    assert world.variety.name not in told
    assert world.lot.number not in told


def cell_when_kept_to_members(row: Row, who: str, address: str) -> str:
    cell = row.cell(who)
    if not cell.endswith("*"):
        return cell
    if who == "applicant":
        return "404"
    return "401" if address.startswith("/api/") else "in"


def test_every_route_and_method_has_a_row():
    asked = {(row.route, row.method) for row in ROWS}
    there = {
        (route, method)
        for route, methods in every_route().items()
        for method in methods
        if not route.startswith(BORROWED)
    }

    assert there - asked == set(), "write a row in tests/permissions/rows"
    assert asked - there == set(), "these rows are of no route"


def test_every_particular_belongs_to_a_row():
    names = {name for row in ROWS for name in row.names}
    writes = {f"{name} {row.method}" for row in ROWS for name in row.names}

    assert THINGS.keys() - names == set()
    assert QUERY.keys() - names == set()
    assert SENT.keys() - writes == set()


def test_no_row_is_written_twice():
    written = [str(row) for row in ROWS]

    assert sorted(set(written)) == sorted(written)


def test_signing_in_after_a_form_that_was_sent_leads_back_to_its_page(world):
    address = reverse("loan-hand-over", args=[world.chosen.pk])
    page = f"http://testserver/loans/{world.chosen.pk}/?from=desk"

    response = world.client("anonymous").post(address, headers={"Referer": page})

    assert response.url == f"/account/login/?next=/loans/{world.chosen.pk}/%3Ffrom%3Ddesk"


@pytest.mark.parametrize(
    "page", ["https://elsewhere.example/", "//elsewhere.example/", "junk:"]
)
def test_signing_in_never_leads_to_another_site(world, page):
    address = reverse("loan-hand-over", args=[world.chosen.pk])

    response = world.client("anonymous").post(address, headers={"Referer": page})

    assert response.url == "/account/login/?next=/"
