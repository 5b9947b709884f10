"""How people want to be told: each alone or gathered, quiet hours, kinds that are stopped."""

from __future__ import annotations

import datetime as dt
import re
import threading
import zoneinfo
from email import message_from_bytes, policy
from types import SimpleNamespace
from urllib.parse import urlsplit

import pytest
import time_machine
from django.db import connection, connections

from accounts.models import Member
from accounts.services import leave
from library.errors import Conflict, NotAllowed, Refused
from library.hooks import DueKind
from library.outbox.models import Message
from library.outbox.services import deliver_next, sweep
from library.reminders import due, queueing
from library.reminders.choosing import save_wishes, send_again, stop_kind
from library.reminders.models import Reminder, Wishes
from library.reminders.services import plan_reminders
from library.reminders.wishes import first_moment, wants

pytestmark = pytest.mark.django_db

TODAY = dt.date(2026, 3, 10)  # a Tuesday
DAY = dt.timedelta(days=1)
NOON = dt.datetime(2026, 3, 10, 12, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOON, tick=False) as clock:
        yield clock


@pytest.fixture(autouse=True)
def declared(monkeypatch):
    """What the apps would declare."""
    kinds = [
        DueKind("loan", "Seed to give back", promised=True, escalates_after=45 * DAY),
        DueKind("collect", "Packets to collect"),
    ]
    monkeypatch.setattr(due, "kinds", lambda: {kind.name: kind for kind in kinds})


def mails(mailbox) -> list[SimpleNamespace]:
    """What the server took, read: its headers and its text."""
    read = [
        message_from_bytes(mail.content, policy=policy.default) for mail in mailbox.received
    ]
    return [
        SimpleNamespace(message=one, text=one.get_body(["plain"]).get_content()) for one in read
    ]


# Digests ----------------------------------------------------------------------------------
def test_a_digest_says_all_of_a_day_in_one_mail(member, make_item, due_items, mailbox, clock):
    save_wishes(member=member, rhythm="daily")
    due_items += [make_item(member, subject=f"a:{n}", title=f"thing {n}") for n in range(3)]
    clock.move_to(NOON.replace(hour=6))
    assert plan_reminders() == 0  # before the morning it is only gathered

    clock.move_to(NOON.replace(hour=7))
    assert [plan_reminders(), plan_reminders()] == [1, 0]

    sweep(worker="w")
    (mail,) = mails(mailbox)
    assert [n for n in range(3) if f"thing {n}" in mail.text] == [0, 1, 2]
    assert mail.message["Subject"].endswith("3 things are due")
    assert set(Reminder.objects.values_list("message", flat=True)) == {Message.objects.get().pk}


def test_what_is_done_before_the_digest_goes_is_not_in_it(
    member, make_item, due_items, mailbox
):
    save_wishes(member=member, rhythm="daily")
    due_items += [make_item(member, subject=f"a:{n}", title=f"thing {n}") for n in range(2)]
    plan_reminders()
    del due_items[0]

    sweep(worker="w")

    (mail,) = mails(mailbox)
    assert "thing 0" not in mail.text
    assert "thing 1" in mail.text
    assert [row.state for row in Reminder.objects.order_by("subject")] == ["withdrawn", "sent"]


def test_a_digest_of_which_all_is_done_is_not_sent(member, make_item, due_items, mailbox):
    save_wishes(member=member, rhythm="daily")
    due_items.append(make_item(member))
    plan_reminders()
    due_items.clear()

    sweep(worker="w")

    assert mailbox.received == []


def test_a_weekly_digest_goes_on_monday_and_a_missed_monday_is_made_good(
    member, make_item, due_items, clock
):
    save_wishes(member=member, rhythm="weekly")
    due_items.append(make_item(member))
    sent = []
    for days in range(7):  # Tuesday to Monday
        clock.move_to(NOON + days * DAY)
        sent.append(plan_reminders())
    assert sent == [0, 0, 0, 0, 0, 0, 1]

    due_items.append(make_item(member, subject="a:later"))
    clock.move_to(NOON + 8 * DAY)
    assert plan_reminders() == 0
    clock.move_to(NOON + 16 * DAY)  # the server slept from one Wednesday past the next
    assert plan_reminders() == 1


