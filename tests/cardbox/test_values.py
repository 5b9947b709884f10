"""What cells are read as, and what is said of those that cannot be."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from library.cardbox import values
from library.cardbox.values import Writing
from library.errors import Refused

ON = dt.date(2026, 2, 10)
DAY_FIRST, MONTH_FIRST, UNKNOWN = Writing(True), Writing(False), Writing()


@pytest.mark.parametrize(
    ("text", "writing"),
    [
        ("2019-04-03", UNKNOWN),
        ("2019/4/3", UNKNOWN),
        ("2019-04-03 10:30:00", UNKNOWN),
        ("3.4.2019", UNKNOWN),
        ("03.04.19", UNKNOWN),
        ("3/4/2019", DAY_FIRST),
        ("4/3/2019", MONTH_FIRST),
        ("3 April 2019", UNKNOWN),
        ("3rd Apr. 2019", UNKNOWN),
        ("April 3, 2019", UNKNOWN),
        ("3. avril 2019", UNKNOWN),
    ],
)
def test_a_day_is_read_in_its_several_forms(text, writing):
    assert values.day(text, writing=writing, on=ON) == dt.date(2019, 4, 3)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("3/4/2019", "can be two days"),
        ("2019", "is not a day"),
        ("31.4.2019", "is not a day"),
        ("13/13/2019", "is not a day"),
        ("soon", "is not a day"),
        ("1.1.0001", "is not a day"),
        ("1.1.2031", "still to come"),
        ("43559", "is not a day"),
    ],
)
def test_what_is_no_day_is_refused(text, sentence):
    with pytest.raises(Refused, match=sentence):
        values.day(text, writing=UNKNOWN, on=ON)


def test_two_digits_of_a_year_are_of_the_last_hundred_years():
    assert values.day("1.2.26", writing=UNKNOWN, on=ON).year == 2026
    assert values.day("1.2.27", writing=UNKNOWN, on=ON).year == 1927


@pytest.mark.parametrize(
    ("texts", "first"),
    [
        (["3/4/2019", "25/4/2019"], True),
        (["3/4/2019", "4/25/2019"], False),
        (["3/4/2019", "5/6/2019"], None),
        (["3/3/2019", "3.4.2019", "2019-01-02"], True),
        ([], True),
    ],
)
def test_a_file_tells_which_comes_first_or_is_asked(texts, first):
    assert values.day_comes_first(texts) is first


@pytest.mark.parametrize(
    ("text", "seeds", "grams"),
    [
        ("250", 250, None),
        ("250 seeds", 250, None),
        ("1 000", 1000, None),
        ("1'000", 1000, None),
        ("1.000.000", 1_000_000, None),
        ("12,5 g", None, Decimal("12.5")),
        ("12.5g", None, Decimal("12.5")),
        ("1.234,5 g", None, Decimal("1234.5")),
        ("1,234.5 g", None, Decimal("1234.5")),
        ("0.5 kg", None, Decimal(500)),
        ("1 oz", None, Decimal("28.350")),
    ],
)
def test_a_quantity_is_a_count_or_a_weight(text, seeds, grams):
    assert values.quantity(text, writing=UNKNOWN) == (seeds, grams)


@pytest.mark.parametrize(
    "text", ["many", "-5", "12 bags", "1/2", "1.5", "0", "1e9", "", "12 5 x y"]
)
def test_what_is_no_quantity_is_refused(text):
    with pytest.raises(Refused, match=r"is not a|not known|several"):
        values.quantity(text, writing=UNKNOWN)


def test_a_comma_that_can_be_both_is_asked_for():
    assert values.comma_is_ambiguous(["1,500"]) is None
    assert values.comma_is_ambiguous(["1,500", "2,5"]) is True
    assert values.comma_is_ambiguous(["1,500", "1,500,000"]) is False
    with pytest.raises(Refused, match="several numbers"):
        values.quantity("1,500", writing=UNKNOWN)
    assert values.whole("1,500", writing=Writing(comma_is_decimal=False)) == 1500
    assert values.number("1,500", writing=Writing(comma_is_decimal=True))[0] == Decimal("1.5")


@pytest.mark.parametrize("text", ["1899", "2027", "98/99", "about 2019", "20199"])
def test_what_is_no_harvest_year_is_refused(text):
    with pytest.raises(Refused, match="is not a harvest year"):
        values.year(text, on=ON)


def test_nobody_is_asked_for_the_comma_of_a_count():
    assert values.comma_is_ambiguous([], counts=["1,500"]) is False
    assert values.comma_is_ambiguous(["2,5"], counts=["1,500"]) is None
    assert values.comma_is_ambiguous([], counts=["1,500 g"]) is None  # it is a weight


@pytest.mark.parametrize("usual", [True, False])
def test_without_a_telling_comma_it_is_as_usual(usual):
    assert values.comma_is_ambiguous(["250", "1.5"], counts=["12"], usual=usual) is usual
    assert values.comma_is_ambiguous(["2,5"], usual=usual) is True
