"""What members grow for themselves."""

from __future__ import annotations

from decimal import Decimal

import pytest

from library.catalogue.models import Species
from library.errors import Conflict, NotAllowed, Refused
from library.growouts.models import OwnPlanting
from library.growouts.services import plantings
from library.growouts.services.plantings import add_planting, edit_planting, remove_planting


@pytest.fixture
def garden(member, make_garden):
    return make_garden(member, name="Mill Lane plot")


@pytest.fixture
def bean(garden, member, variety):
    return add_planting(garden=garden, year=2026, by=member, variety=variety, plants=12)


def test_a_variety_of_the_catalogue_brings_its_species(bean, variety):
    assert bean.species == variety.crop.species
    assert (bean.name, bean.plants, bean.flowers, bean.for_seed) == ("", 12, True, False)


def test_what_the_catalogue_does_not_know_has_a_name_and_a_species(garden, member, variety):
    species = variety.crop.species
    made = add_planting(
        garden=garden, year=2026, by=member, name=" Auntie's ", species=species, room_m2="1.25"
    )

    assert (made.name, made.variety, made.species) == ("Auntie's", None, species)
    assert made.room_m2 == Decimal("1.2")


def test_neither_a_name_nor_a_variety_nor_both(garden, member, variety):
    species = variety.crop.species
    for told in ({}, {"name": "Auntie's"}, {"species": species}, {"name": " "}):
        with pytest.raises(Refused, match="Choose a variety of the catalogue, or"):
            add_planting(garden=garden, year=2026, by=member, **told)
    with pytest.raises(Refused, match="not both"):
        add_planting(garden=garden, year=2026, by=member, variety=variety, name="Auntie's")


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"year": 10**30}, "year"),
        ({"year": -1}, "year"),
        ({"year": "2026"}, "year"),
        ({"plants": 0}, "plants"),
        ({"plants": -4}, "plants"),
        ({"plants": 10**30}, "plants"),
        ({"plants": 2.5}, "plants"),
        ({"room_m2": -4}, "room_m2"),
        ({"room_m2": "1e999"}, "room_m2"),
        ({"note": "x" * 501}, "note"),
    ],
)
def test_figures_that_are_none_are_refused(garden, member, variety, told, field):
    with pytest.raises(Refused) as refusal:
        add_planting(garden=garden, by=member, variety=variety, **{"year": 2026} | told)

    assert refusal.value.field == field
    assert not OwnPlanting.objects.exists()


def test_a_garden_holds_so_many_plantings_of_a_year_and_no_more(
    garden, member, variety, monkeypatch
):
    monkeypatch.setattr(plantings, "MOST_PLANTINGS", 2)
    facts = {"garden": garden, "by": member, "variety": variety}
    for _n in range(2):
        add_planting(year=2026, **facts)

    with pytest.raises(Refused, match="At most 2 plantings"):
        add_planting(year=2026, **facts)
    later = add_planting(year=2027, **facts)
    with pytest.raises(Refused, match="At most 2 plantings"):
        edit_planting(planting=later, by=member, year=2026)

    assert OwnPlanting.objects.in_year(2026).count() == 2


def test_only_what_is_given_is_changed(bean, member):
    changed = edit_planting(planting=bean, by=member, flowers=False, note="for the pot")

    assert (changed.flowers, changed.note, changed.plants) == (False, "for the pot", 12)
    assert changed.variety == bean.variety


def test_a_name_takes_the_place_of_a_variety_and_a_variety_that_of_a_name(
    bean, member, make_variety
):
    named = edit_planting(planting=bean, by=member, name="not what it said")
    assert (named.variety, named.name) == (None, "not what it said")
    assert named.species == Species.objects.get(pk=bean.species_id)

    tomato = make_variety("Fell Plum", crop="tomato")
    known = edit_planting(planting=bean, by=member, variety=tomato)
    assert (known.variety, known.name, known.species) == (tomato, "", tomato.crop.species)


def test_what_is_not_kept_of_a_planting_is_said(bean, member, make_garden):
    with pytest.raises(Refused, match="“garden” is not kept"):
        edit_planting(planting=bean, by=member, garden=make_garden(member))


def test_nobody_touches_anothers_plantings_not_even_a_coordinator(
    bean, garden, other_member, coordinator, variety
):
    for by in (other_member, coordinator):
        with pytest.raises(Refused, match="not a garden of this member"):
            add_planting(garden=garden, year=2026, by=by, variety=variety)
        with pytest.raises(NotAllowed):
            edit_planting(planting=bean, by=by, plants=1)
        with pytest.raises(NotAllowed):
            remove_planting(planting=bean, by=by)

    bean.refresh_from_db()
    assert bean.plants == 12


def test_removing_twice_is_no_harm_and_changing_what_is_gone_is_said(bean, member):
    for _n in range(2):
        remove_planting(planting=bean, by=member)

    with pytest.raises(Conflict, match="was removed"):
        edit_planting(planting=bean, by=member, plants=3)


def test_a_garden_that_was_removed_takes_no_planting(garden, member, variety):
    type(garden).objects.filter(pk=garden.pk).delete()

    with pytest.raises(Conflict, match="was removed"):
        add_planting(garden=garden, year=2026, by=member, variety=variety)
