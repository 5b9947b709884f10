"""Card boxes in the library's other languages."""

from __future__ import annotations

import pytest
from django.utils import timezone, translation

from accounts.services import save_community
from library.cardbox import services
from library.cardbox.columns import guess_fields
from library.cardbox.kinds.finding import crop_names, variety_names
from library.catalogue.models import Crop, Variety
from tests.cardbox.conftest import fates, work


@pytest.fixture
def german(administrator):
    administrator.language = "de"
    administrator.save()
    return administrator


@pytest.mark.parametrize(
    ("written", "crop"),
    [
        ("Buschbohne", "dwarf bean"),
        ("Buschbohnen", "dwarf bean"),
        ("MÖHREN", "carrot"),
        ("Karotte", "carrot"),
        ("Rote Bete", "beetroot"),
        ("Mangold", "chard"),
        ("Kürbis", "pumpkin"),
        ("dwarf bean", "dwarf bean"),
        ("zucchini", "courgette"),
    ],
)
def test_a_crop_goes_by_its_german_and_by_its_english_names(reference, written, crop):
    with translation.override("de"):
        names = crop_names()

    assert list(names.exactly(written)) == [Crop.objects.get(name=crop).pk]


def test_who_reads_english_may_bring_in_a_german_box(reference):
    names = crop_names()

    assert list(names.exactly("Feuerbohne").values()) == ["runner bean"]
    # Beside the English name of another crop the German one gives way …
    assert list(names.exactly("mangold").values()) == ["mangel"]


def test_in_a_german_library_the_german_name_comes_first(reference, administrator):
    save_community(by=administrator, language="de")

    assert list(crop_names().exactly("mangold").values()) == ["chard"]


def test_german_cards_are_written(reference, bring, write, german):
    rows = [
        ["Kultur", "Sorte"],
        ["Stangenbohne", "Weir Lantern"],
        ["Möhren", "Fold Gate Brown"],
        ["tomato", "Old Red"],
    ]
    card = bring("varieties", rows, columns={"crop": 0, "name": 1})

    assert fates(card) == ["new", "new", "new"]
    write(card)
    assert dict(Variety.objects.values_list("name", "crop__name")) == {
        "Weir Lantern": "climbing bean",
        "Fold Gate Brown": "carrot",
        "Old Red": "tomato",
    }


def test_the_end_of_a_compound_is_asked_about_in_german_words(reference, bring, write, german):
    rows = [["Kultur", "Sorte"], ["Bohnen", "Weir Lantern"]]
    card = bring("varieties", rows, columns={"crop": 0, "name": 1})

    question = card.questions.get(field="crop")
    offered = {words: key for key, words in question.options}
    assert {"Buschbohne", "Stangenbohne", "Feuerbohne"} <= set(offered)
    services.answer_questions(
        card_import=card, answers={question.pk: offered["Feuerbohne"]}, by=german
    )
    work(card)
    services.confirm(card_import=card, by=german, on=timezone.localdate())
    work(card)
    assert Variety.objects.get().crop.name == "runner bean"


def test_a_column_of_german_crops_is_guessed_by_its_look(reference):
    sample = [["Stangenbohne", "Weir"], ["Lauch", "Fold"]]

    assert guess_fields("varieties", ["?", "??"], sample) == {"crop": 0}


def test_a_card_is_known_by_its_name_beside_its_german_crop(make_variety):
    kettle = make_variety("Tarn Kettle", crop="dwarf bean")

    with translation.override("de"):
        names = variety_names()

    assert names.exactly("Buschbohne Tarn Kettle") == {kettle.pk: "Tarn Kettle (Buschbohne)"}
    assert list(names.exactly("Tarn Kettle dwarf bean")) == [kettle.pk]
