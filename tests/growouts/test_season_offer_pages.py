"""The pages on which a member offers gardens and tells of own plantings."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse

from accounts.services import edit_garden
from library.growouts.models import GardenOffer, GrowerOffer, OwnPlanting
from tests.growouts.conftest import TODAY
from tests.growouts.pages import told
from tests.pages import text_of


@pytest.fixture
def offer_page(season):
    return reverse("growout-offer", args=[season.year])


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
