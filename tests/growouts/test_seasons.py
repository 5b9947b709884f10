"""Opening a season, choosing what it renews, and what growers offer."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse

from accounts.services import leave, remove_garden
from library.errors import Conflict, NotAllowed, Refused
from library.growouts.commitments.dates import first_year_to_sow_for
from library.growouts.models import (
    GardenOffer,
    GrowerOffer,
    OwnPlanting,
    Season,
    WantedVariety,
)
from library.growouts.services import seasons
from library.growouts.services.rooms import Room, square_metres
from tests.growouts.conftest import TODAY


@pytest.fixture
def offer(season, member, make_garden):
    """``offer(most=2)`` is the member's offer of thirty square metres, by the service."""
    garden = make_garden(member, name="Mill Lane plot")

    def make(*, by=None, on=TODAY, gardens=None, **facts):
        return seasons.offer_gardens(
            season=season,
            member=member,
            gardens=gardens if gardens is not None else [Room(garden, room_m2=30)],
            on=on,
            by=by or member,
            **{"most": 2} | facts,
        )

    make.garden = garden
    return make


# The season itself ------------------------------------------------------------------------


def test_a_coordinator_opens_changes_closes_and_reopens_a_season(coordinator):
    season = seasons.open_season(year=2026, by=coordinator, note=" sow early ")
    until = dt.date(2026, 3, 1)
    seasons.change_season(season=season, by=coordinator, offers_until=until, note="late")
    season.refresh_from_db()
    assert (season.offers_until, season.note) == (until, "late")

    seasons.close_season(season=season, on=TODAY, by=coordinator)
    with pytest.raises(Conflict, match="is over"):
        seasons.change_season(season=season, by=coordinator)
    with pytest.raises(Conflict, match="is over"):
        seasons.close_season(season=season, on=TODAY, by=coordinator)

    assert not seasons.reopen_season(season=season, by=coordinator).is_over
    with pytest.raises(Conflict, match="is open"):
        seasons.reopen_season(season=season, by=coordinator)


def test_several_seasons_are_open_but_one_for_each_year(coordinator):
    seasons.open_season(year=2026, by=coordinator)
    seasons.open_season(year=2027, by=coordinator)

    with pytest.raises(Conflict, match="2026 is there already"):
        seasons.open_season(year=2026, by=coordinator)

    assert Season.objects.open().count() == 2


@pytest.mark.parametrize("year", [0, -5, 1899, 2201, 10**30, True, "2026", None, 2026.5])
def test_a_year_that_is_none_is_refused(coordinator, year):
    with pytest.raises(Refused) as refusal:
        seasons.open_season(year=year, by=coordinator)

    assert refusal.value.field == "year"


def test_only_a_coordinator_opens_chooses_and_closes(member, desk, season, variety):
    for by in (member, desk):
        for act in (
            lambda by=by: seasons.open_season(year=2030, by=by),
            lambda by=by: seasons.change_season(season=season, by=by),
            lambda by=by: seasons.close_season(season=season, on=TODAY, by=by),
            lambda by=by: seasons.reopen_season(season=season, by=by),
            lambda by=by: seasons.want_varieties(season=season, varieties=[variety], by=by),
            lambda by=by: seasons.drop_varieties(season=season, varieties=[variety], by=by),
        ):
            with pytest.raises(NotAllowed):
                act()


@pytest.mark.parametrize("state", ["offered", "accepted"])
def test_a_season_with_an_open_promise_is_not_closed(
    season, coordinator, member, variety, make_commitment, state
):
    promise = make_commitment(variety, member, state=state)
    with pytest.raises(Conflict, match="1 promise"):
        seasons.close_season(season=season, on=TODAY, by=coordinator)

    promise.state, promise.closed_on = "withdrawn", TODAY
    promise.save()
    assert seasons.close_season(season=season, on=TODAY, by=coordinator).is_over


# What it is to renew ----------------------------------------------------------------------


