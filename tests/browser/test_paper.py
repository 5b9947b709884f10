"""At the desk: lots are chosen and printed at once; many are made while one looks on."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from library.paper import running
from library.paper.services import save_sheet
from tests.paper.reading import squares

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_labels_are_chosen_printed_and_fetched(
    page_at, width, desk, make_lot, make_variety, axe, fits, snap
):
    save_sheet(
        by=desk, name="A4, 3 × 8", page_width=210, page_height=297, columns=3, rows=8,
        label_width=63, label_height=34.5, left=10.5, top=10.5, is_default=True,
    )  # fmt: skip
    lot = make_lot(make_variety("Tarn Kettle", crop="drying bean"), packets=2)
    many = make_lot(make_variety("Fell Plum"), seeds=2000, packets=70)
    page = page_at(width, member=desk)
    page.goto("/desk/")
    page.get_by_role("link", name="Labels, cards and lists").click()
    page.get_by_label(lot.number).check()
    snap(page, f"printing-{width}")
    fits(page)
    axe(page)
    with page.expect_response(lambda answer: answer.request.method == "POST") as answer:
        page.get_by_role("button", name="Labels").click()
    assert answer.value.headers["content-type"] == "application/pdf"

    page.goto("/paper/")
    page.complaints.clear()  # a bare PDF names no icon, so Chromium asks for /favicon.ico
    page.get_by_label(many.number).check()
    page.get_by_role("button", name="Labels").click()
    expect(page.get_by_role("progressbar")).to_be_visible()
    snap(page, f"printing-job-{width}")
    axe(page)
    running.work_on(running.claim_next(worker="w"))
    link = page.get_by_role("link", name="Open the PDF")
    expect(link).to_be_visible()
    snap(page, f"printing-done-{width}")
    fits(page)
    axe(page)
    file = page.context.request.get(link.get_attribute("href"))
    assert len(squares(file.body())) == 70

    page.goto("/paper/sheets/")
    fits(page)
    axe(page)
    page.get_by_role("link", name="Describe one").click()
    snap(page, f"sheet-{width}")
    fits(page)
    axe(page)
