"""The kitchen's tables in the reader's language, and in English wherever data leave."""

from __future__ import annotations

import csv

import pytest
from django.utils import translation

from accounts.export import known_of
from library.catalogue.models import Crop
from library.catalogue.reference import DIRECTORY
from library.errors import Refused
from library.household.kitchen import table_words as told
from library.household.kitchen.tables import CAUTIONS, foods, products_of, yields_of
from library.household.services import kitchen as services
from tests.pages import GERMAN, text_of

SAUCE = "canning|tomato|sauce, thin (boiled down by about a third)|quart"
GROUPS = [
    told.SECTIONS, told.PRODUCTS, told.BASES, told.FOODS, told.UNITS, told.NOTES, told.CAUTIONS,
]  # fmt: skip


@pytest.fixture
def kitchen(garden, member):
    return services.make_plan(garden=garden, year=2026, by=member)


@pytest.fixture
def dish(kitchen, member):
    def make(crop: str, **facts):
        crop = Crop.objects.get(name=crop)
        return services.add_dish(plan=kitchen, crop=crop, by=member, **{"amount": 1} | facts)

    return make


def test_the_words_to_translate_are_those_that_the_tables_show():
    products = [product for crop in foods() for product in products_of(crop)]
    yields = [found for crop in foods() for found in yields_of(crop)]
    with (DIRECTORY / CAUTIONS).open(encoding="utf-8", newline="") as lines:
        cautions = {row["caution"] for row in csv.DictReader(lines)}

    shown = [
        {one.section for one in products},
        {one.name for one in products},
        {one.basis for one in products},
        {one.food for one in yields},
        {one.printed.split(" ", 1)[1] for one in yields},
        {one.note for one in [*products, *yields]} - {""},
        cautions,
    ]
    assert [set(group) for group in GROUPS] == shown


def test_each_has_german_words_and_none_is_made_of_no_text():
    with translation.override("de"):
        same = [text for group in GROUPS for text in group if told.said(text) == text]
        assert same == []
        assert told.said("") == ""
        assert told.said("Note") == "Note"


def test_the_kitchens_pages_are_german(client, dish, kitchen, member):
    client.force_login(member)
    dish("tomato", product=SAUCE, times=52)
    dish("garlic")

    page = text_of(client.get(f"/kitchen/{kitchen.pk}/", **GERMAN))

    assert "Tomate, Soße, dünn (um etwa ein Drittel eingekocht)" in page
    assert page.index("Knoblauch, ") < page.index("Tomate, ")
    assert "2 Esslöffel Zitronensaft aus der Flasche" in page
    assert "Nimm geprüfte Rezepte, ohne die Verhältnisse" in page
    assert "Gefahr von Botulismus" in page
    assert "bottled lemon juice" not in page
    assert "säuere jedes Glas an" in page
    assert "eine Einkocherfüllung von 7 Quarts: " in page
    assert "10,0 lb je 10 ft; schwankt stark; die Tabelle sagt 100 lb je 100 ft" in page
    assert "USDA Complete Guide to Home Canning" in page  # a citation stays as it is


def test_the_form_offers_german_crops_products_and_harvests(client, kitchen, member):
    client.force_login(member)
    address = f"/kitchen/{kitchen.pk}/add/"
    bean = Crop.objects.get(name="dwarf bean")

    crops = text_of(client.get(address, **GERMAN))
    form = text_of(client.get(f"{address}?crop={bean.pk}", **GERMAN))

    assert f'<option value="{bean.pk}">Buschbohne</option>' in crops
    assert crops.index(">Aubergine<") < crops.index(">Buschbohne<") < crops.index(">Zwiebel<")
    assert "Von Buschbohne" in form
    assert "Einkochen: Stücke, ohne Zusatz" in form
    assert "Gartenbohne, Buschbohne: 12,0 lb je 10 ft" in form
    assert 'value="canning|snap bean|pieces, plain|quart"' in form


def test_a_refusal_names_the_crop_in_the_readers_language(dish, make_variety):
    leek = make_variety("Fell Leek", crop="leek")

    with translation.override("de"), pytest.raises(Refused, match="gehört nicht zu Tomate"):
        dish("tomato", variety=leek)


def test_scripts_and_the_members_own_archive_keep_the_tables_words(as_, dish, kitchen, member):
    dish("tomato", product=SAUCE)
    api = as_(member)

    tables = api.get("/api/kitchen-tables/tomato/", **GERMAN).json()
    reckoned = api.get(f"/api/kitchen-plans/{kitchen.pk}/reckoning/", **GERMAN).json()
    with translation.override("de"):
        kept = known_of(member)

    assert tables["crop"] == "tomato"
    assert SAUCE.split("|")[2] in {product["name"] for product in tables["products"]}
    assert tables["yields"][0]["printed"] == "10.0 lb per 10 ft"
    assert reckoned["dishes"][0]["source_note"] == "acidify every jar"
    assert {caution["text"] for caution in reckoned["cautions"]} <= set(told.CAUTIONS)
    assert "'crop__name': 'tomato'" in str(kept)