def test_many_varieties_are_chosen_at_once_and_a_second_time_changed(
    season, coordinator, make_variety
):
    chosen = [make_variety() for _n in range(3)]
    seasons.want_varieties(season=season, varieties=chosen, by=coordinator, weight="2.5")
    seasons.want_varieties(
        season=season,
        varieties=[chosen[0], chosen[0]],
        by=coordinator,
        weight=1,
        most_growers=4,
        why="nobody else has it",
    )

    wanted = {row.variety_id: row for row in WantedVariety.objects.all()}
    assert len(wanted) == 3
    changed = wanted[chosen[0].pk]
    assert (changed.weight, changed.most_growers) == (1, 4)
    assert changed.why == "nobody else has it"
    assert wanted[chosen[1].pk].weight == Decimal("2.5")


def test_choosing_asks_no_more_for_many_than_for_one(
    season, coordinator, make_variety, django_assert_max_num_queries
):
    for several in (1, 6):
        chosen = [make_variety() for _n in range(several)]
        with django_assert_max_num_queries(6):
            seasons.want_varieties(season=season, varieties=chosen, by=coordinator)


def test_an_f1_hybrid_is_not_renewed_and_nothing_of_the_choice_is_kept(
    season, coordinator, variety, make_variety
):
    hybrid = make_variety("Quick Red", breeding_status="f1")

    with pytest.raises(Refused, match="Quick Red is an F1 hybrid"):
        seasons.want_varieties(season=season, varieties=[variety, hybrid], by=coordinator)

    assert not WantedVariety.objects.exists()


@pytest.mark.parametrize("weight", [-1, 101, "nan", "inf", "1e400", "much", None, "1e-400x"])
def test_a_weight_that_is_none_is_refused(season, coordinator, variety, weight):
    with pytest.raises(Refused) as refusal:
        seasons.want_varieties(
            season=season, varieties=[variety], by=coordinator, weight=weight
        )

    assert refusal.value.field == "weight"


@pytest.mark.parametrize("most", [0, 21, -1, True, "2", 10**30])
def test_how_many_growers_is_a_small_number(season, coordinator, variety, most):
    with pytest.raises(Refused) as refusal:
        seasons.want_varieties(
            season=season, varieties=[variety], by=coordinator, most_growers=most
        )

    assert refusal.value.field == "most_growers"


def test_choosing_nothing_is_said(season, coordinator):
    with pytest.raises(Refused, match="at least one"):
        seasons.want_varieties(season=season, varieties=[], by=coordinator)


def test_more_varieties_than_a_season_can_renew_are_refused(
    season, coordinator, make_variety, monkeypatch
):
    monkeypatch.setattr(seasons, "MOST_WANTED", 2)
    chosen = [make_variety() for _n in range(3)]
    seasons.want_varieties(season=season, varieties=chosen[:2], by=coordinator)

    with pytest.raises(Refused, match="at most 2"):
        seasons.want_varieties(season=season, varieties=chosen[2:], by=coordinator)
    seasons.want_varieties(season=season, varieties=chosen[:2], by=coordinator)  # once more

    assert season.wanted.count() == 2


def test_dropping_leaves_promises(
    season, coordinator, member, variety, make_wanted, make_commitment
):
    promise = make_commitment(variety, member, state="accepted")
    seasons.drop_wanted(wanted=make_wanted(variety), by=coordinator)
    assert not season.wanted.exists()

    make_wanted(variety)
    assert seasons.drop_varieties(season=season, varieties=[variety], by=coordinator) == 1
    assert seasons.drop_varieties(season=season, varieties=[variety], by=coordinator) == 0
    promise.refresh_from_db()
    assert promise.state == "accepted"


# What a grower offers ---------------------------------------------------------------------


