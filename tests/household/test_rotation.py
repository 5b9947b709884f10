"""Which of one's own varieties to sow in which year, and the calendar of the list."""

from __future__ import annotations

import datetime as dt

import pytest

from library.germination.estimates import estimate_of
from library.household.keeping import kept_by
from library.household.rotating import rotation_of
from library.household.services import saving
from library.science.rotation import Remedy
from library.stock.services import add_storage_place
from tests.growouts.conftest import TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def pea(make_variety):
    return make_variety("Beck Pea", crop="garden pea", days_to_maturity=70)


@pytest.fixture
def fridge(desk):
    return add_storage_place(name="Pantry fridge", kind="refrigerator", by=desk)


def turns(plan):
    return {turn.variety.name: turn for turn in rotation_of(plan, on=TODAY).turns}


def test_seed_is_good_until_the_last_sowing_day_before_its_chance_falls(
    plan, pea, make_home_lot
):
    """The year is worked out here day by day from the lot's own estimate."""
    lot = make_home_lot(pea)

    (own,) = kept_by(plan, on=TODAY).varieties

    known = estimate_of(lot, on=TODAY)
    sowing_days = {year: dt.date(year, 5, 24) for year in range(2026, 2042)}  # frost + 14
    chances = {year: known.on(day).chance_above for year, day in sowing_days.items()}
    good = [year for year, chance in chances.items() if chance >= 0.5]
    assert own.good_until == max(good)
    assert chances[own.good_until + 1] < 0.5
    assert own.best.falls_on < sowing_days[own.good_until + 1]


def test_a_stricter_member_sows_sooner_and_cold_seed_waits_longer(
    plan, pea, make_home_lot, fridge, member, variety
):
    make_home_lot(pea)
    make_home_lot(variety, storage_place=fridge)
    usual = {own.variety: own for own in kept_by(plan, on=TODAY).varieties}

    strict = saving.change_plan(plan=plan, by=member, chance_percent=90)

    for own in kept_by(strict, on=TODAY).varieties:
        assert own.good_until <= usual[own.variety].good_until
        assert own.lasts <= usual[own.variety].lasts
    assert usual[pea].good_until < usual[variety].good_until


def test_each_is_sown_before_its_seed_is_past_it(plan, pea, variety, make_home_lot):
    make_home_lot(pea)
    make_home_lot(variety, harvest_year=2023, on=dt.date(2023, 10, 1))

    found = rotation_of(plan, on=TODAY)

    assert found.short_years == sum(len(turn.short) for turn in found.turns)
    for turn in found.turns:
        covered = set(range(2026, turn.good_until + 1))
        for sown in turn.sow_in:
            covered |= set(range(sown + 1, sown + turn.lasts + 1))
        assert set(turn.short) == set(range(2026, 2032)) - covered
    assert all(year.used_m2 <= 40.0001 for year in found.years)


def test_what_the_member_knows_of_a_species_goes_before_the_tables(
    plan, put, pea, make_home_lot
):
    make_home_lot(pea)
    put(pea, keeps_years=9)

    turn = turns(plan)["Beck Pea"]

    assert (turn.lasts, turn.own.lasts_from, turn.listed) == (9, "own", True)
    assert (turn.good_until, turn.sow_in, turn.short) == (2035, (2026,), ())


def test_two_that_cross_take_turns_unless_they_are_bagged(
    plan, put, make_variety, make_home_lot, member
):
    squashes = [make_variety(name, crop="courgette") for name in ("Round", "Long")]
    for squash in squashes:
        make_home_lot(squash, harvest_year=2024, on=dt.date(2024, 10, 1))

    both = turns(plan).values()
    assert not set.intersection(*(set(turn.sow_in) for turn in both))
    short = [turn for turn in both if turn.short]
    assert short
    assert {turn.remedy for turn in short} <= {Remedy.TECHNIQUE, Remedy.NONE}
    assert Remedy.TECHNIQUE in {turn.remedy for turn in short}

    put(squashes[0], technique="bag")
    bagged = turns(plan)
    assert bagged["Round"].sow_in[0] == 2026
    assert not bagged["Round"].alone
    assert 2026 in bagged["Long"].sow_in


def test_nothing_is_sown_beside_an_own_planting_that_it_would_cross_with(
    plan, garden, make_variety, make_home_lot, make_planting
):
    squash = make_variety("Round", crop="courgette")
    make_home_lot(squash, harvest_year=2024, on=dt.date(2024, 10, 1))
    make_planting(garden, make_variety("Marrow", crop="courgette"))

    turn = turns(plan)["Round"]

    assert turn.never == (2026,)
    assert 2026 not in turn.sow_in


