"""The desk's pages and the API of a chain that is brought in."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from library.exchange import services
from library.exchange.models import ChainImport
from library.stock.models import Lot
from tests.exchange.files import identifier


@pytest.fixture(autouse=True)
def november(november):
    """It is 20 November 2026."""


@pytest.fixture
def at_desk(client, desk):
    client.force_login(desk)
    return client


@pytest.fixture
def by_desk(api, desk):
    api.force_authenticate(desk)
    return api


def upload(text: str) -> SimpleUploadedFile:
    return SimpleUploadedFile("fen chain.json", text.encode())


def test_from_the_desk_to_the_new_lot(at_desk, file, variety):
    assert reverse("chain-imports") in at_desk.get(reverse("desk")).content.decode()

    looked = at_desk.post(reverse("chain-imports"), {"file": upload(file.text())}, follow=True)
    page = looked.content.decode()
    assert "Lot F-3 of Fen Edge Seed Library" in page
    assert page.index(">F-3<") < page.index(">F-2<") < page.index(">F-1<")
    assert page.count("new here") == 3
    made = ChainImport.objects.get()
    assert reverse("chain-import-receive", args=[made.pk]) in page

    form = at_desk.get(reverse("chain-import-receive", args=[made.pk]))
    assert "taken from lot F-3 of Fen Edge Seed Library" in form.content.decode()
    done = at_desk.post(
        reverse("chain-import-receive", args=[made.pk]),
        {"seeds": 200, "packets": 2, "seeds_each": 20, "source_name": "a visitor"},
    )

    lot = Lot.objects.kept_here().get()
    assert done.headers["Location"] == lot.get_absolute_url()
    assert (lot.variety, lot.balance, lot.packed) == (variety, 200, 40)
    after = at_desk.get(made.get_absolute_url()).content.decode()
    assert "Received on" in after
    assert lot.number in after


def test_the_form_is_taken_from_the_page_that_shows_it(desk, file):
    """With the check of where a form comes from, which the test client leaves out."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(desk)
    main = client.get(reverse("chain-imports")).content.decode().split("<main")[1]
    token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', main)

    answer = client.post(
        reverse("chain-imports"),
        {"file": upload(file.text()), "csrfmiddlewaretoken": token.group(1)},
    )

    assert answer.status_code == 302


def test_a_file_that_is_wrong_is_refused_with_every_line(at_desk, file):
    file.entity("F-2")["sowback:variety"] = "Nobody's Bean <script>"
    file.entity("F-3")["sowback:variety"] = "Nobody's Pea"

    answer = at_desk.post(reverse("chain-imports"), {"file": upload(file.text())})

    page = answer.content.decode()
    assert answer.status_code == 400
    assert f"Line {file.line_with('Nobody&#x27;s Bean'.replace('&#x27;', chr(39)))}" in page
    assert f"Line {file.line_with(chr(39) + 's Pea')}" in page
    assert "&lt;script&gt;" in page
    assert "<script>" not in page.split("<main")[1]
    assert not ChainImport.objects.exists()


def test_what_a_stranger_wrote_is_text_on_our_pages(at_desk, file):
    for name in ("F-1", "F-2", "F-3"):
        file.entity(name)["sowback:number"] = f"<i>{name}"
    file.data["agent"][f"lot:{identifier('fen')}"]["sowback:displayName"] = "<b>Fen</b>"

    page = at_desk.post(
        reverse("chain-imports"), {"file": upload(file.text())}, follow=True
    ).content.decode()

    assert "&lt;b&gt;Fen&lt;/b&gt;" in page
    assert "<b>Fen" not in page
    assert "<i>F-" not in page


def test_nothing_chosen_is_said_at_the_field(at_desk):
    answer = at_desk.post(reverse("chain-imports"), {})

    assert answer.status_code == 400
    assert "This field is required" in answer.content.decode()


