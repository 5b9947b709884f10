"""Served mode for real: PostgreSQL, Redis, a Celery worker and beat, and an SMTP server.

The processes get the test's own database; nothing in them knows that it is a test.
"""

from __future__ import annotations

import datetime as dt
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from django.utils import timezone

from library.config.celery import app
from library.lending.models import Loan
from library.lending.services import lend_packet
from library.outbox.models import Message
from library.outbox.services import queue_mail
from library.reminders.models import Reminder

pytestmark = [
    pytest.mark.services,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        connection.vendor != "postgresql" or not settings.REDIS_URL,
        reason="needs DATABASE_URL=postgres://… and REDIS_URL; .ci/run starts both",
    ),
]

ROOT = Path(__file__).resolve().parents[2]


def wait_for(question, seconds: float = 90):
    end = time.monotonic() + seconds
    while not (answer := question()) and time.monotonic() < end:
        time.sleep(0.2)
    return answer


@pytest.fixture
def queue():
    """A queue of this process's own: other tests run beside it on the same Redis."""
    name = f"test-{os.getpid()}"
    before = app.conf.task_default_queue
    app.conf.task_default_queue = name
    app.__dict__.pop("amqp", None)  # it remembers the queue
    yield name
    app.conf.task_default_queue = before
    app.__dict__.pop("amqp", None)


@pytest.fixture
def celery(mailbox, settings, tmp_path, queue):
    """``celery("worker", ...)`` starts a process on the test's database and mail server."""
    database = connection.settings_dict
    place = f"{database['HOST']}:{database['PORT'] or 5432}/{database['NAME']}"
    environment = os.environ | {
        "DATABASE_URL": f"postgres://{database['USER']}:{database['PASSWORD']}@{place}",
        "REDIS_URL": settings.REDIS_URL,
        "SOWBACK_QUEUE": queue,
        "EMAIL_URL": f"smtp://127.0.0.1:{settings.EMAIL_PORT}",
        "SOWBACK_DATA_DIR": str(tmp_path),
        "SOWBACK_SECRET_KEY": settings.SECRET_KEY,
    }
    processes = []

    def start(*arguments: str) -> subprocess.Popen:
        command = [sys.executable, "-m", "celery", "-A", "library.config", *arguments]
        log = (tmp_path / f"{arguments[0]}.log").open("w")
        process = subprocess.Popen(
            command, cwd=ROOT, env=environment, stdout=log, stderr=subprocess.STDOUT
        )
        log.close()
        processes.append(process)
        return process

    yield start
    for process in processes:
        process.terminate()
    for process in processes:
        process.wait(30)


@pytest.fixture
def due_loan(borrowed) -> Loan:
    """A loan whose seed is due in ten days."""
    soon = timezone.localdate() + dt.timedelta(days=10)
    Loan.objects.filter(pk=borrowed.pk).update(due_on=soon)
    return borrowed


@pytest.fixture
def borrowed(make_variety, make_packet, member, desk) -> Loan:
    packet = make_packet(make_variety(crop="drying bean"))
    return lend_packet(packet=packet, borrower=member, on=timezone.localdate(), by=desk)


def test_beat_and_a_worker_deliver_a_reminder_once(celery, mailbox, due_loan):
    celery("beat", "--loglevel=INFO")
    celery("worker", "--loglevel=INFO", "--concurrency=2")

    wait_for(lambda: Reminder.objects.filter(queued_at__isnull=False).exists())
    wait_for(lambda: [m for m in mailbox.received if m.to == [due_loan.borrower.email]])
    time.sleep(6)  # another turn of the sweep

    mine = [m for m in mailbox.received if m.to == [due_loan.borrower.email]]
    assert len(mine) == 1
    assert Message.objects.filter(source__startswith="reminder:", failed_at=None).exists()


def test_a_mail_goes_to_the_worker_at_once(celery, mailbox):
    celery("worker", "--loglevel=INFO", "--concurrency=1")

    queue_mail(to="wren@example.org", subject="Hello", text="Seed.", message_key="at once")
    wait_for(lambda: mailbox.received)

    assert mailbox.received[0].to == ["wren@example.org"]
