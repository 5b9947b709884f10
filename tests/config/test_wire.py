"""Whoever takes packed files gets them; whoever does not gets them as they are."""

from __future__ import annotations

import gzip

import pytest
from django.conf import settings
from django.http import HttpResponse
from django.test import RequestFactory

from library.config.wire import PackedPages, packed_copy

SHEET = "/static/sowback/css/base.css"
IN_THE_SOURCE = settings.BASE_DIR / "library/config/static/sowback/css/base.css"


def got(client, address: str, **headers) -> tuple[bytes, HttpResponse]:
    response = client.get(address, headers=headers)
    return b"".join(response), response


@pytest.fixture(params=[True, False], ids=["looked up each time", "looked up at the start"])
def looked_up(request, settings):
    settings.WHITENOISE_AUTOREFRESH = request.param


def test_a_style_sheet_comes_packed_to_those_who_take_it(client, looked_up):
    packed, response = got(client, SHEET, accept_encoding="gzip, br")

    assert response["Content-Encoding"] == "gzip"
    assert response["Content-Type"] == 'text/css; charset="utf-8"'
    assert int(response["Content-Length"]) == len(packed) < IN_THE_SOURCE.stat().st_size / 2
    assert gzip.decompress(packed) == IN_THE_SOURCE.read_bytes()


def test_it_comes_as_it_is_to_everybody_else(client, looked_up):
    plain, response = got(client, SHEET)

    assert plain == IN_THE_SOURCE.read_bytes()
    assert int(response["Content-Length"]) == len(plain)
    assert "Content-Encoding" not in response
    assert response["Vary"] == "Accept-Encoding"  # else a proxy would hand out the wrong one


def test_an_icon_that_is_small_already_is_not_packed(client, looked_up):
    _plain, response = got(client, "/static/sowback/mark.svg", accept_encoding="gzip")

    assert "Content-Encoding" not in response


def test_a_file_that_was_changed_is_packed_anew(tmp_path):
    sheet = tmp_path / "sheet.css"
    sheet.write_text("main { color: green }\n" * 100)
    before = packed_copy(sheet)
    sheet.write_text("main { color: brown }\n" * 100)  # as long, and in the same second

    after = packed_copy(sheet)

    assert gzip.decompress(after.read_bytes()) == sheet.read_bytes()
    assert after != before


@pytest.mark.django_db
def test_a_page_comes_packed_to_those_who_take_it(client):
    packed, response = got(client, "/style/", accept_encoding="gzip")

    assert response["Content-Encoding"] == "gzip"
    assert b"<h1>" in gzip.decompress(packed)


@pytest.mark.parametrize(("kind", "is_packed"), [("text/csv", True), ("image/jpeg", False)])
def test_pictures_are_not_packed_twice(kind, is_packed):
    asked = RequestFactory().get("/", headers={"accept_encoding": "gzip"})
    middleware = PackedPages(lambda request: HttpResponse("seed " * 500, content_type=kind))

    answer = middleware(asked)

    assert ("Content-Encoding" in answer) is is_packed
