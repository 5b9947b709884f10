"""What would cross in one's own gardens: pages and API, and nothing of anybody else's."""

from __future__ import annotations

import pytest

from library.catalogue.models import Species, SpeciesFigure
from library.household.services import saving
from tests.pages import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def courgette(make_variety):
    return make_variety("Round Green", crop="courgette")


@pytest.fixture
def pumpkin(make_variety):
    return make_variety("Long Ember", crop="pumpkin")


@pytest.fixture
def told(as_, member, plan):
    def ask(what: str = "crossings"):
        return as_(member).get(f"/api/saving-plans/{plan.pk}/{what}/").json()

    return ask


def outcomes(told) -> list[str]:
    return [pair["outcome"] for pair in told["pairs"]]


def test_kinds_of_one_species_cross_whatever_they_are_called(put, courgette, pumpkin, told):
    assert courgette.crop.species == pumpkin.crop.species
    put(courgette), put(pumpkin)

    (pair,) = told()["pairs"]

    metres = SpeciesFigure.objects.get(
        species=courgette.crop.species, quantity="isolation_home_m"
    )
    assert pair["outcome"] == "crosses"
    assert (pair["distance_m"], pair["required_m"]) == (0.0, float(metres.number))
    assert pair["techniques"] == ["bag", "cage", "hand_pollination", "time"]
    assert pair["source"] == metres.source
    inputs = {row["what"]: row for row in pair["inputs"]}
    assert metres.source in inputs["needed, home garden"]["source"]


def test_a_technique_on_both_keeps_them_apart_on_one_only_on_a_condition(
    put, courgette, pumpkin, told, member
):
    one, other = put(courgette, technique="hand_pollination"), put(pumpkin)
    assert outcomes(told()) == ["apart_if"]
    assert "taken off" in " ".join(told()["pairs"][0]["reasons"])

    saving.change_choice(choice=other, by=member, technique="bag")
    assert outcomes(told()) == ["apart"]
    saving.change_choice(choice=one, by=member, technique="none")
    saving.change_choice(choice=other, by=member, technique="time")
    assert outcomes(told()) == ["apart"]


def test_beans_need_only_the_metres_that_the_garden_has(
    plan, put, variety, make_variety, told, member
):
    put(variety), put(make_variety("Mill Loft", crop="climbing bean"))
    assert outcomes(told()) == ["crosses"]

    saving.change_plan(plan=plan, by=member, apart_m=6)

    assert outcomes(told()) == ["apart"]
    assert told()["pairs"][0]["required_m"] == 6.0


def test_ones_own_plantings_promises_and_other_lists_count(
    plan,
    put,
    courgette,
    pumpkin,
    told,
    garden,
    member,
    make_planting,
    make_variety,
    make_garden,
    make_commitment,
):
    put(courgette)
    make_planting(garden, pumpkin)
    make_planting(garden, make_variety("Not yet", crop="pumpkin"), year=2027)
    make_planting(garden, make_variety("Cut young", crop="pumpkin"), flowers=False)
    near = make_garden(member, name="By the beck", north_m=200)
    far = make_garden(member, name="On the fell", north_m=3000)
    promised = make_variety("Promised", crop="acorn squash")
    make_commitment(promised, member, garden=near, state="accepted")
    beside = saving.make_plan(garden=far, year=2026, by=member, room_m2=9)
    put(make_variety("Far Off", crop="courgette"), on=beside)

    pairs = told()["pairs"]

    others = {pair["other"]: pair for pair in pairs}
    assert {name.split(",")[0] for name in others} == {"Long Ember", "Promised", "Far Off"}
    by_name = {name.split(",")[0]: pair for name, pair in others.items()}
    assert by_name["Long Ember"]["distance_m"] == 0
    assert by_name["Promised"]["distance_m"] == pytest.approx(200, abs=2)
    assert (by_name["Promised"]["outcome"], by_name["Far Off"]["outcome"]) == (
        "crosses",
        "apart",
    )


def test_a_garden_that_is_not_placed_exactly_has_no_distance(
    put, courgette, pumpkin, told, member, make_planting, make_garden
):
    put(courgette)
    make_planting(make_garden(member, placed="grid"), pumpkin)

    (pair,) = told()["pairs"]

    assert (pair["outcome"], pair["distance_m"]) == ("unknown", None)
    assert "not placed exactly" in pair["reasons"][0]


