"""Who borrows a lot is told of the off-types that were reported, before sowing it."""

from __future__ import annotations

import datetime as dt

import pytest

from library.provenance.services import lift_report, report_off_types

SEEN = dt.date(2026, 4, 1)
TOLD = "Off-types were seen in this lot on 1 April 2026: pods of two colours"


@pytest.fixture
def report(member):
    def make(lot):
        return report_off_types(
            lot=lot, seen_on=SEEN, what="pods of two colours", by=member, on=SEEN
        )

    return make


def told(response) -> bool:
    return TOLD in " ".join(response.content.decode().split())


def test_on_the_page_on_which_it_is_borrowed(as_member, make_packet, report):
    packet = make_packet()
    assert not told(as_member.get(f"/loans/new/?packet={packet.code}"))

    report(packet.lot)

    assert told(as_member.get(f"/loans/new/?packet={packet.code}"))


def test_at_the_desk_before_the_button(as_desk, make_packet, report, member):
    packet = make_packet()
    report(packet.lot)

    page = as_desk.get(f"/loans/new/?packet={packet.code}&member={member.pk}")

    assert told(page)
    text = " ".join(page.content.decode().split())
    assert text.index(TOLD) < text.index('id="lend"')


def test_over_the_api(as_, member, make_packet, report):
    packet = make_packet()
    report(packet.lot)

    answer = as_(member).get(f"/api/loans/guidance/?packet={packet.code}")

    assert TOLD in answer.json()["warnings"]


def test_on_the_loan_that_is_out_and_in_ones_list_of_seed(
    as_member, lend, make_packet, report, coordinator
):
    loan = lend(make_packet())
    other = lend(make_packet())
    made = report(loan.packet.lot)

    assert told(as_member.get(loan.get_absolute_url()))
    assert not told(as_member.get(other.get_absolute_url()))
    listed = as_member.get("/my-seed/").content.decode()
    assert listed.count("Off-types were reported") == 1

    lift_report(report=made, reason="mislabelled", by=coordinator, on=SEEN)

    assert not told(as_member.get(loan.get_absolute_url()))
    assert "Off-types were reported" not in as_member.get("/my-seed/").content.decode()
