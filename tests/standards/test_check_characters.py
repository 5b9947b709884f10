"""ISO 7064: check characters that catch what a hurried hand does."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_11_2, mod_37_36

from library.science.codes import lot_number, packet_code

NUMBERS = st.integers(min_value=1, max_value=999_999_999)


@pytest.mark.parametrize(
    ("digits", "check"),
    [
        # ISO 7064, worked examples of MOD 11-2 (from memory; also in python-stdnum's
        # documentation)
        ("0794", "0"),
        ("079", "X"),
        # ORCID's published sample identifiers, which use MOD 11-2 (read on two pages)
        ("000000021825009", "7"),
        ("000000021694233", "X"),
    ],
)
def test_published_examples_of_mod_11_2_come_out(digits, check):
    assert mod_11_2.calc_check_digit(digits) == check


@given(NUMBERS)
def test_codes_carry_the_check_character_of_the_reference_library(n):
    lot, packet = lot_number(n), packet_code(n)

    assert lot[-1] == mod_11_2.calc_check_digit("1" + lot[1:-2])
    assert packet[-1] == mod_11_2.calc_check_digit("2" + packet[1:-2])


@given(NUMBERS)
def test_codes_satisfy_the_congruence_that_defines_the_system(n):
    # ISO 7064, pure systems: the sum of each character times 2 to its place leaves 1, modulo
    # 11.
    code = "1" + lot_number(n)[1:].replace("-", "")

    total = sum(
        (10 if character == "X" else int(character)) * 2**place
        for place, character in enumerate(reversed(code))
    )

    assert total % 11 == 1


def test_mod_37_36_would_miss_a_swap_that_mod_11_2_catches():
    # Why codes are not MOD 37,36: a hybrid system catches nearly all swaps, a pure one all.
    assert mod_37_36.is_valid("L000601")
    assert mod_37_36.is_valid("L000610")
