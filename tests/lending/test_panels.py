"""What lending adds to the pages of lots, packets, varieties, the home page and the bench."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import AnonymousUser
from django.test import RequestFactory

from library.hooks import panels_for
from library.lending import panels, services
from library.stock.services import withhold
from tests.lending.conftest import TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def asked():
    """``asked(member)`` is a request of that person; of nobody without one."""

    def request(who=None):
        made = RequestFactory().get("/")
        made.user = who or AnonymousUser()
        return made

    return request


@pytest.mark.parametrize(
    ("place", "how_many"),
    [("lot", 1), ("packet", 2), ("variety", 1), ("home", 1), ("bench", 1), ("pack", 1)],
)
def test_every_place_has_its_panels_once(place, how_many):
    ours = [panel for panel in panels_for(place) if panel.template.startswith("lending/")]

    assert len(ours) == how_many


def test_a_lot_offers_its_packets_to_a_member(asked, member, packet):
    known = panels.lot_panel(asked(member), packet.lot)

    assert (known["packets"], known["why_not"], known["at_desk"]) == ([packet], "", False)


def test_a_lot_says_why_it_cannot_be_borrowed(asked, member, packet, coordinator):
    withhold(lot=packet.lot, reason="it crossed", by=coordinator)

    known = panels.lot_panel(asked(member), packet.lot)

    assert known["why_not"] == f"Lot {packet.lot.number} is withheld; choose another lot."


def test_a_coordinator_still_gets_the_button_of_a_held_lot(
    asked, coordinator, make_packet, variety
):
    packet = make_packet(variety, awaits_first_test=True)

    assert panels.lot_panel(asked(coordinator), packet.lot)["why_not"] == ""


def test_nobody_gets_the_button_of_the_reserve(asked, coordinator, make_packet, variety):
    packet = make_packet(variety, seeds=30)

    why_not = panels.lot_panel(asked(coordinator), packet.lot)["why_not"]

    assert why_not.startswith("What is here is the reserve")


def test_a_stranger_is_asked_to_sign_in(asked, packet):
    known = panels.packet_panel(asked(), packet)

    assert (known["signed_in"], known["why_not"]) == (False, "")


def test_a_lot_without_packets_has_no_panel(asked, member, make_lot):
    assert panels.lot_panel(asked(member), make_lot()) is None


def test_the_loan_of_a_packet_is_shown_to_those_who_may_see_it(
    asked, loan, member, other_member, desk
):
    loan.packet.refresh_from_db()

    shown = [panels.packet_panel(asked(who), loan.packet) for who in (member, desk)]

    assert shown == [{"loan": loan}, {"loan": loan}]
    assert panels.packet_panel(asked(other_member), loan.packet) is None
    assert panels.packet_panel(asked(), loan.packet) is None


def test_a_variety_shows_one_packet_of_each_lot_that_can_be_borrowed(
    asked, member, variety, make_lot
):
    first = make_lot(variety, packets=3)
    second = make_lot(variety, packets=2)
    make_lot(variety, packets=2, awaits_first_test=True)

    known = panels.variety_panel(asked(member), variety)

    assert {packet.lot for packet in known["packets"]} == {first, second}
    assert len(known["packets"]) == 2


@pytest.mark.parametrize(
    ("lot", "sentence"),
    [
        ({"packets": 0}, "No packet of it is on the shelf."),
        (
            {"packets": 1, "awaits_first_test": True},
            "What is here waits for its first germination test.",
        ),
        (
            {"packets": 1, "seeds": 30},
            "What is here is the reserve: seed from which the library would regrow it.",
        ),
    ],
)
def test_a_variety_says_why_nothing_can_be_borrowed(
    asked, member, variety, make_lot, lot, sentence
):
    make_lot(variety, **lot)

    assert panels.variety_panel(asked(member), variety)["why_not"] == sentence


def test_home_tells_the_desk_what_waits(asked, desk, member, variety):
    services.propose_deposit(depositor=member, on=TODAY, variety=variety)

    known = panels.home_panel(asked(desk))

    assert (known["deposits"], known["returns"], known["to_hand_over"]) == (1, 0, 0)


def test_home_tells_nobody_else_of_the_desk(asked, applicant, member):
    assert panels.home_panel(asked()) is None
    assert panels.home_panel(asked(applicant)) is None
    assert panels.home_panel(asked(member)) is None


def test_the_bench_shows_what_waits_to_those_who_receive_it(
    asked, coordinator, member, variety
):
    deposit = services.propose_deposit(depositor=member, on=TODAY, variety=variety)

    assert panels.bench_panel(asked(coordinator))["deposits"] == [deposit]
    assert panels.bench_panel(asked(member)) is None


def test_the_panels_are_drawn_on_the_pages_of_the_stock(client, member, packet):
    client.force_login(member)
    address = f"/loans/new/?packet={packet.code}"

    pages = [
        client.get(place.get_absolute_url()).content.decode()
        for place in (packet.lot, packet.lot.variety)
    ] + [client.get(f"/packets/{packet.code}/").content.decode()]

    assert [address in page for page in pages] == [True] * 3


@pytest.mark.parametrize("how_many", [1, 6])
def test_a_varietys_panel_costs_the_same_however_many_lots(
    asked, member, variety, make_lot, how_many, django_assert_num_queries
):
    for _ in range(how_many):
        make_lot(variety, packets=2)
    panels.variety_panel(asked(member), variety)  # writes the rows of the rules

    with django_assert_num_queries(5):
        known = panels.variety_panel(asked(member), variety)

    assert len(known["packets"]) == how_many
