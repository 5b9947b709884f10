"""A member makes the address of a calendar, copies it, and revokes it."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from library.lending.services import lend_packet
from tests.calendars.rfc5545 import complaints

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_an_address_is_made_copied_read_and_revoked(
    page_at, width, member, desk, make_packet, axe, fits, snap
):
    packet = make_packet()
    lend_packet(packet=packet, borrower=member, on=packet.lot.received_on, by=desk)
    page = page_at(width, member=member)
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.goto("/account/me/")
    page.get_by_role("link", name="Have it in your calendar").click()
    snap(page, f"calendar-none-{width}")

    page.get_by_role("button", name="Make an address").click()
    snap(page, f"calendar-made-{width}")
    fits(page)
    axe(page)
    page.get_by_role("button", name="Copy").click()
    expect(page.get_by_role("button", name="Copied.")).to_be_visible()
    address = page.evaluate("navigator.clipboard.readText()")
    path = address[address.index("/calendar/") :]
    read = page.context.request.get(path)

    page.goto("/account/me/calendar/")
    expect(page.get_by_label("Address of your calendar")).to_have_count(0)
    page.get_by_label("as tasks").check()
    page.get_by_role("button", name="Save").click()
    as_tasks = page.context.request.get(path)
    snap(page, f"calendar-kept-{width}")
    page.get_by_role("button", name="Revoke the address").click()
    expect(page.get_by_text("The address leads nowhere any more.")).to_be_visible()

    assert complaints(read.body()) == complaints(as_tasks.body()) == []
    assert "BEGIN:VEVENT" in read.text()
    assert "BEGIN:VTODO" in as_tasks.text()
    assert page.context.request.get(path).status == 404
