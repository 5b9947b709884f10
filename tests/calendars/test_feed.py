"""What a calendar tells, and how it follows what is due: read back with icalendar, and held to
RFC 5545 by a validator of our own.
"""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.core.cache import cache
from icalendar import Calendar

from accounts.services import add_garden, leave
from library.calendars.models import Entry, Feed
from library.calendars.services import (
    CANCELLED_FOR,
    bring_up_to_date,
    choose,
    make_feed,
    revoke_feed,
)
from library.errors import NotAllowed
from library.lending.services import lend_packet
from tests.calendars.conftest import TODAY
from tests.calendars.rfc5545 import complaints

pytestmark = pytest.mark.django_db

NOW = dt.datetime(2026, 3, 10, 9, tzinfo=dt.UTC)
LATER = dt.timedelta(minutes=6)  # longer than one comparison holds
HOSTILE = 'Pole bean "Ätna"; a,b\\n\r\nBEGIN:VEVENT\x07\x00 ' + "ümlaut " * 40


@pytest.fixture(autouse=True)
def fresh():
    cache.clear()


@pytest.fixture
def read(client, address):
    """``read(member, at=…)`` is the calendar as icalendar reads it, of one kept address."""
    addresses: dict = {}

    def fetch(member, at=NOW):
        if member.pk not in addresses:
            addresses[member.pk] = address(member)
        with time_machine.travel(at, tick=False):
            answer = client.get(addresses[member.pk])
        assert answer.status_code == 200
        assert complaints(answer.content) == []
        return Calendar.from_ical(answer.content)

    return fetch


def parts(calendar) -> list:
    return calendar.walk("VEVENT") + calendar.walk("VTODO")


def test_a_thing_that_is_due_stands_on_its_day_and_leads_to_where_it_is_done(
    read, due_items, make_item, member, settings
):
    settings.SITE_URL = "https://seed.example.org"
    due_items.append(make_item(member, title=HOSTILE, detail="Because; of\r\nthe frost"))

    (event,) = parts(read(member))

    assert event["DTSTART"].dt == TODAY + dt.timedelta(days=7)
    assert event["DTEND"].dt == TODAY + dt.timedelta(days=8)
    assert str(event["SUMMARY"]) == HOSTILE.replace("\r\n", "\n").replace("\x07\x00", "")[:250]
    assert event["URL"] == "https://seed.example.org/loans/1/"
    assert str(event["DESCRIPTION"]) == (
        "Because; of\nthe frost\n\nhttps://seed.example.org/loans/1/"
    )
    assert (event["SEQUENCE"], event["STATUS"], event["TRANSP"]) == (
        0,
        "CONFIRMED",
        "TRANSPARENT",
    )


def test_it_keeps_its_uid_when_it_moves_and_says_that_it_changed(
    read, due_items, make_item, member
):
    due_items.append(make_item(member))
    (before,) = parts(read(member))

    due_items[:] = [make_item(member, due_on=TODAY + dt.timedelta(days=20))]
    (moved,) = parts(read(member, NOW + LATER))
    (same,) = parts(read(member, NOW + 2 * LATER))

    assert moved["UID"] == before["UID"] == same["UID"]
    assert moved["DTSTART"].dt == TODAY + dt.timedelta(days=20)
    assert [e["SEQUENCE"] for e in (before, moved, same)] == [0, 1, 1]
    assert moved["LAST-MODIFIED"].dt == same["DTSTAMP"].dt == NOW + LATER
    assert moved["CREATED"].dt == NOW


def test_done_is_cancelled_then_gone_and_undone_is_there_again(
    read, due_items, make_item, member
):
    due_items.append(make_item(member))
    (before,) = parts(read(member))

    due_items.clear()
    (cancelled,) = parts(read(member, NOW + LATER))
    due_items.append(make_item(member))
    (again,) = parts(read(member, NOW + 2 * LATER))
    due_items.clear()
    read(member, NOW + 3 * LATER)
    empty = read(member, NOW + CANCELLED_FOR + 5 * LATER)

    assert (cancelled["STATUS"], cancelled["SEQUENCE"]) == ("CANCELLED", 1)
    assert (again["STATUS"], again["SEQUENCE"]) == ("CONFIRMED", 2)
    assert {cancelled["UID"], again["UID"]} == {before["UID"]}
    assert parts(empty) == []


