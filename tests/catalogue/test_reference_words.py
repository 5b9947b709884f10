"""The reference files in the reader's language, and in English wherever data leave."""

from __future__ import annotations

import csv

import pytest
from django.utils import translation

from library.catalogue.forms import VarietyForm
from library.catalogue.models import (
    Caution,
    Crop,
    Species,
    SpeciesFigure,
    Variety,
    ViabilityConstants,
)
from library.catalogue.names import fold
from library.catalogue.reference import DIRECTORY
from library.catalogue.reference_words import (
    BREEDING,
    CAUTIONS,
    COMMON_NAMES,
    CONSTANTS,
    DOUBTS,
    FIGURES,
    LIFE_CYCLES,
    NAMES,
    NOTES,
    name_of_crop,
    name_of_species,
    sentence,
)
from library.catalogue.search import search
from library.catalogue.services import edit_variety
from tests.pages import GERMAN, text_of


def column(file: str, name: str) -> list[str]:
    with (DIRECTORY / file).open(encoding="utf-8", newline="") as lines:
        return [row[name] for row in csv.DictReader(lines) if row[name]]


def page_of(client, path: str, **query) -> str:
    answer = client.get(path, query, **GERMAN)
    assert answer.status_code == 200
    return text_of(answer)


@pytest.fixture
def shelf(make_variety):
    return [
        make_variety("Tarn Kettle", crop="dwarf bean"),
        make_variety("Kestrel Red", crop="runner bean"),
        make_variety("Ember Tap", crop="carrot"),
        make_variety("Sill Lantern", crop="cos lettuce"),
    ]


# Nothing drifts apart ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("file", "name", "words"),
    [
        ("crops.csv", "crop", NAMES),
        ("crops.csv", "note", NOTES),
        ("cautions.csv", "caution", CAUTIONS),
    ],
)
def test_the_words_to_translate_are_those_of_the_files(file, name, words):
    assert set(words) == set(column(file, name))
    assert len(words) == len(set(words))


def test_the_species_words_to_translate_are_those_that_the_card_file_shows(reference):
    def kept(model, field: str) -> set[str]:
        # A range of figures ("6-13") is no word.
        texts = model.objects.values_list(field, flat=True)
        return {text for text in texts if any(letter.isalpha() for letter in text)}

    assert set(COMMON_NAMES) == kept(Species, "common_name")
    assert set(BREEDING) == kept(Species, "breeding_note")
    assert set(LIFE_CYCLES) == kept(Species, "life_cycle")
    assert set(DOUBTS) == kept(Species, "uncertain")
    assert set(FIGURES) == kept(SpeciesFigure, "text")
    assert set(CONSTANTS) == kept(ViabilityConstants, "note")


def test_every_species_has_german_words():
    told = [*BREEDING, *LIFE_CYCLES, *DOUBTS, *FIGURES, *CONSTANTS]
    with translation.override("de"):
        species = {name: name_of_species(name) for name in COMMON_NAMES}
        same = [text for text in told if sentence(text) == text]

    assert [name for name, said in species.items() if name == said] == []
    assert len(set(species.values())) == len(species)
    assert same == ["orthodox"]


def test_every_crop_note_and_caution_has_german_words():
    with translation.override("de"):
        names = {name: name_of_crop(name) for name in NAMES}
        told = {text: sentence(text) for text in [*NOTES, *CAUTIONS]}

    assert [name for name, said in names.items() if name == said] == []
    assert [text for text, said in told.items() if text == said] == []
    assert len(set(names.values())) == len(names)  # no two crops are called the same


def test_english_readers_get_the_files_words():
    with translation.override("en"):
        assert [name_of_crop(name) for name in NAMES] == list(NAMES)
        assert [sentence(text) for text in CAUTIONS] == list(CAUTIONS)


@pytest.mark.parametrize("text", ["", "Note", "Apfelquitte", "yes"])
def test_what_no_file_has_is_shown_as_it_was_written(text):
    with translation.override("de"):
        assert (name_of_crop(text), sentence(text)) == (text, text)


# Pages -------------------------------------------------------------------------------------


def test_a_crops_page_is_german_and_keeps_its_source_and_address(client, reference):
    page = page_of(client, "/crops/parsnip/")

    assert "<title>Pastinake" in page
    assert "Saft auf der Haut kann im Sonnenlicht Blasen ziehen" in page
    assert "Gefleckter Schierling" in page
    assert "kreuzt sich mit der Wilden Pastinake" in page
    assert "parsnip and celery above all" not in page
    assert "common horticultural guidance" in page  # a citation is no sentence of ours


def test_what_is_known_of_a_species_is_german_on_its_crops_page(client, reference):
    page = page_of(client, "/crops/runner-bean/")

    assert "wird von Bienen fremdbestäubt" in page
    assert "die Art: mehrjährig (mit Knollen; als Einjährige gezogen)" in page
    assert "die Haltbarkeit ist aus der allgemeinen Zeile für Bohnen genommen" in page
    assert "20–30 im Wechsel" in page
    assert "zwischen Filterpapier; Papiertuch; in Sand oder Erde" in page
    assert "cross-pollinated" not in page
    assert "between blotters" not in page


