"""The German catalogue: whole, with the places for figures and names kept, and shown."""

from __future__ import annotations

import re

import pytest
from babel.messages.pofile import read_po
from django.conf import settings
from django.utils import translation
from django.utils.translation import ngettext

PLACES = re.compile(r"%\(\w+\)[a-z]|%%|\{\w*\}|</?[a-z][^>]*>")


@pytest.fixture(scope="module")
def catalogue():
    source = settings.BASE_DIR / "library/config/locale/de/LC_MESSAGES/django.po"
    with source.open("rb") as file:
        return [message for message in read_po(file, locale="de") if message.id]


def forms_of(text) -> list[str]:
    return list(text) if isinstance(text, list | tuple) else [text]


def test_nothing_is_left_out_or_unsure(catalogue):
    assert len(catalogue) > 4000
    missing = [m.id for m in catalogue if m.fuzzy or not all(forms_of(m.string))]
    assert missing == []


def test_every_place_for_a_name_or_figure_is_kept(catalogue):
    """A plural's forms may leave the number out, but name nothing that is not there."""
    wrong = []
    for message in catalogue:
        asked = [set(PLACES.findall(text)) for text in forms_of(message.id)]
        told = [set(PLACES.findall(text)) for text in forms_of(message.string)]
        known = set().union(*asked)
        invented = any(not places <= known for places in told)
        if invented or (len(asked) == 1 and told != asked):
            wrong.append(message.id)
    assert wrong == []


@pytest.mark.parametrize(("n", "words"), [(0, "0 Sorten"), (1, "1 Sorte"), (2, "2 Sorten")])
def test_one_and_many_are_told_apart(n, words):
    with translation.override("de"):
        told = ngettext("%(n)s variety", "%(n)s varieties", n) % {"n": n}
    assert told == words


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/", "/browse/", "/exchange/", "/account/login/"])
def test_pages_are_in_german_for_who_asks(client, path):
    page = client.get(path, headers={"Accept-Language": "de"}, follow=True).content.decode()

    assert '<html lang="de"' in page
    assert "Stöbern" in page
    assert "Skip to the content" not in page
