"""A member chooses how to be reminded, a link stops a kind, a coordinator sends again."""

from __future__ import annotations

import datetime as dt
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from accounts.models import Member
from library.lending.services import lend_packet
from library.outbox.models import Message
from library.outbox.services import sweep
from library.reminders.services import plan_reminders
from library.reminders.stopping import stop_link
from library.reminders.wishes import wants

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def reminded(member, desk, make_packet) -> None:
    """A packet that the member chose a fortnight ago and did not collect; its mail went."""
    packet = make_packet()
    lent_on = dt.date.today() - dt.timedelta(days=14)  # noqa: DTZ011
    lend_packet(packet=packet, borrower=member, on=lent_on, by=member)
    plan_reminders()
    sweep(worker="w")


def test_a_member_chooses_and_sees_what_was_sent(
    reminded, page_at, width, member, axe, fits, snap
):
    page = page_at(width, member=member)
    page.goto("/due/")
    expect(page.get_by_text("waits at the desk").first).to_be_visible()
    page.goto("/account/reminders/")
    snap(page, f"reminders-wishes-{width}")
    fits(page)
    axe(page)
    expect(page.get_by_role("row").filter(has_text="waits at the desk")).to_contain_text("sent")

    page.get_by_label("all of a day in one mail, in the morning").check()
    page.get_by_label("No mail from").select_option("22")
    page.get_by_role("button", name="Save").click()
    expect(
        page.get_by_role("link", name="Quiet hours need a beginning and an end.")
    ).to_be_visible()
    expect(page.get_by_label("No mail from")).to_have_value("22")
    page.get_by_label("Until").select_option("7")
    page.get_by_role("button", name="Save").click()

    expect(page.get_by_text("Saved.")).to_be_visible()
    wishes = Member.objects.get(pk=member.pk).reminder_wishes
    assert (wishes.rhythm, wishes.quiet_from, wishes.quiet_until) == ("daily", 22, 7)


def test_the_link_of_a_mail_stops_its_kind_without_signing_in(
    page_at, width, member, axe, fits
):
    page = page_at(width)
    page.goto(urlsplit(stop_link(member, "collect")).path)
    fits(page)
    axe(page)
    assert wants(Member.objects.get(pk=member.pk), "collect")

    page.get_by_role("button", name="Stop it").click()

    expect(page.get_by_text("You get no more mail of this kind")).to_be_visible()
    assert not wants(Member.objects.get(pk=member.pk), "collect")


def test_a_coordinator_sees_what_failed_and_sends_it_again(
    reminded, page_at, width, coordinator, axe, fits, snap
):
    sent = Message.objects.filter(source__startswith="reminder:")
    refusal = "SMTPRecipientsRefused: 550 no such mailbox"
    sent.update(sent_at=None, failed_at=dt.datetime.now(dt.UTC), last_error=refusal)
    page = page_at(width, member=coordinator)
    page.goto("/reminders/?state=failed")
    snap(page, f"reminders-failed-{width}")
    fits(page)
    axe(page)
    expect(page.get_by_text("550 no such mailbox")).to_be_visible()

    page.get_by_role("button", name="Send again").click()

    expect(page.get_by_text("It is sent again.")).to_be_visible()
    assert sweep(worker="w") == 1
    assert sent.get().sent_at is not None
