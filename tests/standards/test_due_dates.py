"""When a loan is due follows how the crop lives; when a first test is, the genebanks."""

from datetime import date

import pytest

from library.science.calendar import GardenSeason, LifeCycle, MonthDay, loan_due
from library.science.germination import first_test_due

GARDEN = GardenSeason(MonthDay(5, 15), MonthDay(10, 1))


@pytest.fixture(scope="module")
def life_cycles(reference):
    return {row["crop"]: LifeCycle(row["life_cycle"]) for row in reference("crops")}


@pytest.mark.parametrize(
    ("crop", "harvests"),
    [
        # Life cycles: standard botany, as every seed-saving handbook has them (from memory)
        ("dwarf bean", 1),
        ("garden pea", 1),
        ("tomato", 1),
        ("lettuce", 1),
        ("courgette", 1),
        ("broccoli", 1),
        ("radish", 1),
        ("spinach", 1),
        ("carrot", 2),
        ("parsnip", 2),
        ("beetroot", 2),
        ("chard", 2),
        ("onion", 2),
        ("leek", 2),
        ("cabbage", 2),
        ("kale", 2),
        ("Brussels sprout", 2),
        ("swede", 2),
        ("parsley", 2),
        ("celery", 2),
        ("chives", 2),
        ("potato", 1),
        ("sweet potato", 1),
    ],
)
def test_seed_lent_in_spring_is_due_after_the_harvest_of_its_year(life_cycles, crop, harvests):
    loan = loan_due(
        lent_on=date(2026, 4, 1),
        life_cycle=life_cycles[crop],
        garden=GARDEN,
        days_to_maturity=80,
    )

    season_starts, season_ends = GARDEN.of_year(2025 + harvests)

    assert season_starts < loan.seed_ripe_on <= season_ends
    assert loan.due_on > loan.seed_ripe_on


def test_the_first_test_is_never_later_than_twelve_months():
    # FAO Genebank Standards 2014, 4.3.1
    longest = first_test_due(received_on=date(2025, 6, 1), within_days=365)

    assert longest.due_on == date(2026, 6, 1)