def test_as_tasks_it_is_the_same_under_other_uids(read, due_items, make_item, member):
    due_items.append(make_item(member))
    (event,) = parts(read(member))

    choose(member=member, style=Feed.Style.TASKS, with_role=True)
    (task,) = parts(read(member))
    due_items.clear()
    (ended,) = parts(read(member, NOW + LATER))

    assert (task.name, task["STATUS"]) == ("VTODO", "NEEDS-ACTION")
    assert task["DUE"].dt == event["DTSTART"].dt
    assert task["UID"] == ended["UID"] != event["UID"]
    assert ended["STATUS"] == "CANCELLED"


def test_everybody_has_a_calendar_of_their_own(read, due_items, make_item, member, coordinator):
    due_items += [
        make_item(member),
        make_item(coordinator, subject="lending.Loan:2"),
        make_item(None, subject="stock.Lot:3", kind="retest", role="coordinator"),
    ]

    members, coordinators = parts(read(member)), parts(read(coordinator))

    assert len(members) == 1
    assert len(coordinators) == 2
    assert not {e["UID"] for e in members} & {e["UID"] for e in coordinators}
    choose(member=coordinator, style="events", with_role=False)
    statuses = sorted(e["STATUS"] for e in parts(read(coordinator)))
    assert statuses == ["CANCELLED", "CONFIRMED"]


def test_a_coordinator_who_is_one_no_longer_reads_no_more_of_it(
    read, due_items, make_item, coordinator
):
    due_items.append(make_item(None, kind="retest", role="coordinator"))
    assert parts(read(coordinator))[0]["STATUS"] == "CONFIRMED"

    coordinator.role = "member"
    coordinator.save()

    assert parts(read(coordinator, NOW + LATER))[0]["STATUS"] == "CANCELLED"


def test_much_of_a_role_on_one_day_is_one_entry_and_what_is_only_feared_is_none(
    read, due_items, make_item, coordinator
):
    due_items += [
        make_item(None, kind="retest", subject=f"lot:{n}", title=f"Retest {n}", role="desk")
        for n in range(1, 8)
    ]
    in_a_month, in_a_year = TODAY + dt.timedelta(days=30), TODAY + dt.timedelta(days=300)
    role = {"role": "coordinator", "kind": "growout-late"}
    due_items += [
        make_item(None, subject="m:1", due_on=in_a_month, remind_on=in_a_month, **role),
        make_item(None, subject="m:2", due_on=in_a_year, **role),
    ]

    (event,) = parts(read(coordinator))

    assert str(event["SUMMARY"]) == "Retest 1, and 6 more"
    assert str(event["DESCRIPTION"]).splitlines()[:7] == [f"Retest {n}" for n in range(1, 8)]
    assert event["URL"].endswith("/due/")


def test_an_empty_calendar_is_a_calendar(read, member):
    calendar = read(member)

    assert parts(calendar) == []
    assert calendar.get("METHOD") is None
    assert calendar["REFRESH-INTERVAL"].dt == dt.timedelta(hours=6)
    assert str(calendar["NAME"]) == "Seed library: what is due"


def test_what_the_apps_say_themselves_is_a_sound_calendar(
    client, address, make_packet, member, desk
):
    """The real hooks, in a zone ahead of UTC: the day is the due date wherever one reads it."""
    member.time_zone = "Pacific/Auckland"
    member.save()
    loan = lend_packet(packet=make_packet(), borrower=member, on=TODAY, by=desk)

    with time_machine.travel(NOW, tick=False):
        answer = client.get(address(member))

    assert complaints(answer.content) == []
    found = {str(e["URL"]): e for e in parts(Calendar.from_ical(answer.content))}
    assert {e["DTSTART"].dt for e in found.values()} >= {loan.due_on}
    assert all(url.endswith(f"/loans/{loan.pk}/") for url in found)