def test_room_binds_and_more_room_is_the_remedy(plan, make_variety, make_home_lot, member):
    plan = saving.change_plan(plan=plan, by=member, room_m2="0.2")
    for name in ("A", "B"):
        bean = make_variety(name, crop="broad bean")
        make_home_lot(bean, harvest_year=2024, on=dt.date(2024, 10, 1))

    found = rotation_of(plan, on=TODAY)

    assert [turn.sow_in for turn in found.turns if turn.short] == [(), ()]
    assert {turn.remedy for turn in found.turns} <= {Remedy.ROOM, Remedy.NONE}
    room = next(turn for turn in found.turns if turn.remedy is Remedy.ROOM)
    assert room.more_m2 == pytest.approx(room.room_m2, abs=0.1)


def test_clones_are_grown_each_year_and_hybrids_are_left_out(plan, make_variety, make_home_lot):
    garlic = make_variety("Rocamble Hill", crop="garlic", breeding_status="clone")
    hybrid = make_variety("First Cross", crop="tomato", breeding_status="f1")
    make_home_lot(garlic), make_home_lot(hybrid)

    found = rotation_of(plan, on=TODAY)

    assert [variety.name for variety in found.kept.hybrids] == ["First Cross"]
    (turn,) = found.turns
    assert (turn.good_until, turn.lasts, turn.own.lasts_from) == (2026, 1, "assumed")
    assert turn.sow_in == (2026, 2027, 2028, 2029, 2030)


def test_the_page_puts_what_is_due_on_the_list(client, plan, pea, make_home_lot, member):
    make_home_lot(pea, harvest_year=2022, on=dt.date(2022, 10, 1))
    client.force_login(member)
    page = client.get(f"/my-garden/{plan.pk}/rotation/").content.decode()
    assert "Put these on the list" in page

    client.post(f"/my-garden/{plan.pk}/add/", {"varieties": [pea.pk]})

    assert plan.choices.get().variety == pea
    again = client.get(f"/my-garden/{plan.pk}/rotation/").content.decode()
    assert "Put these on the list" not in again


def test_over_the_api_each_number_carries_what_it_was_made_from(
    as_, plan, pea, make_home_lot, member
):
    lot = make_home_lot(pea)

    body = as_(member).get(f"/api/saving-plans/{plan.pk}/rotation/").json()

    (row,) = body["varieties"]
    assert row["lot"] == lot.number
    inputs = {one["what"]: one for one in row["inputs"]}
    assert inputs["new seed keeps"]["value"] == str(row["lasts"])
    assert "Growing for Market" in inputs["plants"]["source"] or inputs["plants"]["source"]
    assert [year["year"] for year in body["years"]] == list(range(2026, 2032))


# The calendar -----------------------------------------------------------------------------


def test_the_days_follow_the_gardens_own_frosts(as_, plan, put, pea, make_variety, member):
    put(pea, technique="bag"), put(make_variety("Fell Kale", crop="kale"))

    body = as_(member).get(f"/api/saving-plans/{plan.pk}/calendar/").json()

    assert body["frost_dates_from"] == "garden"
    days = {(day["variety"]["name"], day["step"]): day for day in body["days"]}
    # By hand: sown 14 days after 10 May; ripe 70 + 45 days later; flowers 60 days before.
    assert days["Beck Pea", "sown"]["on"] == "2026-05-24"
    assert days["Beck Pea", "harvested"]["on"] == "2026-09-16"
    assert days["Beck Pea", "isolated"]["on"] == "2026-07-18"
    assert days["Beck Pea", "rogued"]["on"] == "2026-07-11"
    assert days["Beck Pea", "isolated"]["how"] == "bags over the flowers"
    assert days["Fell Kale", "harvested"]["on"] == "2027-09-07"  # 120 days after 10 May 2027
    assert ("Beck Pea", "returned") not in days
    assert [day["on"] for day in body["days"]] == sorted(day["on"] for day in body["days"])


def test_a_garden_without_frost_dates_says_so(client, plan, put, pea, garden, member):
    type(garden).objects.update(last_spring_frost="", first_autumn_frost="")
    put(pea)
    client.force_login(member)

    page = client.get(f"/my-garden/{plan.pk}/calendar/").content.decode()

    assert "Nobody said when it freezes there" in page
