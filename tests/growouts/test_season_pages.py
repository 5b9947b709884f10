"""The pages of seasons, offers and own plantings."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from accounts.services import edit_garden
from library.growouts.experience import estimate
from library.growouts.models import GardenOffer, GrowerOffer, OwnPlanting, Plan, Season
from tests.growouts.conftest import TODAY

HOME = "/grow-outs/"


@pytest.fixture
def plot(member, make_garden):
    return make_garden(
        member, name="Mill Lane plot", last_spring_frost="05-10", first_autumn_frost="10-05"
    )


@pytest.fixture
def offer_page(season):
    return reverse("growout-offer", args=[season.year])


def told(garden, **facts) -> dict:
    """What the offer's form sends of one garden."""
    given = {"offered": "on", "room_m2": 30} | facts
    return {"most": 2} | {f"{name}_{garden.pk}": value for name, value in given.items()}


def text_of(answer) -> str:
    return " ".join(answer.content.decode().split())


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
    assert "30.0 m² in “Mill Lane plot”" in page
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

    assert "Mill Lane plot: 30.0 m²" in page
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


# Offering ---------------------------------------------------------------------------------


def test_a_member_offers_a_garden_in_plots_and_changes_it(as_member, member, plot, offer_page):
    assert f'id="id_offered_{plot.pk}" checked' in text_of(as_member.get(offer_page))
    sent = told(plot, room_m2="", plots=4, plot_m2="1.2", can_bag="on", room_next_m2=0)
    answer = as_member.post(offer_page, sent | {"wishes": "no squash"})

    assert answer.status_code == 302
    kept = GardenOffer.objects.get()
    assert (kept.room_m2, kept.room_next_m2, kept.can_bag) == (Decimal("4.8"), 0, True)
    page = text_of(as_member.get(offer_page))
    assert 'value="4.8"' in page
    assert "no squash" in page
    assert "Withdraw my offer" in page

    as_member.post(offer_page, told(plot, room_m2=9))
    assert GardenOffer.objects.get().room_m2 == 9
    as_member.post(reverse("growout-offer-withdraw", args=[GrowerOffer.objects.get().pk]))
    assert GrowerOffer.objects.get().withdrawn_at is not None
    assert "This offer was withdrawn." in text_of(as_member.get(offer_page))


@pytest.mark.parametrize(
    ("facts", "sentence"),
    [
        ({"room_m2": ""}, "How much room?"),
        ({"room_m2": -3}, "from 0.1 to 99999"),
        ({"room_m2": 10**9}, "from 0.1 to 99999"),
        ({"plots": 2, "plot_m2": 3}, "not both"),
        ({"room_m2": "", "plots": 2}, "How large is one plot"),
        ({"room_next_m2": -3}, "from 0 to 99999"),
        ({"room_m2": "1e400"}, "error"),
    ],
)
def test_what_is_wrong_is_said_at_the_gardens_own_field(
    as_member, plot, offer_page, facts, sentence
):
    answer = as_member.post(offer_page, told(plot, **facts))

    assert answer.status_code == 400
    assert sentence in text_of(answer)
    assert not GrowerOffer.objects.exists()


def test_a_garden_that_was_not_ticked_is_not_offered_whatever_is_told_of_it(
    as_member, member, plot, make_garden, offer_page
):
    other = make_garden(member)
    as_member.post(offer_page, told(plot) | {f"room_m2_{other.pk}": -9})
    assert [room.garden for room in GardenOffer.objects.all()] == [plot]

    none = as_member.post(offer_page, {"most": 2})
    assert none.status_code == 400
    assert "Say which of your gardens you offer." in text_of(none)


def test_another_members_garden_is_passed_over(
    as_member, plot, other_member, make_garden, offer_page
):
    theirs = make_garden(other_member)
    answer = as_member.post(offer_page, told(theirs))

    assert answer.status_code == 400
    assert not GardenOffer.objects.exists()


def test_the_page_warns_of_what_is_not_known_of_a_garden(
    as_member, member, plot, offer_page, valley
):
    no_place, no_frosts = "No distance can be vouched for", "the library's own are used"
    page = text_of(as_member.get(offer_page)).replace("&#x27;", "'")
    assert no_place not in page
    assert "No frost dates" not in page

    edit_garden(
        garden=plot, by=member, placed="grid", last_spring_frost="", first_autumn_frost=""
    )
    page = text_of(as_member.get(offer_page)).replace("&#x27;", "'")
    assert no_place in page
    assert no_frosts in page

    valley.last_spring_frost = valley.first_autumn_frost = ""
    valley.save()
    page = text_of(as_member.get(offer_page))
    assert "the library has none either" in page


def test_after_the_last_day_the_offer_is_only_shown(
    as_member, member, season, plot, make_offer, offer_page
):
    make_offer(member, garden=plot)
    season.offers_until = TODAY - dt.timedelta(days=1)
    season.save()
    page = text_of(as_member.get(offer_page))

    assert "Offers were taken until 9 February 2026" in page
    assert f"offered_{plot.pk}" not in page
    answer = as_member.post(offer_page, told(plot, room_m2=99))
    assert answer.status_code == 409
    assert GardenOffer.objects.get().room_m2 == 30