def test_an_offer_is_kept_and_a_later_one_takes_its_place(offer, member, make_garden, season):
    offer(wishes="no squash, please")
    second = make_garden(member, name="Behind the church")
    rooms = [Room(second, plots=3, plot_m2="4.5", room_next_m2=0, can_bag=True)]
    made = offer(gardens=rooms, most=5)

    kept = GardenOffer.objects.get()
    assert GrowerOffer.objects.get() == made
    assert (made.most, made.wishes) == (5, "")
    assert (kept.garden, kept.room_m2, kept.room_next_m2) == (second, Decimal("13.5"), 0)
    assert (kept.can_bag, kept.can_cage, kept.can_pollinate_by_hand) == (True, False, False)


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({}, "room_m2"),
        ({"room_m2": 0}, "room_m2"),
        ({"room_m2": -3}, "room_m2"),
        ({"room_m2": "0.04"}, "room_m2"),
        ({"room_m2": "nan"}, "room_m2"),
        ({"room_m2": "1e999"}, "room_m2"),
        ({"room_m2": 10**30}, "room_m2"),
        ({"room_m2": "a lot"}, "room_m2"),
        ({"room_m2": 10, "plots": 2, "plot_m2": 5}, "plots"),
        ({"plots": 2}, "plot_m2"),
        ({"plot_m2": 2}, "plots"),
        ({"plots": 0, "plot_m2": 2}, "plots"),
        ({"plots": 2.5, "plot_m2": 2}, "plots"),
        ({"plots": 10**30, "plot_m2": 2}, "plots"),
        ({"plots": 9999, "plot_m2": 9999}, "plots"),
        ({"plots": 2, "plot_m2": -2}, "plot_m2"),
        ({"room_m2": 10, "room_next_m2": -1}, "room_next_m2"),
        ({"room_m2": 10, "room_next_m2": "1e999"}, "room_next_m2"),
    ],
)
def test_room_that_is_none_is_refused_and_names_the_garden(offer, told, field):
    with pytest.raises(Refused, match="Mill Lane plot") as refusal:
        offer(gardens=[Room(offer.garden, **told)])

    assert refusal.value.field == field
    assert not GrowerOffer.objects.exists()


def test_room_is_told_in_metres_or_in_plots():
    assert square_metres(room_m2="12.34") == Decimal("12.3")
    assert square_metres(plots=4, plot_m2="1.2") == Decimal("4.8")


@pytest.mark.parametrize("most", [0, 51, -2, True, "3", 10**30])
def test_how_many_varieties_is_a_small_number(offer, most):
    with pytest.raises(Refused) as refusal:
        offer(most=most)

    assert refusal.value.field == "most"


def test_another_members_garden_is_not_offered(offer, other_member, make_garden):
    theirs = make_garden(other_member)

    with pytest.raises(Refused, match="not a garden of this member"):
        offer(gardens=[Room(theirs, room_m2=10)])


def test_a_garden_is_offered_once_and_some_garden_is(offer):
    twice = [Room(offer.garden, room_m2=10), Room(offer.garden, room_m2=5)]
    with pytest.raises(Refused, match="offered twice"):
        offer(gardens=twice)
    with pytest.raises(Refused, match="which of your gardens"):
        offer(gardens=[])


def test_a_garden_that_was_removed_meanwhile_is_not_offered(offer, member):
    room = Room(offer.garden, room_m2=10)
    type(offer.garden).objects.filter(pk=offer.garden.pk).delete()

    with pytest.raises(Conflict, match="was removed"):
        offer(gardens=[room])


def test_offers_end_on_their_day_but_not_for_a_coordinator(offer, season, coordinator):
    season.offers_until = TODAY
    season.save()
    offer(on=TODAY)
    tomorrow = TODAY + dt.timedelta(days=1)

    with pytest.raises(Conflict, match="10 February 2026"):
        offer(on=tomorrow)

    assert offer(on=tomorrow, by=coordinator, most=7).most == 7


def test_nobody_offers_for_another_or_when_they_are_no_member(
    offer, other_member, season, applicant, make_garden
):
    with pytest.raises(NotAllowed):
        offer(by=other_member)
    with pytest.raises(Refused, match="not a member"):
        seasons.offer_gardens(
            season=season,
            member=applicant,
            gardens=[Room(make_garden(applicant), room_m2=3)],
            most=1,
            on=TODAY,
            by=applicant,
        )


def test_an_offer_is_withdrawn_and_made_again(offer, member, season):
    made = offer()
    seasons.withdraw_offer(offer=made, by=member)
    assert not GrowerOffer.objects.standing().exists()
    assert not GardenOffer.objects.standing(season).exists()
    first = GrowerOffer.objects.get().withdrawn_at

    assert seasons.withdraw_offer(offer=made, by=member).withdrawn_at == first
    offer()
    assert GrowerOffer.objects.standing().count() == 1


