"""Display names: what they may hold, and when two are the same."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from accounts import services
from accounts.models import Member
from accounts.names import display_name, name_key, tidy
from library.errors import Refused

GOOD = [
    "wren",
    "Ada of the Mill",
    "Zoë O’Hara-Ng",
    "Дарья",
    "李小龙",
    "ليلى",
    "می\u200cخواهم",  # Persian needs the joiner
    "Sara 👩\u200d🌾",  # so do emoji
    "7",
]
DECEIVING = [
    "a\u202eb",  # right-to-left override
    "a\u2066b",  # isolate
    "a\u200bb",  # zero-width space
    "a\ufeffb",  # byte order mark
    "a\x00b",
    "a\x1bb",
    "a\u2028b",  # line separator
    "a\ue000b",  # private use
    "\u3164",  # a letter that looks like nothing
    "\U000e0041wren",  # tag
]


@pytest.mark.parametrize("name", GOOD)
def test_ordinary_names_of_any_script_are_welcome(name):
    assert display_name(tidy(name)) is None


@pytest.mark.parametrize("name", DECEIVING)
def test_names_that_hide_or_turn_text_are_refused(name):
    with pytest.raises(ValidationError, match="cannot be seen or that turns"):
        display_name(name)


@pytest.mark.parametrize("name", ["", "...", "🌱", "- -"])
def test_a_name_needs_a_letter_or_number(name):
    with pytest.raises(ValidationError, match="at least one letter"):
        display_name(name)


def test_piles_of_accents_are_refused():
    with pytest.raises(ValidationError, match="too many accents"):
        display_name("a" + "\u0301" * 9)


@pytest.mark.parametrize("name", ["former member 7", "Former  Member", "ＦＯＲＭＥＲ member x"])
def test_nobody_passes_for_a_former_member(name):
    with pytest.raises(ValidationError, match="people who have left"):
        display_name(name)


# Case folding and NFKC by the Unicode standard (UAX #15; full case folding).
@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("wren", "WREN"),
        ("Straße", "STRASSE"),
        ("wren", "ｗｒｅｎ"),
        ("ﬁnch", "finch"),
        ("Zoë", "Zoe\u0308"),
        ("wren", " wren "),
        ("old  hen", "old hen"),
        ("wr\u200den", "wren"),
    ],
)
def test_names_that_differ_in_case_or_form_are_the_same(one, other):
    assert name_key(one) == name_key(other)


def test_names_that_differ_are_not_the_same():
    assert len({name_key(name) for name in GOOD}) == len(GOOD)


@given(st.text(max_size=60))
def test_the_key_of_a_tidy_name_is_the_key_of_the_name_and_fits_its_column(name):
    assert name_key(tidy(name)) == name_key(name)
    assert len(name_key(name)) <= 1200


@pytest.mark.parametrize("name", ["WREN", "Wren ", "ｗｒｅｎ"])
def test_nobody_takes_the_name_of_somebody_else(member, name):
    with pytest.raises(Refused) as refused:
        services.make_member(email="lark@example.org", display_name=name)

    assert refused.value.field == "display_name"


def test_the_database_itself_refuses_the_same_name_twice(member):
    with pytest.raises(IntegrityError), transaction.atomic():
        Member.objects.create(email="x@example.org", display_name="WREN")


def test_the_key_follows_the_name_when_only_the_name_is_saved(member):
    member.display_name = "Jenny"
    member.save(update_fields=["display_name"])

    assert Member.objects.get().display_name_key == "jenny"