def test_a_card_that_went_meanwhile_is_said_where_the_chain_waits(at_desk, desk, file, variety):
    made, _seen = services.preview_chain(
        content=file.text(), by=desk, on=variety.added_at.date()
    )
    variety.names.all().delete()

    page = at_desk.get(made.get_absolute_url()).content.decode()

    assert "This file cannot be taken in" in page
    assert "Receive its seed" not in page
    answer = at_desk.post(reverse("chain-import-receive", args=[made.pk]), {"seeds": 5})
    assert answer.status_code == 400


def test_one_that_is_left_is_told_as_left(at_desk, desk, file, variety):
    made, _seen = services.preview_chain(
        content=file.text(), by=desk, on=variety.added_at.date()
    )

    at_desk.post(reverse("chain-import-drop", args=[made.pk]))

    assert "Left on" in at_desk.get(made.get_absolute_url()).content.decode()
    assert "Answered lately" in at_desk.get(reverse("chain-imports")).content.decode()


@pytest.mark.parametrize("many", [1, 6])
def test_the_list_asks_as_much_for_one_as_for_many(
    at_desk, desk, file, many, django_assert_max_num_queries, variety
):
    for n in range(many):
        services.preview_chain(
            content=file.text() + "\n" * n, by=desk, on=variety.added_at.date()
        )
    at_desk.get(reverse("chain-imports"))

    with django_assert_max_num_queries(6):
        at_desk.get(reverse("chain-imports"))


class TestApi:
    def test_brought_in_looked_at_and_received(self, by_desk, file):
        made = by_desk.post("/api/chain-imports/", {"content": file.text()}, format="json")
        assert made.status_code == 201
        body = made.json()
        assert [(lot["number"], lot["fate"]) for lot in body["lots"]] == [
            ("F-3", "new"),
            ("F-2", "new"),
            ("F-1", "new"),
        ]
        assert by_desk.get(f"/api/chain-imports/{body['id']}/").json()["lots"] == body["lots"]

        got = by_desk.post(
            f"/api/chain-imports/{body['id']}/receive/", {"seeds": 60}, format="json"
        )

        assert got.status_code == 201
        assert got.json()["seeds"] == 60
        after = by_desk.get(f"/api/chain-imports/{body['id']}/").json()
        assert (after["state"], after["lot"]) == ("received", got.json()["lot"])

    def test_as_a_file(self, by_desk, file):
        made = by_desk.post(
            "/api/chain-imports/", {"file": upload(file.text())}, format="multipart"
        )

        assert made.status_code == 201
        assert made.json()["file_name"] == "fen chain.json"

    def test_the_same_request_again_is_one_import(self, by_desk, file):
        first, again = (
            by_desk.post(
                "/api/chain-imports/",
                {"file": upload(file.text())},
                format="multipart",
                headers={"Idempotency-Key": "k1"},
            )
            for _ in range(2)
        )

        assert again.headers["Idempotent-Replay"] == "true"
        assert first.json() == again.json()

    @pytest.mark.parametrize("sent", [{}, {"content": ""}, {"file_name": "x"}])
    def test_without_a_file_there_is_nothing_to_look_at(self, by_desk, sent):
        assert by_desk.post("/api/chain-imports/", sent, format="json").status_code == 400

    def test_what_is_wrong_is_told_with_its_lines(self, by_desk, file):
        file.entity("F-3")["sowback:harvestYear"] = "x"

        answer = by_desk.post("/api/chain-imports/", {"content": file.text()}, format="json")

        assert answer.status_code == 400
        assert answer.json()["code"] == "unreadable"
        line = file.line_with('"sowback:harvestYear": "x"')
        assert answer.json()["detail"].startswith(f"Line {line}: lot F-3")

    def test_twice_is_a_conflict(self, by_desk, file):
        made = by_desk.post("/api/chain-imports/", {"content": file.text()}, format="json")
        address = f"/api/chain-imports/{made.json()['id']}"
        by_desk.post(f"{address}/receive/", {"seeds": 60}, format="json")

        assert by_desk.post(f"{address}/receive/", {"seeds": 60}).status_code == 409
        assert by_desk.post(f"{address}/drop/").status_code == 409