# Quiet hours ------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("zone", "now", "since", "until", "first"),
    [
        ("Europe/London", "2026-03-10T12:00Z", 21, 7, "2026-03-10T12:00Z"),
        ("Europe/London", "2026-03-10T22:30Z", 21, 7, "2026-03-11T07:00Z"),
        ("Europe/London", "2026-03-10T03:00Z", 21, 7, "2026-03-10T07:00Z"),
        ("Europe/London", "2026-03-10T12:30Z", 12, 14, "2026-03-10T14:00Z"),
        # The clock goes on in the night to 29 March, back in the night to 25 October.
        ("Europe/London", "2026-03-28T23:00Z", 21, 7, "2026-03-29T06:00Z"),
        ("Europe/London", "2026-10-24T21:00Z", 21, 7, "2026-10-25T07:00Z"),
        ("America/New_York", "2026-03-08T04:00Z", 21, 7, "2026-03-08T11:00Z"),
        ("America/New_York", "2026-11-01T03:00Z", 21, 7, "2026-11-01T12:00Z"),
        # An hour that the clock leaps over: the first moment after it.
        ("Europe/London", "2026-03-28T23:00Z", 21, 1, "2026-03-29T01:00Z"),
        ("Europe/London", "2027-12-31T23:00Z", 21, 7, "2028-01-01T07:00Z"),
        ("Europe/London", "2028-02-28T22:00Z", 21, 7, "2028-02-29T07:00Z"),
    ],
)
def test_mail_waits_for_the_end_of_quiet_hours(member, zone, now, since, until, first):
    member.time_zone = zone
    wishes = Wishes(member=member, quiet_from=since, quiet_until=until)

    assert first_moment(wishes, dt.datetime.fromisoformat(now)) == dt.datetime.fromisoformat(
        first
    )


def test_quiet_hours_hold_the_mail_back(member, make_item, due_items, mailbox, clock):
    save_wishes(member=member, rhythm="single", quiet_from=11, quiet_until=14)
    due_items.append(make_item(member))
    plan_reminders()
    sweep(worker="w")
    assert mailbox.received == []

    clock.move_to(NOON.replace(hour=14))
    sweep(worker="w")
    assert len(mailbox.received) == 1


# Days of each member's own ----------------------------------------------------------------
def test_today_is_the_members_own(member, other_member, make_item, due_items, clock):
    """At noon in London it is the next day in Auckland and still the day before in Honolulu
    ten hours earlier.
    """
    Member.objects.filter(pk=member.pk).update(time_zone="Pacific/Auckland")
    Member.objects.filter(pk=other_member.pk).update(time_zone="Pacific/Honolulu")
    due_items += [
        make_item(who, subject=f"a:{who.pk}", remind_on=TODAY + DAY)
        for who in (member, other_member)
    ]
    plan_reminders()
    assert [row.recipient for row in Reminder.objects.all()] == [member]

    clock.move_to(NOON + dt.timedelta(hours=22, minutes=1))  # one minute past ten in London
    plan_reminders()
    assert Reminder.objects.count() == 2


@pytest.mark.parametrize(
    ("zone", "first", "days"),
    [
        ("Europe/London", "2026-03-27", 4),  # the clock goes on on the 29th
        ("Europe/London", "2026-10-23", 4),  # and back on the 25th
        ("America/New_York", "2026-03-06", 4),  # on on the 8th
        ("America/New_York", "2026-10-30", 4),  # back on 1 November
        ("Europe/London", "2028-02-27", 4),
        ("America/New_York", "2026-12-30", 4),
    ],
)
def test_no_day_is_lost_or_doubled(member, make_item, due_items, clock, zone, first, days):
    """Just after and just before each midnight where the member is, over changed clocks, a leap
    day and a year's end: one mail for each day, on its day.
    """
    Member.objects.filter(pk=member.pk).update(time_zone=zone)
    place, start = zoneinfo.ZoneInfo(zone), dt.date.fromisoformat(first)
    due_items += [
        make_item(
            member, subject=f"a:{n}", remind_on=start + n * DAY, due_on=start + (n + 7) * DAY
        )
        for n in range(days)
    ]
    planned_on: dict[str, dt.date] = {}
    for n in range(-1, days):
        for at in (dt.time(0, 10), dt.time(23, 50)):
            clock.move_to(dt.datetime.combine(start + n * DAY, at, tzinfo=place))
            plan_reminders()
            for row in Reminder.objects.exclude(subject__in=planned_on):
                planned_on[row.subject] = start + n * DAY

    assert planned_on == {f"a:{n}": start + n * DAY for n in range(days)}
    assert Message.objects.count() == days


def test_a_server_asleep_for_a_week_says_each_thing_once(member, make_item, due_items, clock):
    due_items += [
        make_item(member, subject=f"a:{n}", remind_on=TODAY + n * DAY) for n in range(7)
    ]
    clock.move_to(NOON + 8 * DAY)

    assert [plan_reminders(), plan_reminders()] == [7, 0]


# Stopping ---------------------------------------------------------------------------------
def letter_about(kind, member, make_item, due_items, mailbox):
    due_items[:] = [make_item(member, kind=kind, subject=f"{kind}:1")]
    plan_reminders()
    sweep(worker="w")
    return mails(mailbox)[-1]