def test_an_offer_with_a_promise_in_it_has_no_button_to_withdraw(
    as_member, member, season, plot, make_offer, make_commitment, variety, offer_page
):
    offer = make_offer(member, garden=plot).offer
    make_commitment(variety, member, garden=plot, state="accepted")
    withdraw = reverse("growout-offer-withdraw", args=[offer.pk])

    assert withdraw not in text_of(as_member.get(offer_page))
    as_member.post(withdraw)
    offer.refresh_from_db()
    assert offer.withdrawn_at is None


def test_somebody_without_a_garden_is_sent_to_tell_of_one(as_member, offer_page):
    page = text_of(as_member.get(offer_page))

    assert "You have no garden here yet." in page
    assert reverse("account-garden-add") in page


def test_the_offer_page_asks_no_more_for_six_gardens_than_for_one(
    as_member,
    member,
    season,
    make_garden,
    make_planting,
    make_variety,
    offer_page,
    count_queries,
):
    def fill(n: int):
        for _n in range(n):
            make_planting(make_garden(member), make_variety())

    fill(1)
    few = count_queries(lambda: as_member.get(offer_page))
    fill(6)
    assert count_queries(lambda: as_member.get(offer_page)) == few


def test_a_garden_with_a_promise_says_why_it_cannot_be_removed(
    as_member, member, plot, variety, make_commitment
):
    make_commitment(variety, member, garden=plot, state="accepted")
    answer = as_member.post(reverse("account-garden-remove", args=[plot.pk]), follow=True)

    assert "Tarn Kettle is promised or offered in “Mill Lane plot”" in text_of(answer)
    assert member.gardens.filter(pk=plot.pk).exists()


# Own plantings ----------------------------------------------------------------------------


def planted(plot, kind, **facts) -> dict:
    return {"garden": plot.pk, "crop": kind.pk, "name": "Tarn Kettle", "year": 2026} | facts


def test_a_planting_is_found_in_the_catalogue_or_kept_by_its_name(as_member, plot, variety):
    new, crop = reverse("growout-planting-new"), variety.crop
    answer = as_member.post(new, planted(plot, crop, name="tarn kettle", flowers="on"))
    assert answer["Location"] == f"{reverse('growout-plantings')}?year=2026"
    again = as_member.post(new, planted(plot, crop, name="Auntie's", again="yes"))
    assert again["Location"] == f"{new}?year=2026&garden={plot.pk}"

    known, named = OwnPlanting.objects.order_by("pk")
    assert (known.variety, known.name, known.flowers) == (variety, "", True)
    assert (named.variety, named.name, named.flowers) == (None, "Auntie's", False)
    page = text_of(as_member.get(answer["Location"])).replace("&#x27;", "'")
    assert page.index("Mill Lane plot") < page.index("Tarn Kettle") < page.index("Auntie's")


def test_a_planting_is_changed_and_removed(as_member, plot, variety, make_planting):
    planting = make_planting(plot, variety, plants=3)
    address = reverse("growout-planting", args=[planting.pk])
    assert 'value="Tarn Kettle"' in text_of(as_member.get(address))

    as_member.post(address, planted(plot, variety.crop, plants=12, name="no, another"))
    planting.refresh_from_db()
    assert (planting.plants, planting.name, planting.variety) == (12, "no, another", None)
    remove = reverse("growout-planting-remove", args=[planting.pk])
    as_member.post(remove)
    assert as_member.post(remove).status_code == 404
    assert not OwnPlanting.objects.exists()


@pytest.mark.parametrize(
    "wrong",
    [
        {"plants": -1},
        {"plants": 10**12},
        {"year": 10**12},
        {"year": 1800},
        {"room_m2": -2},
        {"garden": "9" * 30},
        {"crop": ""},
        {"name": ""},
    ],
)
def test_a_planting_that_cannot_be_is_refused_at_its_field(as_member, plot, variety, wrong):
    answer = as_member.post(
        reverse("growout-planting-new"), planted(plot, variety.crop, **wrong)
    )

    assert answer.status_code == 400
    assert not OwnPlanting.objects.exists()


def test_anothers_garden_is_no_choice(as_member, other_member, make_garden, plot, variety):
    theirs = make_garden(other_member)
    answer = as_member.post(reverse("growout-planting-new"), planted(theirs, variety.crop))

    assert answer.status_code == 400
    assert not OwnPlanting.objects.exists()


def test_plantings_ask_no_more_for_six_than_for_one(
    as_member, member, make_garden, make_variety, make_planting, count_queries
):
    address = f"{reverse('growout-plantings')}?year=2026"

    def fill(n: int):
        for _n in range(n):
            make_planting(make_garden(member), make_variety())

    fill(1)
    few = count_queries(lambda: as_member.get(address))
    fill(6)
    assert count_queries(lambda: as_member.get(address)) == few


def test_the_year_is_that_of_the_next_season(as_member, plot, season):
    season.year = 2029
    season.save()
    assert "What I grow myself in 2029" in text_of(as_member.get(reverse("growout-plantings")))
    nonsense = as_member.get(reverse("growout-plantings"), {"year": "9" * 40})
    assert "What I grow myself in 2029" in text_of(nonsense)
