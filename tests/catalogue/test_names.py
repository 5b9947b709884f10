"""Folding of names."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.catalogue.names import FOLDED_LENGTH, fold


@pytest.mark.parametrize(
    ("name", "folded"),
    [
        ("Tarn Kettle", "tarn kettle"),
        ("  Hollow   Blue ", "hollow blue"),
        ("Großmutter’s Früh-Erbse", "grossmutters fruh erbse"),
        ("Crème d'Été", "creme dete"),
        ("Ångström", "angstrom"),
        ("ＦＵＬＬ ｗｉｄｔｈ", "full width"),
        ("ﬁne leaf", "fine leaf"),
        ("No. 7", "no 7"),
        ("!!!", "!!!"),
        ("Горох", "горох"),
    ],
)
def test_a_name_folds_to_plain_small_letters(name, folded):
    assert fold(name) == folded


@given(st.text(max_size=200))
def test_folding_twice_is_folding_once_and_fits_its_column(name):
    once = fold(name)

    assert len(once) <= FOLDED_LENGTH
    assert fold(once)[: len(once)] == once or len(once) == FOLDED_LENGTH


@given(st.text(min_size=1, max_size=60).filter(str.strip))
def test_nothing_written_folds_to_nothing(name):
    assert fold(name) != ""
