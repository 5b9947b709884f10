"""A reason can be kept for years and still be read."""

import json
import subprocess
import sys
from datetime import date
from string import Formatter

import pytest

from library.science.reasons import ENGLISH, Reason, because


def test_a_reason_survives_being_kept_as_json():
    reason = because("season_fits", "a source", days_needed=100, days_available=139)

    kept = json.loads(json.dumps(reason.as_record()))

    assert Reason(**kept) == reason
    assert Reason(**kept).sentence == "Seed needs 100 days and has 139."


def test_dates_are_kept_as_text():
    reason = because("first_test", "a source", received_on=date(2026, 1, 2), within_days=90)

    assert reason.inputs["received_on"] == "2026-01-02"


def test_an_unknown_reason_is_refused():
    with pytest.raises(ValueError, match="no reason called 'whim'"):
        because("whim", "a source")


@pytest.mark.parametrize("key", ENGLISH)
def test_every_sentence_is_one(key):
    text = ENGLISH[key]

    assert text.endswith(".")
    assert "  " not in text
    assert all(name is None or name.isidentifier() for _, name, _, _ in Formatter().parse(text))


def test_loading_the_science_loads_no_framework_and_no_slow_library():
    code = (
        "import sys, library.science.alleles, library.science.calendar, "
        "library.science.codes, library.science.genetics, library.science.lines, "
        "library.science.germination, library.science.isolation, library.science.sowing; "
        "print(sorted({'django', 'scipy', 'numpy', 'celery', 'geographiclib'} & "
        "set(sys.modules)))"
    )

    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )

    assert loaded.stdout == "[]\n"
