"""A list from a card box in a real browser: misspelt, corrected, decided, confirmed, undone."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from library.catalogue.models import Variety

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# The heading "Sort" is taken for the variety's name, and stands over the crops.
LIST = "Sort;What it is called\ntomato;Kestral Red\ntomato;Weir Lantern\nleek;\nleek;Blå Lang\n"


@pytest.mark.parametrize("width", [360, 1280], ids=["phone", "desktop"])
def test_a_list_comes_in_and_goes_again(
    page_at, width, make_variety, coordinator, valley, axe, fits, snap
):
    make_variety("Kestrel Red")
    page = page_at(width, member=coordinator)

    def look(name: str) -> None:
        fits(page)
        axe(page)
        snap(page, f"cardbox-{name}-{width}")

    page.goto("/card-box/")
    look("begin")
    page.get_by_label("varieties").check()
    page.get_by_label("File").set_input_files(
        {"name": "cards.csv", "mimeType": "text/csv", "buffer": LIST.encode("cp1252")}
    )
    page.get_by_role("button", name="Read the file").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("What the columns hold")
    look("columns")
    page.get_by_label("Sort").select_option(label="crop *")
    page.get_by_label("What it is called").select_option(label="name *")
    page.get_by_role("button", name="See what becomes of the rows").click()

    expect(page.get_by_role("heading", name="1 thing to decide")).to_be_visible()
    expect(
        page.get_by_text("Row 4, column “What it is called”: The cell is empty")
    ).to_be_visible()
    look("decide")
    page.get_by_label("Kestrel Red (tomato)").check()
    page.get_by_role("button", name="Decide so").click()

    expect(page.get_by_role("button", name="Write 2 rows")).to_be_visible()
    assert Variety.objects.count() == 1
    look("ready")
    page.get_by_role("button", name="Write 2 rows").click()

    expect(page.get_by_role("button", name="Undo the import")).to_be_visible()
    assert set(Variety.objects.values_list("name", flat=True)) == {
        "Kestrel Red",
        "Weir Lantern",
        "Blå Lang",
    }
    look("written")
    page.get_by_role("button", name="Undo the import").click()

    expect(page.get_by_text("The file was undone.")).to_be_visible()
    assert Variety.objects.get().name == "Kestrel Red"
