"""Seasons, offers and own plantings over the API."""

from __future__ import annotations

import datetime as dt

import pytest

from library.growouts.models import GardenOffer, GrowerOffer, OwnPlanting, Season
from tests.growouts.conftest import TODAY

SEASONS, OFFERS, PLANTINGS = "/api/seasons/", "/api/grower-offers/", "/api/plantings/"


@pytest.fixture
def plot(member, make_garden):
    return make_garden(member, name="Mill Lane plot")


def offering(season, plot, **facts) -> dict:
    given = {"garden": plot.pk, "room_m2": "30"} | facts
    return {"season": season.year, "most": 2, "gardens": [given]}


# Seasons ----------------------------------------------------------------------------------


def test_a_season_is_opened_changed_closed_and_reopened(as_, coordinator):
    api = as_(coordinator)
    made = api.post(SEASONS, {"year": 2027, "note": "Sow early."})
    assert (made.status_code, made.json()["year"]) == (201, 2027)
    assert api.post(SEASONS, {"year": 2027}).json()["code"] == "conflict"

    changed = api.patch(f"{SEASONS}2027/", {"offers_until": "2027-03-01"}).json()
    assert (changed["offers_until"], changed["note"]) == ("2027-03-01", "Sow early.")
    assert api.post(f"{SEASONS}2027/close/").json()["closed_on"] == TODAY.isoformat()
    assert api.post(f"{SEASONS}2027/close/").status_code == 409
    assert api.post(f"{SEASONS}2027/reopen/").json()["closed_on"] is None


@pytest.mark.parametrize("year", [-1, 0, 1899, 2201, 10**30, "next", None, 2026.5])
def test_a_year_that_is_none_is_refused(as_, coordinator, year):
    assert as_(coordinator).post(SEASONS, {"year": year}).status_code == 400
    assert not Season.objects.exists()


def test_a_season_opened_twice_with_one_key_is_opened_once(as_, coordinator):
    key = {"HTTP_IDEMPOTENCY_KEY": "open-2027"}
    first = as_(coordinator).post(SEASONS, {"year": 2027}, **key)
    second = as_(coordinator).post(SEASONS, {"year": 2027}, **key)

    assert first.status_code == second.status_code == 201
    assert second["Idempotent-Replay"] == "true"
    assert Season.objects.count() == 1


def test_what_coordinators_count_and_note_is_for_coordinators(
    as_, member, coordinator, season, make_offer, make_wanted, make_lot
):
    make_offer(member)
    variety = make_lot().variety
    make_wanted(variety, weight=3, why="her last jar")
    address = f"{SEASONS}{season.year}/"

    seen = as_(member).get(address).json()
    assert (seen["varieties"], seen["promises"], seen["growers"]) == (1, 0, None)
    row = as_(member).get(f"{address}wanted/").json()["results"][0]
    assert row["variety"]["name"] == variety.name
    assert 0 <= row["chance_of_loss"] <= 1
    assert (row["weight"], row["most_growers"], row["why"]) == (None, None, None)

    assert as_(coordinator).get(address).json()["growers"] == 1
    row = as_(coordinator).get(f"{address}wanted/").json()["results"][0]
    assert (row["weight"], row["most_growers"], row["why"]) == (3.0, 2, "her last jar")


def test_varieties_are_chosen_and_dropped(as_, coordinator, season, make_variety):
    chosen = [make_variety().pk for _n in range(3)]
    address = f"{SEASONS}{season.year}/"
    said = as_(coordinator).post(f"{address}want/", {"varieties": chosen, "weight": "2.5"})
    assert [row["weight"] for row in said.json()] == [2.5] * 3

    dropped = as_(coordinator).post(f"{address}drop/", {"varieties": chosen[:2]})
    assert dropped.json() == {"dropped": 2}
    assert season.wanted.count() == 1