# Its address -----------------------------------------------------------------------------


def test_a_program_that_has_it_is_told_so(client, address, due_items, make_item, member):
    due_items.append(make_item(member))
    path = address(member)
    first = client.get(path)

    again = client.get(path, headers={"If-None-Match": first["ETag"]})
    due_items[:] = [make_item(member, title="Another")]
    Feed.objects.update(brought_up_at=None)
    changed = client.get(path, headers={"If-None-Match": first["ETag"]})

    assert (again.status_code, again.content) == (304, b"")
    assert again["ETag"] == first["ETag"]
    assert changed.status_code == 200
    assert first["Content-Type"] == "text/calendar; charset=utf-8"
    assert first["Cache-Control"] == "private, max-age=300"
    assert not first.cookies


def test_the_secret_is_not_kept_and_a_new_one_or_none_ends_the_old(client, address, member):
    old = address(member)
    secret = old.split("/")[2]
    kept = str(list(Feed.objects.values()))
    assert secret not in kept

    new = address(member)
    statuses = [client.get(path).status_code for path in (old, new)]
    revoked = revoke_feed(member=member), revoke_feed(member=member)

    assert statuses == [404, 200]
    assert revoked == (True, False)
    assert client.get(new).status_code == 404
    assert not Entry.objects.exists()


def test_who_left_has_no_calendar(client, address, due_items, make_item, member):
    due_items.append(make_item(member))
    path = address(member)
    assert client.get(path).status_code == 200

    leave(member=member, by=member)

    assert client.get(path).status_code == 404
    assert not Feed.objects.exists()
    assert not Entry.objects.exists()


def test_who_is_no_longer_a_member_reads_nothing(client, address, member):
    path = address(member)

    member.membership = "declined"
    member.save()

    assert client.get(path).status_code == 404


def test_it_is_compared_only_every_few_minutes_and_by_one_of_two_readers(
    due_items, make_item, member, feed_for
):
    feed, same = feed_for(member), Feed.objects.get(member=member)
    due_items.append(make_item(member))

    compared = [
        bring_up_to_date(feed=feed, now=NOW),
        bring_up_to_date(feed=same, now=NOW),  # read before the first wrote
        bring_up_to_date(feed=feed, now=NOW + dt.timedelta(minutes=4)),
        bring_up_to_date(feed=feed, now=NOW + dt.timedelta(minutes=5)),
    ]

    assert compared == [True, False, False, True]
    assert Entry.objects.get().sequence == 0


def test_reading_too_often_is_refused_for_a_minute(client, address, member):
    path = address(member)

    statuses = [client.get(path).status_code for _ in range(31)]

    assert statuses == [200] * 30 + [429]
    assert client.get(path)["Retry-After"] == "60"


@pytest.mark.parametrize("things", [1, 6])
def test_a_reading_asks_as_much_for_one_thing_as_for_six(
    client, address, due_items, make_item, member, things, django_assert_num_queries
):
    due_items += [make_item(member, subject=f"lending.Loan:{n}") for n in range(things)]
    path = address(member)
    client.get(path)

    with django_assert_num_queries(4):
        client.get(path)


def test_nobody_elses_email_or_place_is_in_a_coordinators_calendar(
    client, address, coordinator, make_member, make_packet, desk
):
    """Applications, loans and deposits of somebody with an address, told by the real hooks."""
    other = make_member("starling")
    add_garden(member=other, by=other, name="by the mill", latitude="54.46", longitude="-3.02")
    lend_packet(packet=make_packet(), borrower=other, on=TODAY, by=desk)

    with time_machine.travel(NOW + dt.timedelta(days=60), tick=False):
        text = client.get(address(coordinator)).content.decode().replace("\r\n ", "")

    for secret in (other.email, "54.46", "-3.02", "by the mill"):
        assert secret not in text
    assert "BEGIN:V" in text


def test_only_a_member_can_make_one(applicant):
    with pytest.raises(NotAllowed):
        make_feed(member=applicant)