@pytest.mark.parametrize("state", ["offered", "accepted"])
def test_a_garden_with_something_promised_stays_offered(
    offer, member, variety, make_commitment, make_garden, state
):
    made = offer()
    make_commitment(variety, member, garden=offer.garden, state=state)
    other = Room(make_garden(member), room_m2=10)

    with pytest.raises(Conflict, match="Tarn Kettle is promised or offered in “Mill Lane"):
        seasons.withdraw_offer(offer=made, by=member)
    with pytest.raises(Conflict, match="keep that garden"):
        offer(gardens=[other])
    offer(gardens=[other, Room(offer.garden, room_m2=1)])

    assert GardenOffer.objects.count() == 2


def test_nothing_is_offered_chosen_or_withdrawn_in_a_season_that_is_over(
    offer, season, member, coordinator, variety
):
    made = offer()
    seasons.close_season(season=season, on=TODAY, by=coordinator)

    for act in (
        lambda: offer(by=coordinator),
        lambda: seasons.withdraw_offer(offer=made, by=member),
        lambda: seasons.want_varieties(season=season, varieties=[variety], by=coordinator),
        lambda: seasons.drop_varieties(season=season, varieties=[variety], by=coordinator),
    ):
        with pytest.raises(Conflict, match="is over"):
            act()


# Gardens and members that go --------------------------------------------------------------


def test_removing_the_only_garden_withdraws_the_offer(offer, member):
    made = offer()
    remove_garden(garden=offer.garden, by=member)

    made.refresh_from_db()
    assert made.withdrawn_at is not None
    assert not GardenOffer.objects.exists()


def test_removing_one_of_two_gardens_leaves_the_offer_of_the_other(offer, member, make_garden):
    second = make_garden(member)
    made = offer(gardens=[Room(offer.garden, room_m2=30), Room(second, room_m2=4)])
    remove_garden(garden=offer.garden, by=member)

    made.refresh_from_db()
    assert made.withdrawn_at is None
    assert [room.garden for room in made.gardens.all()] == [second]


@pytest.mark.parametrize("state", ["offered", "accepted"])
def test_a_garden_with_something_promised_is_not_removed(
    offer, member, variety, make_commitment, state
):
    make_commitment(variety, member, garden=offer.garden, state=state)

    with pytest.raises(Conflict, match="Tarn Kettle is promised or offered"):
        remove_garden(garden=offer.garden, by=member)

    assert member.gardens.filter(pk=offer.garden.pk).exists()


def test_who_leaves_takes_offers_wishes_and_plantings_along(
    offer, member, variety, make_planting
):
    offer(wishes="something tall")
    make_planting(offer.garden, variety)

    leave(member=member, by=member)

    assert not GrowerOffer.objects.exists()
    assert not OwnPlanting.objects.exists()


def test_a_members_own_copy_holds_offers_plantings_and_promises(
    client, offer, member, other_member, variety, make_planting, make_commitment, make_garden
):
    offer(wishes="something tall")
    make_planting(offer.garden, variety, plants=12)
    make_commitment(variety, member, garden=offer.garden)
    make_planting(make_garden(other_member), variety, plants=999)
    client.force_login(member)

    kept = client.get(reverse("account-download")).json()["grow_outs"]

    assert kept["offers"][0]["wishes"] == "something tall"
    assert kept["offered_gardens"][0]["room_m2"] == "30.0"
    assert [row["plants"] for row in kept["plantings"]] == [12]
    assert kept["promises"][0]["variety__name"] == "Tarn Kettle"


@pytest.mark.parametrize(
    ("on", "year"),
    [
        (dt.date(2026, 2, 10), 2026),
        (dt.date(2026, 7, 20), 2026),  # before the middle of 10 May to 5 October
        (dt.date(2026, 7, 25), 2027),
        (dt.date(2026, 11, 27), 2027),
    ],
)
def test_a_season_is_proposed_that_can_still_be_sown_for(valley, on, year):
    assert first_year_to_sow_for(on, valley.season) == year


@pytest.mark.parametrize(("month", "year"), [(6, 2026), (7, 2027)])
def test_where_no_frost_sets_an_end_half_a_year_does(month, year):
    assert first_year_to_sow_for(dt.date(2026, month, 1), None) == year
