"""A whole season in a real browser: from its opening to a new lot whose chain can be read.

The coordinator sits at a desk; growers hold a phone in the garden. One who was asked declines,
one loses the crop to hail, a third takes over and brings seed in.
"""

from __future__ import annotations

import pytest
from django.utils import timezone

from accounts.services import add_garden
from library.growouts.models import Commitment, Season
from library.growouts.plans.running import claim_next, work_on
from library.growouts.services.rooms import Room
from library.growouts.services.seasons import offer_gardens
from library.stock.models import Lot
from tests.browser.conftest import FINGER, KEYS, MOUSE, Walker

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
State = Commitment.State


@pytest.fixture
def person(page_at, axe, fits, snap):
    """``person(wren)`` is wren with a phone; ``person(owl, MOUSE)`` sits at a desk."""

    def look(page, heading: str) -> None:
        fits(page)
        axe(page)
        snap(page, f"season-{page.url.rstrip('/').rpartition('/')[2]}-{heading[:20]}")

    def start(member, way=FINGER) -> Walker:
        page = page_at(way.width, scheme=way.scheme, member=member, locale="en-GB")
        return Walker(page, way, look)

    return start


@pytest.fixture
def growers(make_member, valley):
    """Three gardens far apart, each with the frosts of the valley and its own grower."""
    found = {}
    for step, name in enumerate(("wren", "lark", "kite")):
        member = found[name] = make_member(name)
        add_garden(
            member=member,
            by=member,
            name=f"{name}'s plot",
            placed="exact",
            latitude=54.2 + step / 20,
            longitude=-2.9,
            last_spring_frost="05-10",
            first_autumn_frost="10-05",
        )
    return found


def offer_a_garden(grower: Walker, year: int) -> None:
    grower.open("/grow-outs/", "Grow-outs")
    grower.page.goto(f"/grow-outs/seasons/{year}/offer/")
    grower.arrive(f"Offer a garden for {year}")
    box = grower.page.get_by_role("checkbox").first
    if not box.is_checked():  # who has one garden offers that one
        grower.press(box)
    grower.write("Room in square metres", "40")
    grower.push("Offer it")
    grower.reads("Thank you. You are asked before anything is yours to grow.")


def offer_to(name: str) -> Commitment:
    return Commitment.objects.get(grower__display_name=name, state=State.OFFERED)


def promise(grower: Walker, offered: Commitment) -> None:
    grower.open(offered.get_absolute_url(), f"{offered.variety.name} in {offered.season.year}")
    grower.reads("What you must know", "The days in your garden")
    grower.follow("Yes, I will grow it")
    grower.arrive("Yes, I will grow it")
    grower.push("I promise")
    grower.reads("Thank you! Your packets wait at the desk.")


def hand_over(heron: Walker, name: str) -> None:
    heron.open("/desk/", "Desk")
    heron.push(
        "Hand over", inside=heron.page.locator("section").filter(has_text="To hand over")
    )
    heron.reads(f"Serving {name}.")
    held = Commitment.objects.get(grower__display_name=name, state=State.ACCEPTED)
    assert held.lent.exists()
    assert not held.lent.filter(loan__handed_over_on=None).exists()


