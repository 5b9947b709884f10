"""Every rule that can set a test date has a sentence on the page."""

from __future__ import annotations

import datetime as dt

import pytest

from library.germination.reasons import sentence_for
from library.science.germination import next_retest

TESTED_ON = dt.date(2026, 3, 1)
RESULTS = [
    {"percent": percent, "longevity_years": years, "frozen": frozen, "initial_percent": first}
    for percent in (0, 40, 84, 96)
    for years in (None, 1, 30)
    for frozen in (False, True)
    for first in (None, 96)
]


@pytest.mark.parametrize("result", RESULTS, ids=str)
def test_whatever_comes_out_of_a_test_the_next_day_has_its_reason(result):
    advice = next_retest(tested_on=TESTED_ON, **result)

    sentence = sentence_for(advice.rule, advice.inputs)

    assert "2026-03-01" in sentence
    assert "%(" not in sentence


def test_a_lot_of_which_nothing_germinated_is_tested_once_more_within_weeks():
    advice = next_retest(tested_on=TESTED_ON, percent=0, longevity_years=4, frozen=False)

    sentence = sentence_for(advice.rule, advice.inputs)

    assert sentence == (
        "Nothing germinated on 2026-03-01. Test once more within 36 days before the lot is "
        "written off, and regrow the variety from another."
    )
