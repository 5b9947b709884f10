"""The pages of seasons and of what they renew."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from library.growouts.experience import estimate
from library.growouts.models import GardenOffer, GrowerOffer, Plan, Season
from tests.growouts.conftest import TODAY
from tests.growouts.pages import told
from tests.pages import text_of

HOME = "/grow-outs/"


# Home -------------------------------------------------------------------------------------


def test_a_member_sees_what_they_are_asked_what_they_promised_and_their_offer(
    as_member, member, plot, make_offer, make_commitment, make_variety
):
    make_offer(member, garden=plot, room_m2=30)
    make_commitment(make_variety("Fell Plum"), member, garden=plot)
    make_commitment(make_variety("Beck Cherry"), member, garden=plot, state="accepted")
    page = text_of(as_member.get(HOME))

    asked, promised = page.index("You are asked to grow"), page.index("What I promised to grow")
    assert asked < page.index("Fell Plum") < promised < page.index("Beck Cherry")
    assert "30 m² in “Mill Lane plot”" in page
    assert "Change my offer" in page
    assert "Growers who offer gardens" not in page
    assert "Open a season" not in page


def test_a_coordinator_sees_counts_and_opens_seasons(
    as_coordinator, member, make_offer, make_wanted, variety
):
    make_offer(member)
    make_wanted(variety)
    page = text_of(as_coordinator.get(HOME))

    assert "Growers who offer gardens</dt><dd>1" in page
    assert "Varieties to renew</dt><dd>1" in page
    assert "Open a season" in page


def test_without_a_season_the_home_page_says_so(as_member):
    assert "No season is open." in text_of(as_member.get(HOME))


def test_the_band_leads_there_for_members_only(as_member, client, season):
    link = f'href="{HOME}"'

    assert link in text_of(as_member.get("/"))
    as_member.logout()
    assert link not in text_of(client.get("/"))


def test_the_sites_home_asks_for_gardens_until_one_is_offered(
    as_member, member, season, make_offer
):
    assert "Gardens are sought for 2026" in text_of(as_member.get("/"))

    make_offer(member)
    assert "Gardens are sought" not in text_of(as_member.get("/"))


@pytest.mark.parametrize("who", ["member", "coordinator"])
def test_home_asks_no_more_for_six_of_each_than_for_one(
    client, request, who, make_variety, make_commitment, make_garden, plot, count_queries
):
    person = request.getfixturevalue(who)
    client.force_login(person)

    def fill(n: int):
        for year in range(2030 + n, 2030 + 2 * n):
            season = Season.objects.create(year=year)
            offer = GrowerOffer.objects.create(season=season, member=person)
            GardenOffer.objects.create(offer=offer, garden=make_garden(person), room_m2=3)
            make_commitment(make_variety(), person, season=season)

    fill(1)
    few = count_queries(lambda: client.get(HOME))
    fill(6)
    assert count_queries(lambda: client.get(HOME)) == few


# The season -------------------------------------------------------------------------------


def test_a_season_is_opened_changed_closed_and_opened_again(as_coordinator):
    answer = as_coordinator.post(
        reverse("growout-season-new"), {"year": 2027, "offers_until": "2027-03-01"}
    )
    assert answer["Location"] == reverse("growout-wanted", args=[2027])
    again = as_coordinator.post(reverse("growout-season-new"), {"year": 2027})
    assert again.status_code == 409
    assert "The season of 2027 is there already." in text_of(again)

    as_coordinator.post(reverse("growout-season-change", args=[2027]), {"note": "Sow early"})
    page = text_of(as_coordinator.get(reverse("growout-season", args=[2027])))
    assert "Sow early" in page
    assert "Gardens can be offered." in page

    close = reverse("growout-season-close", args=[2027])
    as_coordinator.post(close)
    assert Season.objects.get().closed_on == TODAY
    assert "Open it again" in text_of(as_coordinator.get(close))
    as_coordinator.post(close, {"reopen": "yes"})
    assert Season.objects.get().closed_on is None


def test_a_season_with_something_open_says_why_it_is_not_closed(
    as_coordinator, season, member, variety, make_commitment
):
    make_commitment(variety, member)
    answer = as_coordinator.post(reverse("growout-season-close", args=[season.year]))

    assert answer.status_code == 409
    assert "1 promise or offer of this season is still open" in text_of(answer)


def test_a_coordinators_season_shows_offers_with_an_estimate_that_explains_itself(
    as_coordinator, season, member, plot, make_offer, make_commitment, make_planting, variety
):
    make_offer(member, garden=plot, room_m2=30, can_bag=True)
    make_planting(plot, variety)
    make_commitment(variety, member, state="failed", cause="hail", closed_on=TODAY)
    page = text_of(as_coordinator.get(season.get_absolute_url()))

    assert "Mill Lane plot: 30 m²" in page
    assert "bags" in page
    low, mean, high = estimate(0.7, 0, 0, 1).percents
    assert f"{mean} % of grow-outs; between {low} and {high} %" in page
    assert "held against nobody</th><td>1" in page
    assert "1 planting of their own is written down" in page


def test_a_plan_that_was_stopped_before_it_found_anything_breaks_no_page(
    as_coordinator, season
):
    Plan.objects.create(season=season, state="stopped", seconds=1, finished_at=timezone.now())

    assert "No plan was made yet." in text_of(as_coordinator.get(season.get_absolute_url()))


def test_another_member_learns_nothing_of_an_offer_only_who_promised(
    client,
    season,
    member,
    other_member,
    plot,
    make_offer,
    make_commitment,
    make_variety,
    make_planting,
    make_wanted,
):
    make_offer(member, garden=plot, room_m2=31)
    make_planting(plot, make_variety("Secret Bean"))
    make_commitment(make_variety("Only Asked"), member, garden=plot)
    make_commitment(make_variety("Promised"), member, garden=plot, state="accepted")
    make_commitment(
        make_variety("Declined"), member, garden=plot, state="declined", closed_on=TODAY
    )
    make_wanted(make_variety("Sought"), why="her last jar")
    client.force_login(other_member)
    page = text_of(client.get(season.get_absolute_url()))

    assert "Promised" in page
    assert member.display_name in page
    assert "Sought" in page
    for secret in (
        "Mill Lane",
        "31.0",
        "Secret Bean",
        "Only Asked",
        "Declined",
        "her last jar",
    ):
        assert secret not in page
    for name in ("growout-offer", "growout-plantings", "growouts"):
        args = [season.year] if name == "growout-offer" else []
        seen = text_of(client.get(reverse(name, args=args)))
        for secret in ("Mill Lane", "31.0", "Secret Bean", "Only Asked"):
            assert secret not in seen


@pytest.mark.parametrize("who", ["member", "coordinator"])
def test_a_season_asks_no_more_for_six_offers_than_for_one(
    client,
    request,
    who,
    season,
    make_member,
    make_variety,
    make_offer,
    make_wanted,
    make_commitment,
    make_garden,
    make_planting,
    make_lot,
    count_queries,
):
    client.force_login(request.getfixturevalue(who))

    def fill(n: int):
        for number in range(n):
            grower = make_member(f"grower {n} {number}")
            offer = make_offer(grower)
            variety = make_lot(make_variety()).variety
            make_wanted(variety)
            make_planting(offer.garden, variety)
            make_commitment(variety, grower, garden=offer.garden, state="accepted")

    fill(1)
    few = count_queries(lambda: client.get(season.get_absolute_url()))
    fill(6)
    assert count_queries(lambda: client.get(season.get_absolute_url())) == few


def test_a_coordinator_finds_a_member_to_write_an_offer_down_for(
    as_coordinator, season, member, plot
):
    page = text_of(as_coordinator.get(f"{season.get_absolute_url()}?for=wre"))
    address = reverse("growout-offer-of", args=[season.year, member.pk])
    assert address in page

    season.offers_until = TODAY - dt.timedelta(days=1)
    season.save()
    answer = as_coordinator.post(address, told(plot))
    assert answer["Location"] == season.get_absolute_url()
    assert GrowerOffer.objects.get().member == member


# What it renews ---------------------------------------------------------------------------


def test_varieties_are_ticked_from_the_ranked_list_many_at_once(
    as_coordinator, season, make_variety, make_lot
):
    address = reverse("growout-wanted", args=[season.year])
    safe, lost = make_lot(seeds=5000).variety, make_variety("Nearly Gone", is_rare=True)
    page = text_of(as_coordinator.get(address))
    assert page.index("Nearly Gone") < page.index(safe.name)

    sent = {"act": "want", "varieties": [safe.pk, lost.pk], "weight": 2, "most_growers": 3}
    answer = as_coordinator.post(f"{address}?show=", sent)
    assert answer["Location"] == f"{address}?show="
    assert set(season.wanted.values_list("variety", flat=True)) == {safe.pk, lost.pk}
    assert "counts 2, at most 3 growers" in text_of(as_coordinator.get(address))

    as_coordinator.post(address, {"act": "drop", "varieties": [safe.pk]})
    assert list(season.wanted.values_list("variety", flat=True)) == [lost.pk]


@pytest.mark.parametrize("ticked", [[], ["0"], ["9" * 40], ["nonsense"], ["-1"]])
def test_ticking_nothing_or_nonsense_is_said(as_coordinator, season, variety, ticked):
    address = reverse("growout-wanted", args=[season.year])
    variety.is_rare = True
    variety.save()
    sent = {"act": "want", "varieties": ticked, "weight": 1, "most_growers": 2}
    answer = as_coordinator.post(address, sent)

    assert answer.status_code == 400
    assert "error-summary" in text_of(answer)
    assert not season.wanted.exists()


def test_the_list_is_narrowed_by_name_crop_and_what_is_chosen(
    as_coordinator, season, make_variety, make_wanted
):
    address = reverse("growout-wanted", args=[season.year])
    bean = make_variety("Crag Runner", crop="drying bean", is_rare=True)
    make_wanted(make_variety("Fell Plum", is_rare=True))
    make_variety("Common One")

    def shown(**asked) -> set[str]:
        page = text_of(as_coordinator.get(address, asked))
        return {n for n in ("Crag Runner", "Fell Plum", "Common One") if f"<span>{n}" in page}

    assert shown() == {"Crag Runner", "Fell Plum"}
    assert shown(q="common") == {"Common One"}
    assert shown(crop=bean.crop_id) == {"Crag Runner"}
    assert shown(show="wanted") == {"Fell Plum"}
    assert shown(show="open") == {"Crag Runner"}
    assert shown(crop="9" * 40, show="rubbish") == {"Crag Runner", "Fell Plum"}


def test_the_list_asks_no_more_for_six_varieties_than_for_one(
    as_coordinator, season, make_variety, make_lot, make_wanted, count_queries
):
    address = reverse("growout-wanted", args=[season.year])

    def fill(n: int):
        for _n in range(n):
            make_wanted(make_lot(make_variety(is_rare=True)).variety)

    fill(1)
    few = count_queries(lambda: as_coordinator.get(address))
    fill(6)
    assert count_queries(lambda: as_coordinator.get(address)) == few
