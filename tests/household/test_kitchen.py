"""From the kitchen back: dishes, what must grow for them, and over into the list of seed."""

from __future__ import annotations

import pytest

from accounts.export import known_of
from accounts.services import leave
from library.catalogue.models import Crop
from library.errors import Conflict, Refused
from library.household.kitchen.reckoning import kitchen_of
from library.household.kitchen.tables import products_of
from library.household.models import Dish, KitchenPlan, SavingPlan
from library.household.services import kitchen as services
from library.household.services import saving
from tests.growouts.conftest import TODAY
from tests.pages import text_of

pytestmark = pytest.mark.django_db
SAUCE = "canning|tomato|sauce, thin (boiled down by about a third)|quart"


@pytest.fixture
def kitchen(garden, member):
    return services.make_plan(garden=garden, year=2026, by=member)


@pytest.fixture
def dish(kitchen, member):
    """``dish("tomato", amount=1, times=52, product=SAUCE)`` puts it in the plan."""

    def make(crop: str, **facts):
        crop = Crop.objects.get(name=crop)
        facts = {"amount": 1} | facts
        return services.add_dish(plan=kitchen, crop=crop, by=member, **facts)

    return make


@pytest.fixture
def reckoned(kitchen):
    def one(dish):
        found = kitchen_of(kitchen, on=TODAY)
        return next(each for each in found.dishes if each.dish.pk == dish.pk)

    return one


def test_a_jar_of_sauce_each_week_to_the_packets(
    dish, reckoned, make_variety, make_lot, make_estimate
):
    tomato = make_variety("Scar Red", crop="tomato")
    lot = make_lot(tomato, seeds=500, packets=6, seeds_each=40, thousand_seed_weight_g=3)
    make_estimate(lot, low=0.8, median=0.9)

    one = reckoned(dish("tomato", times=52, product=SAUCE, variety=tomato, save_seed=True))

    # 52 × 5 lb = 260 lb; at 1 lb on a foot of row 260 ft = 79.25 m; a plant each half metre.
    assert one.kg == pytest.approx(117.934, abs=0.001)
    assert (one.stand.plants, one.all_plants) == (159, 159)
    assert one.plants.give_seed == 159
    assert one.lot == lot
    # 80 % sprout, a fifth is lost: about 159 / 0.8 / 0.8 and what certainty asks for.
    assert 248 < one.advice.seeds < 290
    assert one.grams == pytest.approx(one.advice.seeds * 3 / 1000, abs=0.01)
    assert (one.packets, one.seeds_missing) == (6, one.advice.seeds - 240)


def test_what_is_ones_own_goes_before_the_tables_and_says_so(
    dish, reckoned, as_, member, kitchen
):
    own = dish(
        "tomato",
        amount=10,
        product=SAUCE,
        own_kg_each="3",
        own_yield_kg="2.5",
        own_yield_per="plant",
        own_between_rows_cm=100,
        own_in_row_cm=50,
    )

    one = reckoned(own)
    assert (one.kg, one.all_plants, one.stand.row_m, one.area_m2) == (30, 12, 6.0, 6.0)
    (told,) = as_(member).get(f"/api/kitchen-plans/{kitchen.pk}/reckoning/").json()["dishes"]
    sources = {row["what"]: row["source"] for row in told["inputs"]}
    for what in ("fresh produce for one", "harvest", "distances"):
        assert sources[what] == "your own figure"


@pytest.mark.parametrize(
    ("crop", "facts", "missing"),
    [
        (
            "tomatillo",
            {"product": "salsa|tomatillo|tomatillo green salsa|pint"},
            ("produce", "yield"),
        ),
        ("sweetcorn", {}, ("yield",)),
        ("carrot", {}, ("spacing",)),
        ("zinnia", {}, ("yield", "spacing")),
        ("tomato", {}, ()),
    ],
)
def test_what_no_table_has_is_asked_for_and_never_guessed(
    client, dish, reckoned, kitchen, member, crop, facts, missing
):
    one = reckoned(dish(crop, **facts))

    assert one.missing == missing
    assert (one.kg is None) == ("produce" in missing)
    assert (one.area_m2 is None) == bool(missing)
    client.force_login(member)
    page = text_of(client.get(f"/kitchen/{kitchen.pk}/"))
    assert ("Give your own" in page) == bool(missing)


