"""A card box brought in, in a real browser: columns, fates, a question, the lots, and back."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from library.cardbox.models import CardImport
from library.stock.checks import problems
from library.stock.models import Lot
from tests.cardbox.conftest import csv_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

CARDS = [
    ["Box no.", "Sort", "How many there are", "Year"],
    ["K1", "jalapeno  ROJO", "250", "2024"],
    ["K2", "Tarn Kettel", "120", "2023"],
    ["K3", "Tarn Kettle", "some", "2023"],
    ["K4", "Nobody's Bean", "40", ""],
]


@pytest.fixture
def owl(walk, make_variety, coordinator, valley):
    make_variety("Tarn Kettle", crop="drying bean")
    make_variety("Jalapeño Rojo", crop="tomato")
    return walk(coordinator)


def pick(owl, name: str) -> None:
    """Choose one of several: by keyboard the first is reached by Tab, the next by arrows."""
    choice = owl.page.get_by_role("radio", name=name)
    if not owl.way.by_keyboard:
        owl.press(choice)
        return
    group = owl.page.get_by_role("group").filter(has=choice).get_by_role("radio")
    owl.tab_to(group.first)
    owl.page.keyboard.press("Space")
    for _ in range(group.count()):
        if choice.is_checked():
            return
        owl.page.keyboard.press("ArrowDown")
    expect(choice).to_be_checked()


def choose_file(owl, name: str, content: bytes, kind: str = "lots") -> None:
    owl.open("/card-box/", "From the card box")
    pick(owl, kind)
    file = {"name": name, "mimeType": "text/csv", "buffer": content}
    owl.page.get_by_label("File", exact=True).set_input_files(file)
    owl.push("Read the file")


def fate_of(owl, number: int):
    return owl.page.get_by_role("row").filter(
        has=owl.page.get_by_role("rowheader", name=str(number), exact=True)
    )


def test_a_list_comes_in_is_decided_seen_on_the_shelf_and_undone(owl):
    choose_file(owl, "cards.csv", csv_of(CARDS))
    owl.arrive("What the columns hold")
    owl.reads("Lots, 4 rows.")

    owl.choose("Box no.", "number in the card box")  # it was taken for a place
    owl.choose("How many there are", "giver")
    owl.push("See what becomes of the rows")
    owl.arrive("What the columns hold")
    owl.reads("Say which column holds the seeds, or grams; without it no row can be taken in.")
    owl.choose("How many there are", "seeds, or grams *")
    owl.push("See what becomes of the rows")

    owl.arrive("cards.csv")
    expect(fate_of(owl, 2)).to_contain_text("New")
    expect(fate_of(owl, 3)).to_contain_text("“Tarn Kettel” is not known here")
    expect(fate_of(owl, 4)).to_contain_text("column “How many there are”")
    expect(fate_of(owl, 5)).to_contain_text("There is no card for “Nobody's Bean”")
    expect(owl.page.get_by_role("button", name="Write")).to_have_count(0)

    pick(owl, "Tarn Kettle (drying bean)")
    owl.push("Decide so")
    owl.arrive("cards.csv")
    assert not Lot.objects.exists()
    owl.push("Write 2 rows")

    owl.arrive("cards.csv")
    owl.reads("The file was written.", "The 2 rows that were not taken")
    owl.press(fate_of(owl, 2).get_by_role("link"))
    owl.reads("Jalapeño Rojo", "250 seeds", "Number in the card box: K1.")
    assert sorted(lot.loose for lot in Lot.objects.all()) == [120, 250]

    owl.open(CardImport.objects.get().get_absolute_url(), "cards.csv")
    owl.push("Undo the import")
    owl.arrive("cards.csv")
    owl.reads("The file was undone.")
    assert {lot.loose for lot in Lot.objects.all()} == {0}
    assert list(problems()) == []


def test_a_file_that_is_no_table_is_refused_with_a_sentence(owl):
    choose_file(owl, "photo.csv", b"\x89PNG\r\n\x1a\n" + b"\x00" * 64)

    owl.arrive("From the card box")
    owl.reads("This is a PNG file, not a table; send CSV, XLSX or ODS.")
    assert not CardImport.objects.exists()
