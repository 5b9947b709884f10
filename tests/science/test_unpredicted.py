"""What no equation predicts is looked at by the season, and soon."""

from __future__ import annotations

import datetime as dt

import pytest

from library.science.unpredicted import clonal_check, keeps_dry, not_orthodox_check

HARVEST = dt.date(2025, 10, 1)


def clonal(**facts):
    known = {
        "stored_on": HARVEST,
        "received_on": dt.date(2025, 11, 1),
        "tested_on": None,
        "first_within_days": 90,
    }
    return clonal_check(**known | facts)


@pytest.mark.parametrize(
    ("behaviour", "dry"),
    [
        ("orthodox", True),
        ("", True),
        ("vegetative", True),  # of its true seed
        ("Recalcitrant ", False),
        ("intermediate", False),
    ],
)
def test_only_what_somebody_says_does_not_keep_dry_is_not_predicted(behaviour, dry):
    assert keeps_dry(behaviour) is dry


# Common practice, no source: clonal stock keeps one season.


def test_new_stock_is_looked_at_as_any_new_lot():
    advice = clonal()

    assert (advice.rule, advice.due_on) == ("first_test", dt.date(2026, 1, 30))


def test_stock_near_the_end_of_its_season_is_looked_at_by_then():
    advice = clonal(received_on=dt.date(2026, 8, 1))

    assert (advice.rule, advice.due_on) == ("clonal_season", dt.date(2026, 10, 1))


def test_stock_that_came_after_its_season_is_looked_at_on_the_day_it_came():
    assert clonal(received_on=dt.date(2027, 1, 5)).due_on == dt.date(2027, 1, 5)


def test_stock_that_was_looked_at_waits_for_the_end_of_its_season():
    advice = clonal(tested_on=dt.date(2025, 12, 1))

    assert (advice.due_on, advice.regenerate) == (dt.date(2026, 10, 1), False)


def test_stock_kept_beyond_its_season_is_to_be_planted():
    advice = clonal(tested_on=HARVEST.replace(year=2026))

    assert (advice.rule, advice.regenerate) == ("clonal_overdue", True)
    assert advice.due_on == dt.date(2026, 12, 30)


@pytest.mark.parametrize(
    ("tested_on", "within_days", "rule", "due_on"),
    [
        (None, 60, "first_test", dt.date(2025, 12, 31)),
        (None, 365, "not_orthodox", dt.date(2026, 1, 30)),
        (dt.date(2026, 2, 1), 365, "not_orthodox", dt.date(2026, 5, 2)),
    ],
)
def test_seed_that_does_not_keep_dry_is_tested_every_ninety_days(
    tested_on, within_days, rule, due_on
):
    advice = not_orthodox_check(
        storage_behaviour="recalcitrant",
        received_on=dt.date(2025, 11, 1),
        tested_on=tested_on,
        first_within_days=within_days,
    )

    assert (advice.rule, advice.due_on) == (rule, due_on)


def test_a_day_that_cannot_be_meant_is_refused():
    with pytest.raises(ValueError, match="cannot be meant"):
        clonal(tested_on=dt.date(9999, 1, 1))
