"""Every reason that the science of viability can give has a sentence, in the reader's words."""

from __future__ import annotations

import datetime as dt
import re
import string

import pytest
from django.utils import translation

from library.germination import reasons
from library.germination.estimates import estimate_of
from library.lending import sentences as lending
from library.science.reasons import ENGLISH, because

# Told by other apps, or nowhere but in the sentences of a verdict.
ELSEWHERE = (
    "due_",
    "plant_",
    "sow_",
    "ripe_",
    "season_",
    "isolation_",
    "chain_",
    "purity_",
    "milestone_",
)
OURS = [key for key in ENGLISH if not key.startswith(ELSEWHERE)]
ISO = re.compile(r"\d{4}-\d\d-\d\d")


def inputs_of(key: str) -> dict[str, object]:
    """What the English sentence of a reason needs, with something in each place."""
    fields = {field for _text, field, _spec, _conv in string.Formatter().parse(ENGLISH[key])}
    return {field: example(field) for field in fields if field}


def example(field: str) -> object:
    if field.endswith("_on"):
        return dt.date(2026, 3, 1)
    words = {"kind": "freezer", "storage_behaviour": "recalcitrant", "harvest_year": 2024}
    return words.get(field, 12.5)


@pytest.mark.parametrize("key", OURS)
def test_every_reason_of_the_science_has_a_sentence_with_its_numbers(key):
    reason = because(key, "a source", **inputs_of(key))

    told = reasons.told(reason)

    assert key not in lending.SENTENCES
    assert told.sentence.endswith(".")
    assert (ISO.search(told.sentence), "{" in told.sentence) == (None, False)
    assert told.source == "a source"


@pytest.mark.parametrize("key", OURS)
def test_whatever_goes_into_a_reason_has_a_label(key):
    labelled = set(reasons.LABELS) | reasons.HIDDEN

    assert set(inputs_of(key)) - labelled == set()


def test_no_sentence_is_left_of_a_reason_that_nothing_gives():
    ours = {"replicates_disagree"}  # decided by the bench, from the dishes

    assert set(reasons.SENTENCES) - set(ENGLISH) == ours


def test_numbers_and_days_are_written_as_the_reader_writes_them():
    inputs = {"median_percent": 61.5, "initial_percent": 93.0}
    falls = {"standard_percent": 70.0, "level_percent": 80.0, "falls_on": "2026-03-01"}

    with translation.override("de"):
        regrow = reasons.sentence_for("regrow_below_initial", inputs)
        chance = reasons.sentence_for("retest_chance", falls)

    assert "61,5 %" in regrow
    assert "1. März 2026" in chance


def test_a_chance_too_small_to_be_told_is_not_called_none():
    inputs = {"standard_percent": 70.0, "chance_percent": 0.0}

    sentence = reasons.sentence_for("regrow_below_standard", inputs)

    assert sentence == (
        "The chance that 70 % or more of it is alive is less than 1 %: regrow it while "
        "some of it lives."
    )


def test_one_year_is_not_years():
    told = reasons.sentence_for("longevity_class", {"longevity_years": 1.0})

    assert told == (
        "No rate is published for this species; kept cool and dry it is said to last about 1 "
        "year."
    )


def test_rows_say_what_went_in_and_leave_out_what_is_not_there():
    rows = reasons.rows_for(
        {"tested_on": "2026-03-01", "falls_on": None, "longevity": "class", "test": 3}
    )

    assert rows == [
        ("Tested on", "1 March 2026"),
        ("How long it keeps is known from", "the years it is said to keep"),
    ]


def test_every_assumption_of_a_lot_can_be_shown(make_lot, variety):
    lot = make_lot(variety, harvest_year=2023)

    shown = [reasons.told(reason) for reason in estimate_of(lot).assumptions]

    assert [told.sentence.partition(":")[0] for told in shown] == [
        "How fast it dies is published for this species.",
        "Harvested in 2023",
        "Where it lay until 1 October 2025 was not noted",
        "Nobody measured the humidity",
        "Nobody noted where it lay from 1 October 2025",
    ]