def test_roots_for_seed_stand_beside_those_for_the_table_fruits_on_the_same_plants(
    dish, reckoned, make_variety, kitchen, member
):
    carrot = make_variety("Long Red", crop="carrot")
    own = {"own_between_rows_cm": 30, "own_in_row_cm": 5, "save_seed": True}
    roots = reckoned(dish("carrot", amount=20, variety=carrot, **own))
    population = roots.population.plants
    assert (roots.plants.for_seed_only, roots.plants.give_seed) == (population, population)
    assert roots.all_plants == roots.stand.plants + population
    assert roots.area_m2 > roots.stand.area_m2

    courgette = make_variety("Round", crop="courgette")
    few = reckoned(dish("courgette", amount=1, variety=courgette, save_seed=True))
    assert few.all_plants == few.population.plants > few.stand.plants
    again = reckoned(dish("courgette", amount=500, variety=courgette, save_seed=True))
    first = reckoned(Dish.objects.get(variety=courgette, amount=1))
    # Both dishes are of one variety: its plants for seed are counted once, among all of them.
    assert first.plants.for_seed_only == again.plants.for_seed_only == 0


def test_a_margin_is_the_members_and_makes_more_of_everything(kitchen, dish, reckoned, member):
    made = dish("tomato", amount=100)
    before = reckoned(made)
    services.change_plan(plan=kitchen, by=member, margin_percent=50)
    kitchen.refresh_from_db()

    after = reckoned(made)

    assert after.kg == pytest.approx(1.5 * before.kg)
    assert after.all_plants == pytest.approx(1.5 * before.all_plants, abs=1)


def test_the_cautions_stand_where_the_preserving_plan_is_read(client, dish, kitchen, member):
    client.force_login(member)
    address = f"/kitchen/{kitchen.pk}/"
    fresh = dish("tomato")
    assert "botulism" not in text_of(client.get(address))

    dish("tomato", product=SAUCE)
    page = text_of(client.get(address))
    assert "bottled lemon juice" in page
    assert "tested recipe" in page
    assert "frost-killed vines" in page
    assert "acidify every jar" in page
    assert "pressure canner" not in page
    services.remove_dish(dish=fresh, by=member)
    for crop, said in (
        ("dwarf bean", "pressure canner"),
        ("winter squash", "only as cubes"),
        ("gherkin", "5% acidity"),
    ):
        dish(crop, product=products_of(crop)[0].key)
        assert said in text_of(client.get(address)), crop
    assert "in oil" not in text_of(client.get(address))
    dish("garlic")
    assert "in oil" in text_of(client.get(address))


def test_seed_is_checked_for_crossing_and_taken_over(
    client, kitchen, dish, member, make_variety, garden, as_
):
    round_, long = (make_variety(name, crop="courgette") for name in ("Round", "Long"))
    for variety in (round_, long):
        dish("courgette", amount=5, variety=variety, save_seed=True)
    client.force_login(member)
    address = f"/kitchen/{kitchen.pk}/"

    page = text_of(client.get(address))
    assert "They would cross" in page
    refused = client.post(f"{address}take-over/", {})
    assert refused.status_code == 400
    assert "How much room" in text_of(refused)
    assert not SavingPlan.objects.exists()

    client.post(f"{address}take-over/", {"room_m2": 60})

    there = SavingPlan.objects.get(garden=garden, year=2026)
    plants = {choice.variety.name: choice.plants for choice in there.choices.all()}
    assert plants == {"Round": 10, "Long": 10}
    saving.change_choice(choice=there.choices.first(), by=member, technique="bag", plants=7)
    again = as_(member).post(f"/api/kitchen-plans/{kitchen.pk}/take-over/")
    assert again.json()["varieties"] == 2
    assert 7 in there.choices.values_list("plants", flat=True)
    assert "They would cross" not in text_of(client.get(address))


