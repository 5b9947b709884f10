"""The look of every page: readable, reachable, at every width, in both themes."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

pytestmark = [pytest.mark.browser, pytest.mark.django_db]

OPEN_PAGES = ["/", "/style/", "/account/login/", "/account/signup/", "/account/password/reset/"]


@pytest.mark.parametrize("path", OPEN_PAGES)
def test_page_is_readable_and_named_at_every_width_and_theme(
    page_at, width, scheme, path, axe, fits, snap
):
    page = page_at(width, scheme=scheme)

    page.goto(path)

    snap(page, f"{path.strip('/').replace('/', '-') or 'home'}-{width}-{scheme}")
    fits(page)
    axe(page)
    assert page.locator("h1").count() == 1
    assert page.locator("h1").inner_text().strip() != ""


@pytest.mark.parametrize("path", OPEN_PAGES)
def test_page_fits_the_narrowest_phone(page_at, path, fits):
    page = page_at(320)

    page.goto(path)

    fits(page)


def test_page_fits_when_the_text_runs_from_right_to_left(page_at, width, fits):
    page = page_at(width)
    page.goto("/style/")

    page.evaluate("document.documentElement.dir = 'rtl'")

    fits(page)
    brand = page.locator(".brand").bounding_box()
    assert brand["x"] > width / 2


def test_why_opens_without_pushing_the_page_sideways(page_at, width, axe, fits):
    page = page_at(width)
    page.goto("/style/")

    page.get_by_text("Why this date?").click()

    expect(page.get_by_text("Source: FAO Genebank Standards 2014")).to_be_visible()
    fits(page)
    axe(page)


def test_first_tab_stop_leads_past_the_navigation(page_at, width):
    page = page_at(width)
    page.goto("/style/")

    page.keyboard.press("Tab")
    expect(page.locator(":focus")).to_have_text("Skip to the content")
    expect(page.locator(".skip")).to_be_in_viewport()
    page.keyboard.press("Enter")

    expect(page.locator("#main")).to_be_focused()


def test_navigation_stays_under_the_thumb_on_a_phone(page_at):
    page = page_at(390)
    page.goto("/style/")

    page.mouse.wheel(0, 3000)

    expect(page.locator(".nav").get_by_role("link", name="Home")).to_be_in_viewport()


def test_navigation_gives_its_room_back_when_the_page_is_enlarged_four_times(page_at, fits):
    page = page_at(320)
    page.set_viewport_size({"width": 320, "height": 256})

    page.goto("/style/")

    fits(page)
    assert page.locator(".nav").evaluate("e => getComputedStyle(e).position") == "static"


def test_thumb_sized_targets_on_a_touch_screen(page_at):
    page = page_at(390, has_touch=True, is_mobile=True)
    page.goto("/style/")

    small = page.evaluate(
        """[...document.querySelectorAll(
             '.nav a, .button, .find button, .find input, .pages a, .choice, .parts a, summary'
           )].filter(e => e.offsetHeight > 0)
             .map(e => [e.textContent.trim(), e.getBoundingClientRect().height])
             .filter(([, height]) => height < 44)"""
    )

    assert small == []


def test_page_is_whole_without_javascript(page_at, width, fits):
    page = page_at(width, java_script_enabled=False)

    page.goto("/style/")

    expect(page.get_by_role("heading", level=1)).to_be_visible()
    expect(page.locator(".nav").get_by_role("link", name="Home")).to_be_visible()


@pytest.mark.parametrize("mode", [{"forced_colors": "active"}, {"contrast": "more"}])
def test_page_survives_colours_chosen_by_the_reader(page_at, width, scheme, mode, axe):
    page = page_at(width, scheme=scheme, **mode)

    page.goto("/style/")

    axe(page)


def test_each_mistake_is_announced_beside_its_field_and_leads_to_it(page_at, width):
    page = page_at(width)
    page.goto("/style/")

    page.get_by_role("link", name="Plants: Ensure this value").click()

    plants = page.locator("#id_wrong-plants")
    expect(plants).to_be_focused()
    expect(plants).to_have_attribute("aria-invalid", "true")
    expect(plants).to_have_accessible_description(
        "Ensure this value is greater than or equal to 1."
    )


def test_signing_in_with_a_wrong_password_puts_the_reason_first(page_at, width, axe):
    page = page_at(width)
    page.goto("/account/login/")
    page.get_by_label("Email").fill("wren@example.org")
    page.get_by_label("Password", exact=True).fill("not-the-password")

    page.locator("main").get_by_role("button", name="Sign In").click()

    expect(page.locator(".error-summary")).to_be_focused()
    axe(page)


@pytest.mark.parametrize(
    ("person", "places"),
    [
        ("nobody", ["Home", "Browse", "Sign in"]),
        ("member", ["Home", "Browse", "Grow-outs", "My seed", "Account"]),
        ("desk", ["Home", "Browse", "Desk", "Grow-outs", "My seed", "Account"]),
        ("coordinator", ["Home", "Browse", "Desk", "Bench", "Grow-outs", "My seed", "Account"]),
    ],
)
def test_navigation_leads_each_person_to_their_own_places(
    page_at, request, width, person, places, fits
):
    who = None if person == "nobody" else request.getfixturevalue(person)
    page = page_at(width, member=who)

    page.goto("/")

    fits(page)
    assert [name.strip() for name in page.locator(".nav a").all_inner_texts()] == places


def test_paper_shows_no_navigation_and_every_reason(page_at):
    page = page_at(1280)
    page.goto("/style/")

    page.emulate_media(media="print")

    expect(page.locator(".band")).to_be_hidden()
    expect(page.get_by_text("Source: FAO Genebank Standards 2014")).to_be_visible()


def test_a_table_stays_a_table_on_a_sheet_no_wider_than_a_small_screen(page_at):
    a4_between_its_margins = 688  # CSS pixels
    page = page_at(a4_between_its_margins)
    page.goto("/style/")
    cell = page.locator(".stacked:not(.brief) td").first
    assert cell.evaluate("e => getComputedStyle(e).display") == "block"

    page.emulate_media(media="print")

    assert cell.evaluate("e => getComputedStyle(e).display") == "table-cell"
    expect(page.locator(".narrow-only")).to_be_hidden()


def test_second_tap_on_a_slow_connection_sends_nothing_more(page_at, width):
    page = page_at(width)
    page.goto("/account/password/reset/")
    page.get_by_label("Email").fill("wren@example.org")
    waiting = []
    page.route("**/account/password/reset/", lambda route: waiting.append(route))
    box = page.get_by_role("button", name="Send the link").bounding_box()
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    for _tap in range(2):
        page.mouse.click(*middle)
        page.wait_for_timeout(300)
    sent = len(waiting)
    waiting[-1].continue_()

    assert sent == 1
    expect(page.get_by_role("heading", level=1)).to_have_text("Look in your mail")