def test_one_click_stops_one_kind(member, make_item, due_items, mailbox, client):
    """RFC 8058: a POST to the address of List-Unsubscribe, without cookies, and it is done."""
    mail = letter_about("collect", member, make_item, due_items, mailbox)
    assert mail.message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    path = urlsplit(re.fullmatch(r"\s*<(.+)>", mail.message["List-Unsubscribe"])[1]).path
    assert client.get(path).status_code == 200
    assert wants(member, "collect")  # looking stops nothing: mail scanners look

    answer = client.post(path, {"List-Unsubscribe": "One-Click"})

    assert answer.status_code == 200
    member = Member.objects.get(pk=member.pk)
    assert not wants(member, "collect")
    due_items[:] = [make_item(member, kind="collect", subject="collect:2")]
    assert plan_reminders() == 0


def test_what_was_promised_has_no_one_click(member, make_item, due_items, mailbox):
    mail = letter_about("loan", member, make_item, due_items, mailbox)

    assert "List-Unsubscribe-Post" not in mail.message
    stop_kind(member=member, kind="loan")
    assert wants(Member.objects.get(pk=member.pk), "loan")
    with pytest.raises(Refused, match="promised"):
        save_wishes(member=member, rhythm="single", muted=["loan"])


def test_one_click_on_a_digest_leaves_only_what_was_promised(
    member, make_item, due_items, mailbox, client
):
    save_wishes(member=member, rhythm="daily")
    due_items[:] = [
        make_item(member, kind="collect", subject="a:1"),
        make_item(member, kind="loan", subject="a:2"),
    ]
    plan_reminders()
    sweep(worker="w")
    mail = mails(mailbox)[-1]
    assert mail.message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    path = urlsplit(re.fullmatch(r"\s*<(.+)>", mail.message["List-Unsubscribe"])[1]).path
    assert b"No more mail but of what you promised?" in client.get(path).content

    client.post(path, {"List-Unsubscribe": "One-Click"})

    member = Member.objects.get(pk=member.pk)
    stoppable = [kind.name for kind in due.kinds().values() if not kind.promised]
    assert stoppable
    assert not any(wants(member, name) for name in stoppable)
    assert wants(member, "loan")


def test_a_digest_of_promises_alone_has_no_one_click(member, make_item, due_items, mailbox):
    save_wishes(member=member, rhythm="daily")
    mail = letter_about("loan", member, make_item, due_items, mailbox)

    assert "List-Unsubscribe-Post" not in mail.message


def test_a_forged_or_old_link_leads_nowhere(member, client, make_item, due_items, mailbox):
    mail = letter_about("collect", member, make_item, due_items, mailbox)
    path = urlsplit(mail.message["List-Unsubscribe"].strip().strip("<>")).path
    forged = path.replace("collect", "deposit")[:-3] + "abc/"

    assert client.post(forged).status_code == 404
    leave(member=member, by=member)
    assert client.post(path).status_code == 404


def test_a_kind_stopped_after_planning_is_not_sent(member, make_item, due_items, mailbox):
    due_items[:] = [make_item(member, kind="collect", subject="collect:1")]
    plan_reminders()
    stop_kind(member=member, kind="collect")

    sweep(worker="w")

    assert mailbox.received == []


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"rhythm": "hourly"}, "no rhythm"),
        ({"quiet_from": 22}, "beginning and an end"),
        ({"quiet_from": 22, "quiet_until": 24}, "0 to 23"),
        ({"muted": ["moon"]}, "no kind"),
    ],
)
def test_wishes_that_cannot_be_are_refused(member, wrong, says):
    with pytest.raises(Refused, match=says):
        save_wishes(**{"member": member, "rhythm": "single"} | wrong)
    assert not Wishes.objects.exists()


# Escalation -------------------------------------------------------------------------------
def test_what_is_long_overdue_is_told_to_coordinators_once(
    member, coordinator, make_item, due_items, mailbox
):
    due_items.append(make_item(member, due_on=TODAY - 44 * DAY, remind_on=TODAY - 60 * DAY))
    plan_reminders()
    assert not coordinator.reminders.exists()

    plan_reminders(on=TODAY + DAY)
    plan_reminders(on=TODAY + 30 * DAY)

    (told,) = coordinator.reminders.all()
    assert (told.kind, told.due_on) == ("loan:late", TODAY + DAY)
    assert "wren" in told.title
    due_items.clear()
    sweep(worker="w")
    assert mailbox.received == []  # done meanwhile: neither is bothered


