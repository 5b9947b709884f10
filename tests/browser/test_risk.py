"""What could be lost, in a real Chromium: on a phone, in the dark, on paper, by keyboard."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from library.growouts.models import Commitment, Elsewhere, Season
from library.stock.services import add_storage_place

SMALLEST_WORDS = 12  # CSS pixels
WORDS = """() => [...document.querySelectorAll('svg.risk-bars[role=img] text')].map(word => {
  const box = word.getBoundingClientRect();
  return {text: word.textContent, left: box.left, right: box.right, top: box.top,
          bottom: box.bottom, size: parseFloat(getComputedStyle(word).fontSize)};
})"""


@pytest.fixture
def shelf(make_lot, make_variety, member, other_member, desk):
    """Ten long names: in one place and in two, promised, had elsewhere, gone."""
    year = 2025
    place = add_storage_place(name="Chapel loft", kind="room", by=desk)
    season = Season.objects.create(year=timezone.localdate().year)
    for number in range(10):
        name = f"The Very Long Name of a Bean of Upper Sallowmere {number}"
        bean = make_variety(name, crop="drying bean", is_rare=number % 2 == 0)
        if number < 8:
            make_lot(bean, seeds=800, harvest_year=year - 2 * number, storage_place=place)
        if number % 3 == 0:
            make_lot(bean, seeds=300, harvest_year=year - number, custodian=other_member)
        if number % 4 == 1:
            Commitment.objects.create(
                season=season,
                variety=bean,
                grower=member,
                state="accepted",
                plants=20,
                answer_by=timezone.localdate(),
            )
        if number % 5 == 2:
            Elsewhere.objects.create(
                variety=bean, ease="with_asking", known_on=timezone.localdate()
            )
    return bean


def overlapping(words) -> list[tuple[str, str]]:
    return [
        (a["text"], b["text"])
        for n, a in enumerate(words)
        for b in words[n + 1 :]
        if min(a["right"], b["right"]) - max(a["left"], b["left"]) > 1
        and min(a["bottom"], b["bottom"]) - max(a["top"], b["top"]) > 3
    ]


def test_the_ranked_bars_can_be_read_by_everyone(
    page_at, shelf, member, width, scheme, fits, axe, snap
):
    page = page_at(width, scheme=scheme, member=member)

    page.goto(reverse("growout-risk"))

    words = page.evaluate(WORDS)
    assert len(words) == 5 + 2 * 10
    assert [word["text"] for word in words if word["size"] < SMALLEST_WORDS] == []
    assert overlapping(words) == []
    fits(page)
    axe(page)
    snap(page, f"risk-{width}-{scheme}")


def test_a_variety_answers_why_and_what_would_help(
    page_at, shelf, member, width, scheme, fits, axe, snap
):
    page = page_at(width, scheme=scheme, member=member)

    page.goto(reverse("growout-risk-variety", args=[shelf.pk]))

    expect(page.get_by_role("heading", name="What would help most")).to_be_visible()
    fits(page)
    axe(page)
    snap(page, f"risk-variety-{width}-{scheme}")


def test_the_reason_of_a_chance_opens_by_keyboard(page_at, shelf, member):
    page = page_at(1280, member=member)
    page.goto(reverse("growout-risk"))
    why = page.get_by_role("row").nth(1).locator("summary").first

    why.focus()
    page.keyboard.press("Enter")

    expect(page.get_by_text("the chances that each fails are multiplied").first).to_be_visible()


def test_the_horizon_is_changed_without_scripts(page_at, shelf, member):
    page = page_at(390, member=member, java_script_enabled=False)
    page.goto(reverse("growout-risk"))

    page.get_by_label("Years ahead").fill("12")
    page.get_by_role("button", name="Show").click()

    expect(page.get_by_text("would be lost within 12 years")).to_be_visible()


def test_on_paper_the_bars_stand_with_the_ranking(page_at, shelf, member):
    page = page_at(688, member=member)
    page.goto(reverse("growout-risk"))

    page.emulate_media(media="print")

    expect(page.locator("svg.risk-bars[role=img]")).to_be_visible()
    expect(page.get_by_role("button", name="Show")).to_be_hidden()
    assert overlapping(page.evaluate(WORDS)) == []
