"""Every rule that can set a test day has a sentence for the page."""

from __future__ import annotations

import datetime as dt

import pytest

from library.germination.reasons import sentence_for
from library.science.germination import next_retest


@pytest.mark.parametrize("percent", [0, 50, 92])
@pytest.mark.parametrize("longevity_years", [None, 2.0, 6.0])
@pytest.mark.parametrize("frozen", [False, True])
@pytest.mark.parametrize("initial_percent", [None, 90.0])
def test_whatever_a_test_gives_its_day_can_be_explained(
    percent, longevity_years, frozen, initial_percent
):
    advice = next_retest(
        tested_on=dt.date(2025, 3, 1),
        percent=percent,
        longevity_years=longevity_years,
        frozen=frozen,
        initial_percent=initial_percent,
    )

    sentence = sentence_for(advice.rule, dict(advice.inputs))

    assert "2025-03-01" in sentence
    assert "%(" not in sentence