def test_a_crops_kin_and_other_names_are_german(client, reference):
    page = page_of(client, "/crops/courgette/")

    assert "Zucchini" in page
    assert "Zucchetti" in page
    assert "summer squash" not in page
    # The kinds it crosses with, in the order of the German alphabet.
    kin = ("Eichelkürbis", "Gartenkürbis", "Krummhalskürbis", "Patisson", "Spaghettikürbis")
    places = [page.index(f'">{name}</a></li>') for name in kin]
    assert places == sorted(places)


def test_all_crops_are_listed_in_the_order_of_their_german_names(client, reference):
    crops = client.get("/crops/", **GERMAN).context["crops"]

    with translation.override("de"):
        shown = [crop.local_name for crop in crops]
    assert shown == sorted(shown, key=fold)
    assert shown[0] == "Ananaskirsche"
    assert len(shown) == len(NAMES)


def test_in_english_the_list_is_as_the_database_has_it(client, reference):
    crops = client.get("/crops/").context["crops"]

    assert [crop.name for crop in crops] == list(
        Crop.objects.order_by("name").values_list("name", flat=True)
    )


def test_a_card_is_german(client, shelf):
    page = page_of(client, shelf[1].get_absolute_url())

    assert "Feuerbohne</a>, <i" in page
    assert "Alle Zahlen zu Feuerbohne und ihre Quellen" in page
    assert "Vier oder fünf genügen" in page
    assert "Dieses Saatgut ist zum Säen." in page
    assert "runner bean" not in page


def test_browsing_shows_and_offers_german_crops_and_keeps_their_addresses(client, shelf):
    page = page_of(client, "/browse/", crop="runner-bean")

    assert '<td data-label="Kultur">Feuerbohne</td>' in page
    assert '<option value="runner-bean" selected>Feuerbohne</option>' in page
    assert page.index(">Aubergine</option>") < page.index(">Zwiebel</option>")
    assert "Tarn Kettle" not in page
    assert "runner bean" not in page


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_crop_costs_nothing_more_in_german(
    client, make_variety, django_assert_num_queries, language
):
    for number in range(3):
        make_variety(f"Lantern {number}", crop=("carrot", "leek", "chard")[number])
    headers = {"Accept-Language": language}
    client.get("/browse/", headers=headers)

    with django_assert_num_queries(5):
        client.get("/browse/", headers=headers)


def test_a_select_of_crops_is_german_and_in_order(reference):
    with translation.override("de"):
        options = list(VarietyForm().fields["crop"].choices)[1:]

    labels = [str(label) for _key, label in options]
    assert labels == sorted(labels, key=fold)
    chosen = next(key for key, label in options if label == "Mangold")
    assert Crop.objects.get(pk=chosen.value).name == "chard"


def test_a_changed_crop_is_kept_in_english_and_told_in_german(coordinator, shelf):
    card = edit_variety(
        variety=shelf[0],
        by=coordinator,
        changes={"crop": Crop.objects.get(name="climbing bean")},
    )

    edit = card.edits.get()
    assert (edit.old_value, edit.new_value) == ("dwarf bean", "climbing bean")
    with translation.override("de"):
        assert (edit.field_label, edit.old_words, edit.new_words) == (
            "Kultur",
            "Buschbohne",
            "Stangenbohne",
        )


# Finding -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("Buschbohne", ["Tarn Kettle"]),
        ("busch", ["Tarn Kettle"]),
        ("Bohne", ["Kestrel Red", "Tarn Kettle"]),
        ("Bohnen", ["Kestrel Red", "Tarn Kettle"]),
        ("Möhre", ["Ember Tap"]),
        ("Moehren", ["Ember Tap"]),
        ("Karotte", ["Ember Tap"]),
        ("Salat", ["Sill Lantern"]),
        ("Kestrel Bohne", ["Kestrel Red"]),
        ("bean", ["Kestrel Red", "Tarn Kettle"]),
        ("carrots", ["Ember Tap"]),
        ("Mohn", []),
    ],
)
def test_german_words_for_a_crop_find_its_varieties_and_english_ones_still_do(
    shelf, words, found
):
    with translation.override("de"):
        rows = search(Variety.objects.all(), words).varieties

    assert sorted(variety.name for variety in rows) == found


def test_a_german_word_means_nothing_to_an_english_reader(shelf):
    with translation.override("en"):
        assert list(search(Variety.objects.all(), "Buschbohne").varieties) == []


def test_the_search_of_a_german_page_and_of_the_api_knows_the_words(client, shelf):
    assert "Tarn Kettle" in page_of(client, "/browse/", q="Buschbohne")
    answer = client.get("/api/varieties/", {"q": "Möhren"}, **GERMAN).json()
    assert [row["name"] for row in answer["results"]] == ["Ember Tap"]


# Data --------------------------------------------------------------------------------------


def test_the_api_keeps_the_files_words_in_german_too(client, shelf):
    crop = client.get("/api/crops/parsnip/", **GERMAN).json()

    assert crop["name"] == "parsnip"
    assert crop["note"] == Crop.objects.get(name="parsnip").note
    bean = client.get("/api/crops/runner-bean/", **GERMAN).json()
    directions = next(one for one in bean["figures"] if one["quantity"] == "test_directions")
    assert directions["value"] == "hard seeds may be present"
    texts = set(Caution.objects.values_list("text", flat=True))
    assert crop["cautions"]
    assert {caution["text"] for caution in crop["cautions"]} <= texts
