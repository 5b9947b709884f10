"""Delivering mail to a real SMTP server, with its answers, good and bad."""

from __future__ import annotations

import datetime as dt
import email
import smtplib
import socket

import pytest
import time_machine
from django.utils import timezone

from library.outbox import sources
from library.outbox.delivery import Outcome, meaning
from library.outbox.models import Message
from library.outbox.services import (
    CLAIM_LASTS,
    MOST_ATTEMPTS,
    deliver,
    deliver_next,
    forget_old_mail,
    hand_back,
    hand_back_stale,
    sweep,
    try_again,
    wait_after,
)
from library.outbox.tasks import deliver_mail, sweep_outbox

pytestmark = pytest.mark.django_db


def test_a_mail_arrives_with_its_words_and_is_marked_sent(mailbox, write):
    message = write(html="<p>Bring seed.</p>")

    handled = deliver_next(worker="w")

    message.refresh_from_db()
    letter = email.message_from_bytes(mailbox.received[0].content)
    parts = [p.get_payload().strip() for p in letter.walk() if not p.is_multipart()]
    assert handled is True
    assert mailbox.received[0].to == ["wren@example.org"]
    assert letter["Subject"] == "Due"
    assert parts == ["Bring seed.", "<p>Bring seed.</p>"]
    assert message.sent_at is not None


def test_a_delivered_mail_is_forgotten_here(mailbox, write):
    message = write(html="<p>secret link</p>")

    deliver_next(worker="w")

    message.refresh_from_db()
    assert (message.text, message.html) == ("", "")


def test_every_attempt_carries_the_same_message_id(mailbox, write):
    mailbox.answers["DATA"] = "451 try later"
    message = write()
    deliver_next(worker="w")
    Message.objects.update(not_before=message.created_at)

    deliver_next(worker="w")

    ids = [email.message_from_bytes(m.content)["Message-ID"] for m in mailbox.received]
    assert len(ids) == 2
    assert len(set(ids)) == 1


def test_a_mail_carries_no_x_headers_and_asks_machines_not_to_answer(mailbox, write):
    write()

    deliver_next(worker="w")

    letter = email.message_from_bytes(mailbox.received[0].content)
    assert [name for name in letter if name.lower().startswith("x-")] in ([], ["X-Peer"])
    assert letter["Auto-Submitted"] == "auto-generated"


def test_nothing_ready_is_nothing_handled(mailbox, db):
    assert deliver_next(worker="w") is False


def test_a_mail_waits_for_its_time(mailbox, write):
    write(not_before=timezone.now() + dt.timedelta(hours=1))

    assert deliver_next(worker="w") is False
    with time_machine.travel(timezone.now() + dt.timedelta(hours=2)):
        assert deliver_next(worker="w") is True


def test_an_address_refused_for_good_is_given_up(mailbox, write):
    mailbox.answers["wren@example.org"] = "550 no such mailbox"
    message = write()

    deliver_next(worker="w")

    message.refresh_from_db()
    assert message.failed_at is not None
    assert message.attempts == 1
    assert "550" in message.last_error


def test_a_passing_refusal_waits_longer_each_time(mailbox, write):
    mailbox.answers["wren@example.org"] = "450 mailbox busy"
    message = write()
    start = timezone.now()

    waits = []
    for _attempt in range(3):
        Message.objects.update(not_before=start - dt.timedelta(minutes=1))
        before = timezone.now()
        deliver_next(worker="w")
        message.refresh_from_db()
        waits.append((message.not_before - before).total_seconds() / 60)

    # Twice as long each time, and up to a quarter more, so that not all come back together.
    for wait, least in zip(waits, (1, 2, 4), strict=True):
        assert least <= wait <= least * 1.25 + 0.1
    assert message.failed_at is None
    assert message.claimed_at is None


def test_waits_stop_growing_at_six_hours():
    assert [wait_after(n) for n in (1, 10, MOST_ATTEMPTS)] == [
        dt.timedelta(minutes=1),
        dt.timedelta(hours=6),
        dt.timedelta(hours=6),
    ]


def test_a_mail_is_given_up_after_the_last_attempt(mailbox, write):
    mailbox.answers["wren@example.org"] = "450 mailbox busy"
    message = write()
    Message.objects.update(attempts=MOST_ATTEMPTS - 1)

    deliver_next(worker="w")

    message.refresh_from_db()
    assert message.failed_at is not None


def test_a_given_up_mail_can_be_tried_again(mailbox, write):
    mailbox.answers["wren@example.org"] = "550 no such mailbox"
    message = write()
    deliver_next(worker="w")
    mailbox.answers.clear()

    again = try_again(message=message)
    deliver_next(worker="w")

    assert again is True
    assert len(mailbox.received) == 1


def test_only_a_given_up_mail_can_be_tried_again(mailbox, write):
    message = write()
    deliver_next(worker="w")

    assert try_again(message=message) is False


def test_a_server_that_is_down_is_tried_once_in_a_sweep_and_nothing_is_lost(settings, write):
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))  # bound and never listening: refuses
        settings.OUTBOX_DELIVERY_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = unused.getsockname()
        for key in "abc":
            write(key)

        handled = sweep(worker="w")

    assert handled == 1
    assert Message.objects.waiting().count() == 3
    assert sorted(Message.objects.values_list("attempts", flat=True)) == [0, 0, 1]


