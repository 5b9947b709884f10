"""What an upper app adds to a lower page."""

from __future__ import annotations

import pytest
from django.template import Context, Template

from library import hooks
from library.hooks import Panel, register_panel


@pytest.fixture
def empty_places(monkeypatch):
    monkeypatch.setattr(hooks, "_panels", hooks.defaultdict(list))


def draw(rf, place, subject=None) -> str:
    page = Template("{% load panels %}{% panels place subject %}")
    return page.render(Context({"request": rf.get("/"), "place": place, "subject": subject}))


def note(words):
    return lambda request, subject: {"title": words.format(subject), "text": ""}


def title_of(page: str) -> list[str]:
    opening, closing = '<p class="empty-title">', "</p>"
    return [part.split(closing)[0] for part in page.split(opening)[1:]]


@pytest.mark.django_db
def test_panels_are_drawn_in_order_and_know_their_subject(rf, empty_places):
    register_panel("lot", Panel("includes/empty.html", note("Chain of {}"), order=20))
    register_panel("lot", Panel("includes/empty.html", note("Tests of {}"), order=10))

    page = draw(rf, "lot", "lot 7")

    assert title_of(page) == ["Tests of lot 7", "Chain of lot 7"]


@pytest.mark.django_db
def test_panel_without_a_context_is_left_out(rf, empty_places):
    register_panel("lot", Panel("includes/empty.html", note("Shown")))
    register_panel("lot", Panel("includes/empty.html", lambda request, subject: None))

    page = draw(rf, "lot")

    assert title_of(page) == ["Shown"]


@pytest.mark.django_db
def test_what_a_member_typed_cannot_become_markup(rf, empty_places):
    register_panel("lot", Panel("includes/empty.html", note("{}")))

    page = draw(rf, "lot", "<script>")

    assert title_of(page) == ["&lt;script&gt;"]