@pytest.mark.parametrize(
    "wrong", [{"varieties": []}, {"varieties": [10**30]}, {"weight": -1}, {"weight": "nan"},
              {"most_growers": 0}, {"most_growers": 10**30}, {"why": "x" * 251}, {"why": "\0"}],
)  # fmt: skip
def test_a_choice_that_cannot_be_is_refused(as_, coordinator, season, variety, wrong):
    sent = {"varieties": [variety.pk]} | wrong

    answer = as_(coordinator).post(f"{SEASONS}{season.year}/want/", sent)
    assert answer.status_code == 400
    assert not season.wanted.exists()


def test_open_seasons_are_asked_for(as_, member):
    Season.objects.create(year=2025, closed_on=TODAY)
    Season.objects.create(year=2027)

    def years(**asked):
        return [row["year"] for row in as_(member).get(SEASONS, asked).json()["results"]]

    assert years() == [2027, 2025]
    assert years(open="true") == [2027]
    assert years(open="false") == [2025]


# Offers -----------------------------------------------------------------------------------


def test_a_member_offers_sees_their_experience_and_withdraws(as_, member, season, plot):
    sent = offering(season, plot, room_m2=None, plots=4, plot_m2="1.2", can_cage=True)
    answer = as_(member).post(OFFERS, sent)
    made = answer.json()

    assert answer.status_code == 201
    assert made["gardens"] == [
        {
            "garden": {"id": plot.pk, "name": "Mill Lane plot"},
            "room_m2": "4.8",
            "room_next_m2": None,
            "can_cage": True,
            "can_bag": False,
            "can_pollinate_by_hand": False,
        }
    ]
    assert made["experience"]["mean"] == pytest.approx(0.7)
    withdrawn = as_(member).post(f"{OFFERS}{made['id']}/withdraw/").json()
    assert withdrawn["withdrawn_at"] is not None


def test_an_offer_replaces_the_one_before_and_a_coordinator_writes_one_down(
    as_, member, coordinator, season, plot
):
    as_(member).post(OFFERS, offering(season, plot))
    season.offers_until = TODAY - dt.timedelta(days=1)
    season.save()
    assert as_(member).post(OFFERS, offering(season, plot)).status_code == 409

    sent = offering(season, plot, room_m2="7") | {"member": member.display_name}
    assert as_(coordinator).post(OFFERS, sent).status_code == 201
    assert GrowerOffer.objects.count() == 1
    assert GardenOffer.objects.get().room_m2 == 7


@pytest.mark.parametrize(
    "wrong", [{"room_m2": "-1"}, {"room_m2": "0"}, {"room_m2": "1e30"}, {"room_m2": "nan"},
              {"plots": 2}, {"room_m2": None}, {"room_m2": None, "plots": -2, "plot_m2": "1"},
              {"room_next_m2": "-1"}, {"room_m2": None, "plots": 10**30, "plot_m2": "1"},
              {"garden": 0}, {"garden": 10**30}, {"can_bag": "perhaps"}],
)  # fmt: skip
def test_room_that_cannot_be_is_refused(as_, member, season, plot, wrong):
    answer = as_(member).post(OFFERS, offering(season, plot, **wrong))

    assert answer.status_code == 400, answer.json()
    assert answer.json()["detail"]
    assert not GrowerOffer.objects.exists()


def test_another_members_offers_and_gardens_are_not_there(
    as_, member, other_member, season, make_offer, plot
):
    offer = make_offer(member, garden=plot).offer
    api = as_(other_member)

    assert api.get(OFFERS).json()["results"] == []
    assert api.get(f"{OFFERS}{offer.pk}/").status_code == 404
    assert api.post(f"{OFFERS}{offer.pk}/withdraw/").status_code == 404
    stolen = api.post(OFFERS, offering(season, plot))
    assert stolen.status_code == 400
    named = api.post(OFFERS, offering(season, plot) | {"member": member.display_name})
    assert named.status_code in (400, 403)
    assert "Mill Lane" not in stolen.content.decode() + named.content.decode()
    assert GardenOffer.objects.get().room_m2 == 30