@pytest.mark.parametrize(
    ("error", "outcome"),
    [
        (smtplib.SMTPRecipientsRefused({"a": (550, b"no")}), Outcome.FAILED),
        (smtplib.SMTPRecipientsRefused({"a": (450, b"busy")}), Outcome.DEFERRED),
        (smtplib.SMTPDataError(554, b"spam"), Outcome.FAILED),
        (smtplib.SMTPDataError(451, b"later"), Outcome.DEFERRED),
        # RFC 4954: 535, credentials invalid. The library's setting is wrong, not the mail.
        (smtplib.SMTPAuthenticationError(535, b"who?"), Outcome.UNREACHABLE),
        (smtplib.SMTPSenderRefused(550, b"not you", "a"), Outcome.UNREACHABLE),
        (smtplib.SMTPServerDisconnected("gone"), Outcome.UNREACHABLE),
        (ConnectionRefusedError(), Outcome.UNREACHABLE),
        (TimeoutError(), Outcome.UNREACHABLE),
        (ValueError("a header with a line break"), Outcome.FAILED),
        (RuntimeError("anything else"), Outcome.DEFERRED),
    ],
)
def test_what_a_failure_means(error, outcome):
    """RFC 5321, 4.2.1: 4yz is a transient and 5yz a permanent negative reply."""
    assert meaning(error) == outcome


def test_the_owner_is_asked_right_before_delivery_and_can_drop_the_mail(mailbox, write):
    message = write(source="probe:1")
    sources.register("probe", lambda source: None)

    deliver_next(worker="w")

    message.refresh_from_db()
    assert mailbox.received == []
    assert message.dropped_at is not None
    assert message.text == ""


def test_the_owner_can_give_the_address_of_today(mailbox, write):
    write(source="probe:7")
    sources.register("probe", lambda source: f"new-{source[-1]}@example.org")

    deliver_next(worker="w")

    assert mailbox.received[0].to == ["new-7@example.org"]


def test_an_owner_that_cannot_answer_leaves_the_mail_waiting(mailbox, write):
    message = write(source="probe:1")

    def broken(source):
        raise ValueError("the database is away")

    sources.register("probe", broken)

    deliver_next(worker="w")

    message.refresh_from_db()
    assert mailbox.received == []
    assert message.failed_at is None
    assert "the database is away" in message.last_error


def test_a_claimed_mail_is_not_delivered_by_another(mailbox, write):
    message = write()
    Message.objects.update(claimed_at=timezone.now(), claimed_by="other/1")

    assert deliver(message_id=message.pk, worker="w") == Outcome.TAKEN
    assert deliver_next(worker="w") is False
    assert mailbox.received == []


def test_a_dead_workers_mail_is_handed_back_and_delivered(mailbox, write):
    write()
    Message.objects.update(claimed_at=timezone.now() - CLAIM_LASTS * 2, claimed_by="dead/1")

    handled = sweep(worker="w")

    assert handled == 1
    assert len(mailbox.received) == 1


def test_a_mail_that_every_worker_dies_of_is_given_up(db, write):
    message = write()
    Message.objects.update(
        claimed_at=timezone.now() - CLAIM_LASTS * 2,
        claimed_by="dead/1",
        attempts=MOST_ATTEMPTS,
    )

    hand_back_stale()

    message.refresh_from_db()
    assert message.failed_at is not None


def test_a_worker_frees_its_own_claims_and_nobody_elses(db, write):
    write("mine"), write("theirs")
    now = timezone.now()
    Message.objects.filter(message_key="mine").update(claimed_at=now, claimed_by="me/1")
    Message.objects.filter(message_key="theirs").update(claimed_at=now, claimed_by="mean/1")

    freed = hand_back(worker="me")

    assert freed == 1
    assert Message.objects.get(claimed_at=None).message_key == "mine"


def test_no_transaction_is_open_while_the_server_is_spoken_to(
    transactional_db, settings, write, monkeypatch
):
    from django.db import connection

    from library.outbox import services

    seen = []
    monkeypatch.setattr(
        services, "send", lambda message, to: seen.append(connection.in_atomic_block)
    )
    write()

    deliver_next(worker="w")

    assert seen == [False]


def test_delivery_refuses_to_run_inside_a_transaction(transactional_db, write):
    from django.db import transaction

    write()

    with transaction.atomic(), pytest.raises(RuntimeError):
        deliver_next(worker="w")


def test_a_task_for_a_mail_that_is_gone_does_nothing(db):
    assert deliver_mail(404) == "taken"


def test_the_tasks_deliver(mailbox, write):
    first = write("a")
    write("b")

    assert deliver_mail(first.pk) == "sent"
    assert sweep_outbox() == 1
    assert len(mailbox.received) == 2


def test_old_mail_is_emptied_and_its_key_kept(mailbox, write):
    message = write()
    deliver_next(worker="w")
    later = timezone.now() + dt.timedelta(days=31)

    forgotten = forget_old_mail(at=later)

    message.refresh_from_db()
    assert forgotten == 1
    assert (message.to, message.subject) == ("", "")
    assert write().pk == message.pk
    assert Message.objects.waiting().count() == 0


def test_waiting_mail_is_never_emptied(write):
    write()

    assert forget_old_mail(at=timezone.now() + dt.timedelta(days=400)) == 0