# In sight ---------------------------------------------------------------------------------
def test_a_refused_address_is_shown_to_coordinators_until_mail_arrives(
    member, coordinator, make_item, due_items, mailbox, client
):
    mailbox.answers[member.email] = "550 no such mailbox"
    due_items.append(make_item(member))
    plan_reminders()
    deliver_next(worker="w")
    client.force_login(coordinator)

    (reminder,) = Reminder.objects.of(member)
    assert reminder.state == "failed"
    page = client.get("/reminders/?state=failed").content.decode()
    assert "550" in page
    assert "refused this address" in client.get(f"/members/{member.pk}/").content.decode()

    del mailbox.answers[member.email]
    send_again(reminder=reminder, by=coordinator)
    deliver_next(worker="w")
    assert Reminder.objects.get().state == "sent"
    assert "refused this address" not in client.get(f"/members/{member.pk}/").content.decode()


def test_a_coordinator_sends_again_and_nobody_else(
    member, coordinator, make_item, due_items, mailbox
):
    due_items.append(make_item(member))
    plan_reminders()
    reminder = Reminder.objects.get()
    with pytest.raises(Conflict, match="on its way"):
        send_again(reminder=reminder, by=coordinator)
    sweep(worker="w")
    with pytest.raises(NotAllowed):
        send_again(reminder=reminder, by=member)

    send_again(reminder=reminder, by=coordinator)
    sweep(worker="w")

    assert len(mailbox.received) == 2
    first, second = (mail.message["Message-ID"] for mail in mails(mailbox))
    assert first != second
    due_items.clear()
    send_again(reminder=reminder, by=coordinator)
    sweep(worker="w")
    assert len(mailbox.received) == 2  # it is done now


def test_a_member_sees_what_they_were_sent_and_chooses(
    member, other_member, make_item, due_items, client
):
    due_items += [make_item(member), make_item(other_member, title="not mine")]
    plan_reminders()
    client.force_login(member)

    page = client.get("/account/reminders/").content.decode()
    assert "Bring back seed of Tarn Kettle" in page
    assert "not mine" not in page
    sent = {"rhythm": "daily", "quiet_from": "21", "quiet_until": "7", "muted": ["collect"]}
    assert client.post("/account/reminders/", sent).status_code == 302
    wishes = Wishes.objects.get()
    assert (wishes.member, wishes.rhythm, wishes.quiet_from) == (member, "daily", 21)
    assert client.post("/account/reminders/", sent | {"quiet_until": ""}).status_code == 400


def test_who_leaves_is_forgotten(member, make_item, due_items):
    save_wishes(member=member, rhythm="daily")
    due_items.append(make_item(member))
    plan_reminders()

    leave(member=member, by=member)

    assert not Reminder.objects.exists()
    assert not Wishes.objects.exists()


def test_what_coordinators_were_told_keeps_no_name_of_who_left(
    member, other_member, coordinator, make_item, due_items
):
    late = {"due_on": TODAY - 60 * DAY, "remind_on": TODAY - 60 * DAY}
    due_items += [make_item(member, **late), make_item(other_member, subject="a:2", **late)]
    plan_reminders(on=TODAY)
    name = member.display_name

    leave(member=member, by=member)

    told = list(coordinator.reminders.order_by("pk").values_list("title", flat=True))
    assert [name in title for title in told] == [False, False]
    assert sum(other_member.display_name in title for title in told) == 1
    assert not Message.objects.filter(subject__contains=name).exists()


# At the same moment -----------------------------------------------------------------------
@pytest.fixture
def gathering(transactional_db, member, make_item, due_items):
    save_wishes(member=member, rhythm="daily")
    due_items += [make_item(member, subject=f"a:{n}") for n in range(20)]


def plan_at_once(count: int) -> None:
    start = threading.Barrier(count)
    failures = []

    def plan():
        start.wait()
        try:
            plan_reminders(on=TODAY)
        except Exception as error:
            failures.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=plan) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []


def test_four_planners_gather_one_digest(gathering):
    plan_at_once(4)

    assert Message.objects.count() == 1
    assert Reminder.objects.filter(message__isnull=False).count() == 20


@pytest.mark.skipif(connection.vendor != "postgresql", reason="needs real concurrency")
@pytest.mark.postgres
def test_control_without_the_guards_digests_are_doubled(gathering, monkeypatch):
    together, keys = threading.Barrier(4, timeout=10), iter(range(1000))
    monkeypatch.setattr(queueing, "gathers_at", lambda *_: together.wait() >= 0)
    real = queueing.queue_mail

    def another_key(*, message_key, **facts):
        return real(message_key=f"{message_key}:{next(keys)}", **facts)

    def unguarded(rows, at):
        queueing.gathers_at(None, at)
        letter = queueing.write_digest(rows[0].recipient, rows, language="en")
        another_key(to=rows[0].recipient.email, message_key="digest", source="", **letter)
        return True

    monkeypatch.setattr(queueing, "_gather", unguarded)

    plan_at_once(4)

    assert Message.objects.count() > 1
