"""The pages about people in a browser: readable at both widths, usable by hand."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from accounts import services
from accounts.models import Membership
from accounts.roles import Role

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def swan(make_member):
    swan = make_member("swan", role=Role.ADMINISTRATOR)
    services.add_garden(
        member=swan,
        by=swan,
        name="by the beck",
        latitude="54.46",
        longitude="-3.02",
        last_spring_frost="05-10",
        first_autumn_frost="10-05",
        area_m2="80",
    )
    services.make_token(member=swan, name="harvest sheet")
    return swan


@pytest.fixture
def people(make_member, swan):
    make_member("fledgling", membership=Membership.APPLIED)
    services.invite(email="lark@example.org", by=swan)
    return [make_member(f"bird {n}") for n in range(3)]


PAGES = [
    "/account/me/",
    "/account/me/gardens/",
    "/account/me/gardens/add/",
    "/account/me/tokens/",
    "/account/me/leave/",
    "/account/email/",
    "/account/2fa/",
    "/members/",
    "/members/invite/",
    "/community/",
]


@pytest.mark.parametrize("path", PAGES)
def test_a_page_about_people_is_readable_at_every_width(
    page_at, width, swan, people, path, axe, fits, snap
):
    page = page_at(width, member=swan)

    page.goto(path)

    snap(page, f"{path.strip('/').replace('/', '-')}-{width}")
    fits(page)
    axe(page)
    expect(page.locator("h1")).to_have_count(1)


def test_a_members_own_page_is_readable_to_coordinators(
    page_at, width, swan, axe, fits, snap, people
):
    page = page_at(width, member=swan)

    page.goto(f"/members/{people[0].pk}/")

    snap(page, f"member-{width}")
    fits(page)
    axe(page)


def test_an_applicant_is_approved_with_one_press(page_at, width, swan, people):
    page = page_at(width, member=swan)
    page.goto("/members/")

    page.get_by_role("button", name="Approve fledgling").click()

    expect(page.get_by_text("Approved. A mail is on its way.")).to_be_visible()
    expect(page.get_by_text("Nobody is waiting.")).to_be_visible()


def test_a_garden_with_half_a_place_is_sent_back_with_the_cursor_at_the_mistake(
    page_at, width, swan, axe
):
    page = page_at(width, member=swan)
    page.goto("/account/me/gardens/add/")
    page.get_by_label("Name").fill("on the hill")
    page.get_by_label("Latitude").fill("54.46")

    page.get_by_role("button", name="Save").click()
    page.complaints.clear()  # Chromium notes the answer 400

    expect(page.get_by_role("alert")).to_contain_text("Longitude: A place needs latitude and")
    axe(page)


def test_a_token_is_shown_in_the_page_that_made_it(page_at, width, swan, axe, fits):
    page = page_at(width, member=swan)
    page.goto("/account/me/tokens/")
    page.get_by_label("What it is for").fill("seed count")

    page.get_by_role("button", name="Make").click()

    expect(page.get_by_text("It is shown this once")).to_be_visible()
    fits(page)
    axe(page)
