"""What the bench says on the page of a lot, and what is decided of one."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.formats import date_format

from library.germination import services
from library.germination.models import LotEstimate, PlannedSowing, ShelfDecision, TestDate
from library.germination.pictures.facts import Point
from library.germination.words import alive

pytestmark = pytest.mark.usefixtures("today")

START = dt.date(2025, 11, 1)
END = dt.date(2025, 11, 9)


def record(lot, desk, *normal):
    return services.record_test(
        lot=lot,
        replicates=[{"seeds": 50, "normal": n} for n in normal],
        started_on=START,
        closed_on=END,
        by=desk,
    )


def test_the_lot_page_says_when_it_is_tested_again_and_why(client, bean_lot, desk, text_of):
    record(bean_lot, desk, 45, 45)

    page = text_of(client.get(bean_lot.get_absolute_url()))

    date = TestDate.objects.get(lot=bean_lot)
    assert f"To be tested again by {date_format(date.due_on)}. {date.why}" in page
    assert date.source in page
    assert "Why this day?" in page


def test_the_lot_page_says_in_one_sentence_how_much_is_alive(client, bean_lot, desk, text_of):
    record(bean_lot, desk, 45, 45)

    page = text_of(client.get(bean_lot.get_absolute_url()))
    whole = text_of(client.get(reverse("lot-viability", args=[bean_lot.number])))

    told = re.search(
        r"About (\d+) of 100 seeds are alive today, between (\d+) and (\d+); (.+?) % sure to "
        r"be above the library's 70 %\.",
        page,
    )
    drawn = re.search(
        r"about (\d+) % of the seed is alive; nine times in ten the true share lies between "
        r"(\d+) and (\d+) %",
        whole,
    )
    assert told is not None
    assert drawn is not None
    assert told.groups()[:3] == drawn.groups()


def test_a_lot_just_received_is_spoken_of_before_anything_is_kept_of_it(
    client, bean_lot, text_of
):
    page = text_of(client.get(bean_lot.get_absolute_url()))

    assert not LotEstimate.objects.filter(lot=bean_lot).exists()
    assert "of 100 seeds are alive today" in page


@pytest.mark.parametrize(
    ("chance", "words"),
    [(99.99, "more than 99 % sure"), (0.01, "less than 1 % sure"), (100, "100 % sure")],
)
def test_a_chance_that_is_not_certain_is_not_called_so(today, chance, words):
    now = Point(on=today, low=50, median=60, high=70, chance=chance)

    assert words in alive(now, standard_percent=70)


def test_who_counts_on_a_lot_says_so_and_drops_it_again(as_desk, bean_lot, text_of):
    address = reverse("sowing-add", args=[bean_lot.number])

    answer = as_desk.post(address, {"on": "2026-04-20", "what_for": "the mill's grow-out"})
    page = text_of(as_desk.get(answer.url))
    sowing = PlannedSowing.objects.get()
    asked = text_of(as_desk.get(reverse("sowing-drop", args=[sowing.pk])))
    as_desk.post(reverse("sowing-drop", args=[sowing.pk]))

    assert "To be sown on 20 April 2026 for the mill's grow-out." in page
    assert "was to be sown on 20 April 2026 for: the mill's grow-out." in asked
    assert PlannedSowing.objects.count() == 0


def test_what_a_lot_is_wanted_for_is_for_the_desk(as_desk, client, bean_lot, member, text_of):
    as_desk.post(
        reverse("sowing-add", args=[bean_lot.number]),
        {"on": "2026-04-20", "what_for": "rook's new bed"},
    )
    client.force_login(member)

    assert "rook's new bed" not in text_of(client.get(bean_lot.get_absolute_url()))


@pytest.mark.parametrize(
    "fields",
    [
        {"on": "", "what_for": "the mill"},
        {"on": "spring", "what_for": "the mill"},
        {"on": "2026-04-20", "what_for": ""},
        {"on": "2026-04-20", "what_for": "x" * 121},
        {"on": "2025-01-01", "what_for": "the mill"},
    ],
)
def test_a_sowing_that_cannot_be_is_said_and_not_kept(as_desk, bean_lot, fields):
    answer = as_desk.post(reverse("sowing-add", args=[bean_lot.number]), fields)

    assert answer.status_code == 400
    assert len(answer.context["form"].errors) == 1
    assert PlannedSowing.objects.count() == 0


@pytest.fixture
def poor_lot(make_lot, variety, desk):
    """A lot of which so little sprouts that it should be regrown."""
    lot = make_lot(variety, seeds=2000)
    record(lot, desk, 20, 22)
    return lot


def test_a_poor_lot_is_flagged_and_goes_on_being_lent_until_a_coordinator_decides(
    client, poor_lot, member, coordinator, text_of
):
    client.force_login(member)
    for_member = text_of(client.get(poor_lot.get_absolute_url()))
    client.force_login(coordinator)
    for_coordinator = text_of(client.get(poor_lot.get_absolute_url()))

    sentence = "It goes on being lent until a coordinator decides."
    question = "Keep lending it, or take it off the shelf?"
    assert (sentence in for_member, question in for_member) == (True, False)
    assert (sentence in for_coordinator, question in for_coordinator) == (True, True)


@pytest.mark.parametrize(("decision", "withheld"), [("keep", False), ("withhold", True)])
def test_the_coordinator_decides_with_a_reason(
    as_coordinator, poor_lot, text_of, decision, withheld
):
    answer = as_coordinator.post(
        reverse("lot-shelf", args=[poor_lot.number]),
        {"decision": decision, "reason": "the only lot there is"},
    )

    made = ShelfDecision.objects.get()
    poor_lot.refresh_from_db()
    assert answer.url == poor_lot.get_absolute_url()
    assert (made.decision, made.reason) == (decision, "the only lot there is")
    assert bool(poor_lot.withheld_reason) is withheld
    assert made.get_decision_display() in text_of(as_coordinator.get(answer.url))


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"decision": "", "reason": "old"}, "decision"),
        ({"decision": "burn", "reason": "old"}, "decision"),
        ({"decision": "keep", "reason": ""}, "reason"),
        ({"decision": "keep", "reason": "  "}, "reason"),
    ],
)
def test_a_decision_needs_both_its_parts(as_coordinator, poor_lot, fields, field):
    answer = as_coordinator.post(reverse("lot-shelf", args=[poor_lot.number]), fields)

    assert answer.status_code == 400
    assert list(answer.context["form"].errors) == [field]
    assert ShelfDecision.objects.count() == 0


def queries_for(client, address):
    client.get(address)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def test_a_lot_page_costs_the_same_with_one_test_and_with_six(
    as_desk, bean_lot, desk, coordinator
):
    def fill(n):
        record(bean_lot, desk, 45, 44)
        services.expect_sowing(
            lot=bean_lot, on=dt.date(2026, 4, n), what_for=f"bed {n}", by=desk
        )

    fill(1)
    one = queries_for(as_desk, bean_lot.get_absolute_url())
    for n in range(2, 7):
        fill(n)

    assert queries_for(as_desk, bean_lot.get_absolute_url()) == one
