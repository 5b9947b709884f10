"""A member's own garden against the published tables: distances, populations, a whole list.

Sources: 7 CFR 201.76 Table 5 (2015 edition, read) for certified distances, typed anew in
``test_isolation_figures``; the garden chart in ``species.csv`` for home distances and
populations (how far to trust each stands in its row).
"""

from __future__ import annotations

import csv

import pytest

from library.catalogue.models import Crop, Species, Variety
from library.catalogue.reference import DIRECTORY
from library.household.models import SavingPlan
from library.household.services import saving
from tests.growouts.conftest import as_, make_garden  # noqa: F401  (fixtures)
from tests.standards.test_isolation_figures import CERTIFIED_FEET, FOOT_M

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(as_, member, make_garden, make_variety):  # noqa: F811
    """Two varieties of every species that has a crop, on one list, side by side."""
    plan = saving.make_plan(garden=make_garden(member), year=2027, by=member, room_m2=9999)
    crops = {crop.species_id: crop for crop in Crop.objects.order_by("-pk")}
    pairs = {}
    for species in Species.objects.exclude(pollination="clonal"):
        if species.pk in crops:
            two = [make_variety(crop=crops[species.pk].name) for _n in range(2)]
            pairs |= {variety.name: species.botanical_name for variety in two}
    varieties = list(Variety.objects.filter(name__in=pairs).order_by("pk"))
    for half in range(0, len(varieties), saving.MOST_CHOICES):
        one = (
            plan
            if half == 0
            else saving.make_plan(garden=plan.garden, year=2035, by=member, room_m2=9999)
        )
        saving.add_varieties(
            plan=one, varieties=varieties[half : half + saving.MOST_CHOICES], by=member
        )
    bodies = [
        as_(member).get(f"/api/saving-plans/{plan.pk}/crossings/").json()
        for plan in SavingPlan.objects.of(member)
    ]
    return pairs, bodies


def test_every_species_is_told_the_tables_distances_and_populations(told):
    names, bodies = told
    with (DIRECTORY / "species.csv").open(encoding="utf-8", newline="") as lines:
        table = {row["botanical_name"]: row for row in csv.DictReader(lines)}

    seen = set()
    for body in bodies:
        for row in body["varieties"]:
            species = names[row["variety"]["name"]]
            home = table[species]["isolation_m_home"]
            assert row["isolation_m"] == (float(home) if home else None), species
            if table[species]["min_population_maintain"]:
                assert row["plants"] == int(table[species]["min_population_maintain"]), species
            if species in CERTIFIED_FEET:
                metres = round(CERTIFIED_FEET[species][1] * FOOT_M)
                inputs = {one["what"]: one for one in row["inputs"]}
                certified = inputs["isolation distance, certified seed"]
                assert certified["value"] == f"{metres} m"
                assert "7 CFR 201.76" in certified["source"]
            seen.add(species)

    assert CERTIFIED_FEET.keys() <= seen
    assert len(seen) > 50


def test_two_of_every_species_side_by_side_cross_unless_they_need_no_distance(told):
    names, bodies = told

    outcomes = {
        names[pair["one"]]: (pair["outcome"], pair["required_m"])
        for body in bodies
        for pair in body["pairs"]
    }

    assert len(outcomes) > 45
    for species, (outcome, metres) in outcomes.items():
        pollination = Species.objects.get(botanical_name=species).pollination
        if metres:
            assert outcome == "crosses", species
        else:
            assert outcome == ("apart" if pollination == "self" else "unknown"), species
