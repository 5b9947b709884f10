"""Filters: the same on the browse page and in the API."""

import pytest
from django.urls import reverse

from accounts.models import Community
from library.stock.models import Lot

PAGE, API = reverse("browse"), reverse("varieties-list")


@pytest.fixture
def make_lot_row():
    """A lot as a bare row: this app's filters must not need the stock's services."""

    def make(variety, **lot) -> Lot:
        number = f"T{Lot.objects.count() + 1}"
        fields = {"origin": "deposit", "received_on": "2025-10-01", "packed": 40} | lot
        return Lot.objects.create(number=number, variety=variety, **fields)

    return make


@pytest.fixture
def names_found(client, api):
    """What page and API answer to the same question; they must say the same."""

    def ask(question: str, member=None) -> list[str]:
        if member:
            client.force_login(member)
            api.force_authenticate(member)
        page = client.get(f"{PAGE}?{question}").context["page_obj"].object_list
        listed = api.get(f"{API}?{question}").json()["results"]
        on_page = [variety.name for variety in page]
        assert on_page == [variety["name"] for variety in listed]
        return on_page

    return ask


def test_without_a_filter_all_varieties_come_by_name(make_variety, names_found):
    for name in ["brindle", "Amber", "Érable", "Copper"]:
        make_variety(name)

    assert names_found("") == ["Amber", "brindle", "Copper", "Érable"]


def test_varieties_of_chosen_crops(make_variety, names_found):
    make_variety("Amber", crop="tomato")
    make_variety("Brindle", crop="kale")
    make_variety("Copper", crop="cabbage")

    assert names_found("crop=kale") == ["Brindle"]
    assert names_found("crop=kale&crop=cabbage") == ["Brindle", "Copper"]
    assert names_found("species=brassica-oleracea") == ["Brindle", "Copper"]


def test_varieties_of_a_breeding_status(make_variety, names_found):
    make_variety("Amber", breeding_status="f1")
    make_variety("Brindle", breeding_status="segregating", generation=3)
    make_variety("Copper")

    assert names_found("breeding_status=f1") == ["Amber"]
    assert names_found("breeding_status=f1&breeding_status=segregating") == ["Amber", "Brindle"]


def test_what_the_form_leaves_open_says_nothing(make_variety, names_found):
    make_variety("Amber", is_rare=True)
    make_variety("Brindle")

    assert names_found("q=&crop=&breeding_status=") == ["Amber", "Brindle"]
    assert names_found("q=&crop=&breeding_status=&rare=true") == ["Amber"]


def test_rare_varieties(make_variety, names_found):
    make_variety("Amber", is_rare=True)
    make_variety("Brindle")

    assert names_found("rare=true") == ["Amber"]
    assert names_found("rare=false") == ["Brindle"]


def test_seed_on_the_shelf_is_seed_that_could_be_lent(make_variety, make_lot_row, names_found):
    make_lot_row(make_variety("Lendable"))
    make_lot_row(make_variety("Only in the jar"), packed=0, loose=400)
    make_lot_row(make_variety("Untested"), awaits_first_test=True)
    make_lot_row(make_variety("Withheld"), withheld_reason="may have crossed")
    make_variety("Never held")

    assert names_found("on_shelf=true") == ["Lendable"]
    assert names_found("on_shelf=false") == [
        "Never held",
        "Only in the jar",
        "Untested",
        "Withheld",
    ]


def test_two_lots_show_a_variety_once(make_variety, make_lot_row, names_found):
    variety = make_variety("Amber")
    make_lot_row(variety)
    make_lot_row(variety)

    assert names_found("on_shelf=true") == ["Amber"]


@pytest.fixture
def by_days(make_variety):
    """With frost until 1 May and from 8 September: 130 days."""
    make_variety("Annual of 85", crop="tomato", days_to_maturity=85)
    make_variety("Annual of 86", crop="tomato", days_to_maturity=86)
    make_variety("Biennial of 130", crop="carrot", days_to_maturity=130)
    make_variety("Biennial of 131", crop="carrot", days_to_maturity=131)
    make_variety("Tuber of 130", crop="potato", days_to_maturity=130, breeding_status="clone")
    make_variety("Stands over winter", crop="garlic", days_to_maturity=260)
    make_variety("Of unknown days")


SHORT = {"last_spring_frost": "05-01", "first_autumn_frost": "09-08"}
SUIT_130_DAYS = ["Annual of 85", "Biennial of 130", "Stands over winter", "Tuber of 130"]


def test_what_suits_my_season_ripens_before_the_frost_of_my_garden(
    by_days, member, names_found
):
    # 45 days from fit to eat to ripe seed: common practice, no source (science.calendar).
    member.gardens.create(name="Plot", is_default=True, **SHORT)

    assert names_found("suits_my_season=true", member) == SUIT_130_DAYS


def test_without_a_garden_the_communitys_frost_decides(by_days, member, names_found):
    member.gardens.create(name="No frost dates", is_default=True)
    Community.objects.update_or_create(pk=1, defaults=SHORT)

    assert names_found("suits_my_season=true", member) == SUIT_130_DAYS
    assert names_found("suits_my_season=true") == SUIT_130_DAYS


def test_another_members_garden_does_not_count(by_days, member, other_member, names_found):
    other_member.gardens.create(name="Plot", is_default=True, **SHORT)
    Community.objects.update_or_create(
        pk=1, defaults={"last_spring_frost": "02-01", "first_autumn_frost": "12-01"}
    )

    assert len(names_found("suits_my_season=true", member)) == 6


def test_what_stands_over_winter_needs_ninety_days_without_frost(by_days, member, names_found):
    garden = member.gardens.create(name="Plot", is_default=True, **SHORT)
    garden.first_autumn_frost = "07-30"  # 90 days
    garden.save()
    assert names_found("suits_my_season=true", member) == ["Stands over winter"]

    garden.first_autumn_frost = "07-29"
    garden.save()
    assert names_found("suits_my_season=true", member) == []


def test_where_nobody_told_the_frosts_the_filter_says_so(by_days, client, api):
    sentence = (
        "Nobody has said yet when the frosts are: give your garden its last spring frost and "
        "first autumn frost."
    )

    page = client.get(f"{PAGE}?suits_my_season=true")
    answer = api.get(f"{API}?suits_my_season=true")

    assert (page.status_code, page.context["wrong"]) == (400, [sentence])
    assert (answer.status_code, answer.json()) == (
        400,
        {"code": "refused", "detail": sentence, "field": "suits_my_season"},
    )


def test_search_and_filters_work_together(make_variety, names_found):
    make_variety("Amber Lantern", crop="tomato", is_rare=True)
    make_variety("Blue Lantern", crop="tomato")
    make_variety("Copper Lantern", crop="kale", is_rare=True)

    assert names_found("q=lantern&crop=tomato&rare=true") == ["Amber Lantern"]


WRONG = [
    ("crop=gold", "crop"),
    ("species=gold", "species"),
    ("breeding_status=heirloom", "breeding_status"),
    ("rare=perhaps", "rare"),
    ("on_shelf=2", "on_shelf"),
    (f"q={'x' * 121}", "q"),
    ("q=%00", "q"),
]


@pytest.mark.parametrize(("question", "field"), WRONG)
def test_a_filter_that_is_not_understood_is_refused(make_variety, client, api, question, field):
    make_variety("Amber")

    page = client.get(f"{PAGE}?{question}")
    answer = api.get(f"{API}?{question}")

    assert (page.status_code, list(page.context["page_obj"].object_list)) == (400, [])
    assert (answer.status_code, list(answer.json()["errors"])) == (400, [field])