def test_nothing_is_taken_over_of_which_no_seed_is_saved(kitchen, dish, member):
    dish("tomato")

    with pytest.raises(Refused, match="Choose the variety of a dish"):
        services.take_over(plan=kitchen, by=member, plants={}, room_m2=9)


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"amount": 0}, "amount"),
        ({"amount": -1}, "amount"),
        ({"amount": "1e999"}, "amount"),
        ({"amount": "NaN"}, "amount"),
        ({"amount": "0.001"}, "amount"),
        ({"times": 0}, "times"),
        ({"times": 10**9}, "times"),
        ({"product": "canning|tomato|ketchup|quart"}, "product"),
        ({"yield_key": "wishes"}, "yield_key"),
        ({"own_kg_each": "-2"}, "own_kg_each"),
        ({"own_yield_kg": 0}, "own_yield_kg"),
        ({"own_yield_per": "acre"}, "own_yield_per"),
        ({"own_in_row_cm": 5}, "own_between_rows_cm"),
        ({"own_in_row_cm": 0, "own_between_rows_cm": 3}, "own_in_row_cm"),
        ({"note": "x" * 501}, "note"),
        ({"crop_id": 1}, "crop_id"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(dish, told, field):
    with pytest.raises(Refused) as refusal:
        dish("tomato", **told)

    assert refusal.value.field == field
    assert not Dish.objects.exists()


def test_a_variety_of_another_crop_is_refused(dish, variety):
    with pytest.raises(Refused, match="Tarn Kettle is no tomato"):
        dish("tomato", variety=variety)


def test_whose_it_is_and_what_becomes_of_it(
    kitchen, dish, member, other_member, coordinator, garden
):
    made = dish("tomato", own_kg_each=2, note="for the fair")
    with pytest.raises(Conflict, match="already"):
        services.make_plan(garden=garden, year=2026, by=member)
    for by in (other_member, coordinator):
        for verb in (
            lambda by=by: services.change_plan(plan=kitchen, by=by, margin_percent=1),
            lambda by=by: services.remove_plan(plan=kitchen, by=by),
            lambda by=by: services.change_dish(dish=made, by=by, times=3),
            lambda by=by: services.remove_dish(dish=made, by=by),
            lambda by=by: services.take_over(plan=kitchen, by=by, plants={}),
        ):
            with pytest.raises(Refused, match="not a garden of this member"):
                verb()

    mine = known_of(member)["household"]
    assert (mine["kitchens"][0]["year"], mine["dishes"][0]["note"]) == (2026, "for the fair")
    assert known_of(other_member)["household"]["dishes"] == []
    leave(member=member, by=member, keep_name=True)
    assert not KitchenPlan.objects.exists()
    assert not Dish.objects.exists()


def test_the_form_goes_from_crop_to_dish_and_keeps_what_was_typed(client, kitchen, member):
    client.force_login(member)
    address = f"/kitchen/{kitchen.pk}/add/"
    tomato = Crop.objects.get(name="tomato")

    assert "First the crop" in text_of(client.get(address))
    assert client.post(address, {}).status_code == 400
    page = text_of(client.get(f"{address}?crop={tomato.pk}"))
    assert "sauce, thin (boiled down by about a third), quart jars (0.95 l)" in page
    wrong = client.post(
        f"{address}?crop={tomato.pk}",
        {"product": SAUCE, "amount": "-1", "times": 52, "own_yield_per": "metre"},
    )
    assert wrong.status_code == 400
    assert 'value="52"' in wrong.content.decode()
    client.post(
        f"{address}?crop={tomato.pk}",
        {"product": SAUCE, "amount": "1", "times": 52, "own_yield_per": "metre"},
    )
    assert "52 quart jars (0.95 l): tomato, sauce, thin" in text_of(
        client.get(f"/kitchen/{kitchen.pk}/")
    )


def test_the_tables_are_there_for_scripts(as_, member):
    body = as_(member).get("/api/kitchen-tables/tomato/").json()

    sauce = next(product for product in body["products"] if product["key"] == SAUCE)
    assert sauce["pounds_each"] == 5
    assert sauce["how"] == "read"
    assert [row["printed"] for row in body["yields"]] == ["10.0 lb per 10 ft", "2.5 lb per ft"]
    assert as_(member).get("/api/kitchen-tables/zinnia/").json()["products"] == []
    assert as_(member).get("/api/kitchen-tables/nothing/").status_code == 404


@pytest.mark.parametrize("many", [1, 6])
def test_a_plan_asks_as_many_questions_for_one_dish_as_for_six(
    client, kitchen, dish, member, make_variety, make_lot, count_queries, many
):
    crops = ["courgette", "tomato", "dwarf bean", "garden pea", "okra", "cucumber"]
    for crop in crops[:many]:
        variety = make_variety(crop=crop)
        make_lot(variety, packets=2)
        dish(crop, variety=variety, save_seed=True)
    client.force_login(member)

    assert count_queries(lambda: client.get(f"/kitchen/{kitchen.pk}/")) == 31