def test_coordinators_list_every_offer_in_as_many_questions_for_six_as_for_one(
    as_, coordinator, season, make_member, make_offer, count_queries
):
    make_offer(make_member("grower"))
    few = count_queries(lambda: as_(coordinator).get(OFFERS, {"season": season.year}))
    for number in range(6):
        make_offer(make_member(f"grower {number}"))

    assert count_queries(lambda: as_(coordinator).get(OFFERS, {"season": season.year})) == few
    assert as_(coordinator).get(OFFERS).json()["count"] == 7
    assert as_(coordinator).get(OFFERS, {"mine": "true"}).json()["count"] == 0
    assert as_(coordinator).get(OFFERS, {"season": 1999}).status_code == 400


# Plantings --------------------------------------------------------------------------------


def test_a_planting_is_written_down_changed_and_removed(as_, member, plot, variety):
    sent = {"garden": plot.pk, "year": 2026, "variety": variety.pk, "plants": 12}
    made = as_(member).post(PLANTINGS, sent).json()
    assert (made["variety"]["name"], made["flowers"]) == ("Tarn Kettle", True)

    address = f"{PLANTINGS}{made['id']}/"
    changed = as_(member).patch(address, {"name": "not that one", "flowers": False}).json()
    assert (changed["name"], changed["variety"], changed["plants"]) == (
        "not that one",
        None,
        12,
    )
    assert changed["species"] == made["species"]
    assert as_(member).delete(address).status_code == 204
    assert as_(member).delete(address).status_code == 404


@pytest.mark.parametrize(
    "wrong", [{"year": 10**30}, {"year": 0}, {"plants": -1}, {"plants": 10**30},
              {"room_m2": "-3"}, {"variety": 10**30}, {"variety": None}, {"garden": 10**30},
              {"name": "Auntie's"}, {"species": "no-such", "variety": None, "name": "x"}],
)  # fmt: skip
def test_a_planting_that_cannot_be_is_refused(as_, member, plot, variety, wrong):
    sent = {"garden": plot.pk, "year": 2026, "variety": variety.pk} | wrong

    assert as_(member).post(PLANTINGS, sent).status_code == 400
    assert not OwnPlanting.objects.exists()


def test_plantings_are_for_their_member_and_coordinators(
    as_, member, other_member, coordinator, plot, variety, make_planting
):
    planting = make_planting(plot, variety)
    address = f"{PLANTINGS}{planting.pk}/"

    assert as_(other_member).get(PLANTINGS).json()["count"] == 0
    assert as_(other_member).get(address).status_code == 404
    assert as_(other_member).get(PLANTINGS, {"garden": plot.pk}).status_code == 400
    theirs = {"garden": plot.pk, "year": 2026, "variety": variety.pk}
    assert as_(other_member).post(PLANTINGS, theirs).status_code == 400
    assert as_(other_member).delete(address).status_code == 404
    assert as_(coordinator).get(address).json()["member"] == member.display_name
    assert as_(coordinator).patch(address, {"plants": 1}).status_code == 403
    assert as_(coordinator).delete(address).status_code == 403
    assert as_(coordinator).get(PLANTINGS, {"mine": "true"}).json()["count"] == 0


def test_plantings_ask_no_more_for_six_than_for_one(
    as_, coordinator, make_member, make_garden, make_variety, make_planting, count_queries
):
    def fill(n: int):
        for number in range(n):
            make_planting(make_garden(make_member(f"grower {n} {number}")), make_variety())

    fill(1)
    few = count_queries(lambda: as_(coordinator).get(PLANTINGS, {"year": 2026}))
    fill(6)
    assert count_queries(lambda: as_(coordinator).get(PLANTINGS, {"year": 2026})) == few


def test_what_is_wanted_asks_no_more_for_six_than_for_one(
    as_, member, season, make_lot, make_wanted, make_variety, count_queries
):
    address = f"{SEASONS}{season.year}/wanted/"
    make_wanted(make_lot(make_variety()).variety)
    few = count_queries(lambda: as_(member).get(address))
    for _n in range(6):
        make_wanted(make_lot(make_variety()).variety)

    assert count_queries(lambda: as_(member).get(address)) == few