def test_a_biennial_meets_what_flowers_in_its_second_year(
    put, told, garden, make_planting, make_variety
):
    put(make_variety("Round Red", crop="beetroot"))
    make_planting(garden, make_variety("Rainbow", crop="chard"), year=2026)
    assert told()["pairs"] == []

    make_planting(garden, make_variety("Green Leaf", crop="chard"), year=2027)

    assert outcomes(told()) == ["crosses"]


def test_nothing_depends_on_what_anybody_else_grows(
    client,
    plan,
    put,
    courgette,
    pumpkin,
    told,
    member,
    other_member,
    make_garden,
    make_planting,
    make_commitment,
    make_home_lot,
):
    put(courgette), make_home_lot(courgette)
    client.force_login(member)
    pages = ["", "rotation/", "calendar/", "sheet/"]

    def read():
        shown = [text_of(client.get(f"/my-garden/{plan.pk}/{page}")) for page in pages]
        said = [told(what) for what in ("crossings", "rotation", "calendar")]
        without = [page.split("csrfmiddlewaretoken")[0] for page in shown]
        return [*without, *said]

    before = read()
    theirs = make_garden(other_member, north_m=5)
    make_planting(theirs, pumpkin)
    make_commitment(pumpkin, other_member, garden=theirs, state="accepted")
    saving.add_varieties(
        plan=saving.make_plan(garden=theirs, year=2026, by=other_member, room_m2=9),
        varieties=[pumpkin],
        by=other_member,
    )

    assert read() == before


def test_the_page_says_it_in_words_and_shows_the_cautions(
    client, plan, put, courgette, pumpkin, member
):
    put(courgette), put(pumpkin)
    client.force_login(member)

    page = text_of(client.get(f"/my-garden/{plan.pk}/"))

    assert "They would cross" in page
    assert "would be crossed by Round Green" in page or "would be crossed by Long Ember" in page
    assert "bags over the flowers" in page
    assert "poison" in page  # crossed squash
    assert "What others grow is not told here" in page


def test_too_little_room_and_too_few_plants_are_said(client, plan, put, courgette, member):
    put(courgette, plants=90)
    client.force_login(member)

    page = text_of(client.get(f"/my-garden/{plan.pk}/"))
    assert "takes more room than you have" in page

    saving.change_choice(choice=plan.choices.get(), by=member, plants=1)
    assert "keep it" in text_of(client.get(f"/my-garden/{plan.pk}/"))


def test_the_form_puts_varieties_on_by_name_and_from_home(
    client, plan, member, variety, courgette, make_home_lot
):
    make_home_lot(variety)
    client.force_login(member)
    address = f"/my-garden/{plan.pk}/add/"

    found = text_of(client.get(address, {"q": "round gren"}))
    assert "Round Green" in found
    assert "Tarn Kettle" in found

    nothing = client.post(address, {})
    assert nothing.status_code == 400
    assert "Tick at least one variety" in text_of(nothing)
    client.post(address, {"varieties": [variety.pk, courgette.pk]})
    assert plan.choices.count() == 2


@pytest.mark.parametrize("many", [1, 6])
def test_a_list_asks_as_many_questions_for_one_as_for_six(
    client,
    plan,
    put,
    member,
    make_variety,
    make_home_lot,
    make_planting,
    garden,
    count_queries,
    many,
):
    crops = ["courgette", "tomato", "drying bean", "beetroot", "leek", "spinach"]
    for crop in crops[:many]:
        variety = make_variety(crop=crop)
        make_home_lot(variety)
        put(variety)
        make_planting(garden, make_variety(crop=crop))
    client.force_login(member)

    asked = {
        page: count_queries(lambda page=page: client.get(f"/my-garden/{plan.pk}/{page}"))
        for page in ("", "calendar/", "sheet/", "rotation/")
    }

    assert asked == {"": 20, "calendar/": 17, "sheet/": 21, "rotation/": 32}


def test_species_with_no_distance_are_said_not_to_be_known(put, make_variety, told):
    known = SpeciesFigure.objects.filter(quantity="isolation_home_m").values("species")
    lacking = Species.objects.exclude(pk__in=known).exclude(pollination__in=["self", "clonal"])
    crop = lacking.filter(crops__isnull=False).first().crops.first()
    put(make_variety(crop=crop.name)), put(make_variety(crop=crop.name))

    assert outcomes(told()) == ["unknown"]