def test_a_season_from_its_opening_to_a_lot_and_its_chain(
    person, growers, beans, coordinator, desk
):
    owl, heron = person(coordinator, MOUSE), person(desk)
    year = timezone.localdate().year + 1

    # It is opened, and a variety chosen.
    owl.open("/grow-outs/seasons/new/", "Open a season")
    owl.write("Year", str(year))
    owl.push("Save")
    owl.arrive(f"What season {year} renews")
    owl.press(owl.page.get_by_role("checkbox", name="Tarn Kettle"))
    owl.push("Renew them in this season")

    # Three growers offer a garden each; the plan asks as many as may grow it.
    phones = {name: person(member) for name, member in growers.items()}
    for phone in phones.values():
        offer_a_garden(phone, year)
    owl.page.goto(f"/grow-outs/seasons/{year}/")
    owl.push("Work out a plan")
    work_on(claim_next(worker="a test"))
    owl.page.reload()
    owl.reads("Who grows what", "Tarn Kettle")
    owl.push("Ask for all 2 that are open")
    asked = sorted(Commitment.objects.values_list("grower__display_name", flat=True))
    assert len(asked) == 2

    # One declines; the other promises, fetches the seed, sows, and loses all of it.
    declines, promises = asked
    first = offer_to(declines)
    phone = phones[declines]
    phone.open(first.get_absolute_url(), f"Tarn Kettle in {year}")
    phone.follow("No, or something else")
    phone.write("Why not", "We are away in May.")
    phone.push("I will not grow it")
    phone.reads("Thank you for answering.")
    grower, second = phones[promises], offer_to(promises)
    promise(grower, second)
    hand_over(heron, promises)
    grower.open(second.get_absolute_url(), f"Tarn Kettle in {year}")
    grower.follow("Report it sown")
    grower.write("Seeds or plants set out", "40")
    grower.push("Report")
    grower.reads("Noted.", "40 seeds or plants set out")
    grower.follow("The crop failed")
    grower.choose("What happened", "hail or storm")
    grower.push("It failed")
    grower.reads("Noted. Thank you for telling.")

    # The coordinator sees who could take over, and asks; the third garden does it.
    owl.open(second.get_absolute_url(), f"Tarn Kettle in {year}")
    owl.reads("Who could take over")
    (takes_over,) = set(growers) - set(asked)
    owl.push(f"Ask {takes_over}")
    owl.reads(f"{takes_over} is asked to take over.")
    third, grower = offer_to(takes_over), phones[takes_over]
    assert third.replaces == second
    promise(grower, third)
    hand_over(heron, takes_over)

    # Seed comes in, and is a link of the chain.
    grower.open(third.get_absolute_url(), f"Tarn Kettle in {year}")
    grower.follow("I will bring seed in")
    grower.arrive("Bring back Tarn Kettle")
    grower.write("Seeds", "300")
    grower.push("Announce it")
    heron.open("/desk/", "Desk")
    heron.follow("Receive Tarn Kettle")
    heron.push("Receive it")
    heron.reads("Received. Its first test is planned.")
    lot = Lot.objects.get(origin="return")
    third.refresh_from_db()
    assert third.state == State.FULFILLED
    grower.page.goto(third.get_absolute_url())
    grower.reads("New lot", lot.number)
    grower.follow("its chain")
    grower.reads(takes_over, beans[0].lot.number)

    # How it went, and nothing of it is open any more.
    owl.page.goto(f"/grow-outs/seasons/{year}/story/")
    owl.reads(lot.number, "hail or storm")
    owl.page.goto(f"/grow-outs/seasons/{year}/close/")
    owl.push("Close it")
    assert Season.objects.get(year=year).is_over


def test_a_plan_is_made_and_sent_without_ever_touching_a_mouse(
    person, growers, beans, coordinator
):
    owl = person(coordinator, KEYS)
    year = timezone.localdate().year + 1
    owl.open("/", "Tarn Hollow Seed Library")
    owl.follow("Grow-outs", inside=owl.page.locator(".nav"))
    owl.follow("Open a season")
    owl.write("Year", str(year))
    owl.push("Save")
    owl.press(owl.page.get_by_role("checkbox", name="Tarn Kettle"))
    owl.push("Renew them in this season")
    owl.reads("1 variety chosen.")
    season = Season.objects.get()
    for grower in growers.values():
        plots = [Room(garden=grower.gardens.get(), room_m2=40)]
        offer_gardens(
            season=season,
            member=grower,
            gardens=plots,
            most=2,
            on=timezone.localdate(),
            by=grower,
        )

    owl.follow(str(year), inside=owl.page.locator(".crumbs"))
    owl.push("Work out a plan")
    owl.page.wait_for_url("**/grow-outs/plans/*/")
    work_on(claim_next(worker="a test"))
    owl.page.reload()
    owl.reads("Who grows what", "Tarn Kettle")
    owl.press(owl.page.locator("summary", has_text="Why this grower?").first)
    owl.push("Ask for all 2 that are open")

    owl.reads("2 offers were sent.")
    assert Commitment.objects.filter(state=State.OFFERED).count() == 2
