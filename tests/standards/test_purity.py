"""Stands judged by isolation distances that were published.

For certified seed: 7 CFR 201.76, Table 5, in feet (``cfr_201_76_isolation.csv``). For a home
garden: the handouts and rules named beside each figure in ``species.csv``. That a hand replaces
distance is said by note 10 of the table, for maize; that 0 ft asks only for room against
mixing, by note 23.
"""

from __future__ import annotations

import pytest

from library.science.isolation import Pollination, Technique
from library.science.purity import Grade, judge_stand
from tests.standards.tables import rows

FOOT_M = 0.3048  # exactly: the international foot, 1959

# How pollen of each travels: ``species.csv``.
ROWS = {
    "Corn, open-pollinated": Pollination.WIND,
    "Buckwheat": Pollination.INSECT,
    "Onion": Pollination.INSECT,
    "Okra": Pollination.MOSTLY_SELF,
    "Pepper": Pollination.MOSTLY_SELF,
    "Sunflower, nonhybrid": Pollination.INSECT,
    "Watermelon": Pollination.INSECT,
    "Bean, field and garden": Pollination.SELF,
}


def certified_feet() -> dict[str, float]:
    table = rows("cfr_201_76_isolation")
    return {row["crop"]: float(row["certified_ft"]) for row in table if row["certified_ft"]}


@pytest.mark.parametrize("crop", ROWS)
def test_a_field_at_the_distance_of_the_federal_table_is_far_enough(crop):
    metres = certified_feet()[crop] * FOOT_M
    facts = {"required_m": metres, "pollination": ROWS[crop]}

    at_it = judge_stand(technique=Technique.DISTANCE, noted_m=metres, **facts)
    by_hand = judge_stand(technique=Technique.HAND_POLLINATION, noted_m=0, **facts)

    assert at_it.grade is by_hand.grade is Grade.SAFE
    if not metres:  # note 23
        assert judge_stand(technique=Technique.NONE, **facts).grade is Grade.SAFE
        return
    nearer = judge_stand(technique=Technique.DISTANCE, noted_m=metres - 1, **facts)
    assert nearer.grade is Grade.WEAK
    assert nearer.verdict.shortfall_m == pytest.approx(1)


@pytest.mark.parametrize(
    ("crop", "noted_ft", "short"),
    [
        ("Corn, open-pollinated", 410, 250 / 660),  # note 12: enough if of one colour only
        ("Corn, open-pollinated", 165, 495 / 660),
        ("Watermelon", 660, 1 / 2),
    ],
)
def test_the_shortfall_is_the_part_of_the_distance_that_is_missing(crop, noted_ft, short):
    feet = certified_feet()[crop]

    judged = judge_stand(
        required_m=feet * FOOT_M,
        technique=Technique.DISTANCE,
        pollination=ROWS[crop],
        noted_m=noted_ft * FOOT_M,
    )

    assert judged.grade is Grade.WEAK
    assert judged.shortfall == pytest.approx(short)


def test_each_distance_of_a_home_garden_separates_safe_from_weak():
    judged = 0
    for species in rows("species"):
        if not species["isolation_m_home"]:
            continue
        metres = float(species["isolation_m_home"])
        facts = {
            "required_m": metres,
            "technique": Technique.DISTANCE,
            "pollination": Pollination(species["pollination"]),
        }
        at_it = judge_stand(noted_m=metres, **facts)
        nearer = judge_stand(noted_m=metres - 1, **facts)
        assert (at_it.grade, nearer.grade) == (Grade.SAFE, Grade.WEAK), species
        assert species["isolation_m_home_source"]
        judged += 1

    assert judged == 49
