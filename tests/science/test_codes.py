"""Lot numbers and packet codes notice when they were mistyped."""

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.science.codes import (
    MISTYPED,
    MistypedCode,
    kind_of_code,
    lot_number,
    normalise_code,
    number_in_code,
    packet_code,
)

NUMBERS = st.integers(min_value=1, max_value=9_999_999)
CODES = st.one_of(NUMBERS.map(lot_number), NUMBERS.map(packet_code))
TYPED = st.sampled_from(string.ascii_uppercase + string.digits)


def read(text):
    """The code that was understood, or None when it was refused."""
    try:
        return normalise_code(text)
    except MistypedCode:
        return None


@given(CODES)
def test_a_code_reads_as_itself(code):
    assert normalise_code(code) == code


@given(NUMBERS)
def test_the_running_number_comes_back(n):
    assert number_in_code(lot_number(n)) == n
    assert number_in_code(packet_code(n)) == n


@given(CODES, st.data())
def test_no_single_wrong_character_leads_to_another_code(code, data):
    place = data.draw(st.sampled_from([i for i, c in enumerate(code) if c != "-"]))
    wrong = data.draw(TYPED)

    understood = read(code[:place] + wrong + code[place + 1 :])

    assert understood in {None, code}


@given(CODES, st.data())
def test_a_wrong_digit_is_refused(code, data):
    place = data.draw(st.sampled_from([i for i, c in enumerate(code) if c.isdigit()]))
    wrong = data.draw(st.sampled_from([d for d in string.digits if d != code[place]]))

    understood = read(code[:place] + wrong + code[place + 1 :])

    assert understood is None


@given(CODES)
def test_a_letter_that_changed_places_with_a_digit_leads_to_no_other_code(code):
    assert read(code[1] + code[0] + code[2:]) in {None, code}


@given(CODES.filter(lambda code: len(set(code[1:])) > 2), st.data())
def test_neighbours_that_changed_places_are_refused(code, data):
    bare = code.replace("-", "")
    places = [i for i in range(1, len(bare) - 1) if bare[i] != bare[i + 1]]
    i = data.draw(st.sampled_from(places))

    understood = read(bare[:i] + bare[i + 1] + bare[i] + bare[i + 2 :])

    assert understood is None


def test_every_swap_in_the_first_thousand_lots_is_refused():
    missed = [
        (bare, i)
        for bare in (lot_number(n).replace("-", "") for n in range(1, 1001))
        for i in range(1, len(bare) - 1)
        if bare[i] != bare[i + 1]
        and read(bare[:i] + bare[i + 1] + bare[i] + bare[i + 2 :]) is not None
    ]

    assert missed == []


@pytest.mark.parametrize(
    "typed",
    [
        "L00137-2",
        "l00137-2",
        " L 00137 - 2 ",
        "L001372",
        "LOO137-2",
        "loo137-2",
        "L00I37-2",
        "Loo l37-2",
        "L00137–2",
        "I00137-2",
        "100137-2",
        "L0013-72",
    ],
)
def test_typing_is_forgiven(typed):
    assert normalise_code(typed) == "L00137-2"


def test_a_check_character_may_be_an_x():
    assert lot_number(61) == "L00061-X"
    assert normalise_code("l00061x") == "L00061-X"


def test_a_code_says_what_it_is_of():
    assert kind_of_code(lot_number(7)) == "lot"
    assert kind_of_code(packet_code(7)) == "packet"


def test_a_lot_and_a_packet_of_one_number_differ_in_their_check_character():
    assert lot_number(123456) == "L123456-7"
    assert packet_code(123456) == "P123456-0"


def test_numbers_grow_past_their_first_width():
    assert [lot_number(n)[:-2] for n in (99_999, 100_000)] == ["L99999", "L100000"]
    assert [packet_code(n)[:-2] for n in (999_999, 1_000_000)] == ["P999999", "P1000000"]


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "Type a code from a label, such as L00137-2."),
        ("   ", "Type a code from a label, such as L00137-2."),
        (
            "Q00137-2",
            "“Q00137-2” does not begin with L (a lot) or P (a packet). "
            "A code looks like L00137-2 or P000412-2.",
        ),
        (
            "L0137-2",
            "“L0137-2” is too short: a lot code has 5 digits and one last character after the "
            "letter L, such as L00137-2.",
        ),
        (
            "L000137-2",
            "“L000137-2” is too long: a lot code looks like L00137-2. Was a digit typed twice?",
        ),
        (
            "P00A412-2",
            "“P00A412-2” has a character where only digits can stand. A packet code is the "
            "letter P, digits, and one last digit or X, such as P000412-2.",
        ),
        (
            "L00138-2",
            "“L00138-2” is not a lot code we can trust: its last character does not fit the "
            "others. Look at the label and type it again; a character is wrong or two have "
            "changed places.",
        ),
        ("L00000-4", "“L00000-4” has the number 0; lots are numbered from 1."),
    ],
)
def test_a_refusal_says_what_is_wrong_and_what_would_be_right(typed, sentence):
    with pytest.raises(MistypedCode) as refusal:
        normalise_code(typed)

    assert str(refusal.value) == sentence


def test_a_refusal_carries_its_key_and_inputs_for_other_languages():
    with pytest.raises(MistypedCode) as refusal:
        normalise_code("p00412-2")

    assert refusal.value.key == "code_too_short"
    assert refusal.value.inputs["typed"] == "p00412-2"
    assert MISTYPED[refusal.value.key].format(**refusal.value.inputs) == str(refusal.value)


def test_a_letter_alone_is_too_short():
    with pytest.raises(MistypedCode, match="“L” is too short"):
        normalise_code("L")


def test_a_long_text_is_not_repeated_in_full():
    with pytest.raises(MistypedCode) as refusal:
        normalise_code("L" + "9" * 5000)

    assert len(str(refusal.value)) < 200


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_with_a_sentence(text):
    understood = read(text)

    assert understood is None or normalise_code(understood) == understood


@pytest.mark.parametrize("n", [0, -1, 10**9, True, 1.5])
def test_a_number_out_of_range_is_refused(n):
    with pytest.raises(ValueError, match="numbered"):
        lot_number(n)
