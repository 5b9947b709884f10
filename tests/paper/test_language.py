"""Paper in the reader's language: crops and cautions too."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import translation

from library.catalogue.models import Caution
from library.lending.services import lend_packet
from library.paper.content.notices import wall_notice
from library.paper.content.shelves import shelf_list
from library.paper.words import short_cautions
from library.stock.models import Lot
from tests.paper.conftest import ON
from tests.paper.reading import pages


@pytest.fixture(autouse=True)
def german():
    with translation.override("de"):
        yield


def test_a_label_and_a_card_name_the_german_crop(make_variety, make_lot, printed, member):
    beet = make_variety("Fell Round", crop="beetroot")
    lot = make_lot(beet, packets=1)

    label = " ".join(pages(printed("labels", [lot.number])))
    card = " ".join(pages(printed("cards", [beet.pk], by=member)))

    for told in (label, card):
        assert "Rote Bete" in told
        assert "beetroot" not in told


def test_a_slip_names_the_german_crop_and_says_its_cautions(
    make_variety, make_packet, member, desk, printed
):
    bean = make_variety("Weir Climber", crop="runner bean")
    loan = lend_packet(packet=make_packet(bean), borrower=member, on=ON, by=desk)

    (text,) = pages(printed("loan-slips", [loan.pk], by=member, paper="a4"))

    assert "Feuerbohne" in text
    assert "runner bean" not in text
    assert "Die Bohnen nie roh essen" in text


def test_a_caution_without_short_words_keeps_its_first_german_sentence(reference):
    caution = Caution.objects.get(topic="treated-seed")
    caution.topic, caution.for_everything = "another", False

    assert short_cautions([caution]).startswith("Behandeltes Saatgut trägt ein Pestizid. ")


def test_the_shelf_list_goes_by_the_german_names(make_variety, make_lot):
    for name, crop in (("A", "courgette"), ("B", "beetroot"), ("C", "aubergine")):
        make_lot(make_variety(name, crop=crop))

    told = shelf_list(list(Lot.objects.values_list("pk", flat=True)), paper="a4", on=ON)

    (place,) = told["places"]
    crops = [row["crop"]["text"] for row in place["rows"]]
    assert crops == ["Aubergine", "Rote Bete", "Zucchini"]


def test_the_wall_notice_warns_in_german(reference):
    care = wall_notice(paper="a4", on=dt.date(2026, 4, 15))["care"]

    assert any(text.startswith("Dieses Saatgut ist zum Säen.") for text in care)
    assert not any("Do not" in text for text in care)
