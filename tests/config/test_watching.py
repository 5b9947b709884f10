"""What the machine that watches this one is told: `/healthz` and `/metrics`."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families

from library.config import health
from library.outbox.models import Message, Periodic
from library.outbox.services import queue_mail
from library.reminders.models import Reminder

MINUTE = dt.timedelta(minutes=1)
TOKEN = {"Authorization": "Bearer for the watcher"}


@pytest.fixture
def long_up(monkeypatch):
    """The process began an hour ago."""
    monkeypatch.setattr(health, "BEGAN", health.BEGAN - 3600)


@pytest.fixture
def ended(db):
    """``ended("sweep outbox", 4)``: that job last ended so many minutes ago."""

    def write(name: str, minutes: float, **facts) -> None:
        moment = timezone.now() - minutes * MINUTE
        Periodic.objects.update_or_create(
            name=name, defaults={"last_run_at": moment, "last_finished_at": moment} | facts
        )

    return write


# /healthz --------------------------------------------------------------------------------


def test_health_asks_two_questions_and_needs_no_member(
    client, ended, long_up, django_assert_num_queries
):
    ended("sweep outbox", 1)
    ended("plan reminders", 100)

    with django_assert_num_queries(2):
        answer = client.get("/healthz")
    told = answer.json()
    sweep, planning = (told.pop(f"last_{job}_seconds_ago") for job in ("sweep", "planning"))

    assert answer.status_code == 200
    assert told == {"database": "ok", "sweep": "ok", "planning": "ok", "mail_waiting": 0}
    assert (sweep, planning) == (pytest.approx(60, abs=20), pytest.approx(6000, abs=20))


@pytest.mark.parametrize(
    ("sweep", "planning", "told"),
    [
        (4, 170, (200, "ok", "ok")),
        (6, 10, (503, "late", "ok")),
        (1, 190, (503, "ok", "late")),
        (600, 600, (503, "late", "late")),
    ],
)
def test_it_is_red_when_a_job_has_not_ended_for_too_long(
    client, ended, long_up, sweep, planning, told
):
    ended("sweep outbox", sweep)
    ended("plan reminders", planning)

    answer = client.get("/healthz")

    assert (answer.status_code, answer.json()["sweep"], answer.json()["planning"]) == told


def test_a_job_that_fails_each_time_is_late_however_often_it_runs(client, ended, long_up):
    ended("sweep outbox", 0)
    ended("plan reminders", 200, last_run_at=timezone.now(), last_error="ZeroDivisionError")

    assert client.get("/healthz").status_code == 503


@pytest.mark.django_db
def test_what_never_ran_is_red_but_not_in_the_first_minutes(client, monkeypatch):
    up = {"seconds": health.GRACE_SECONDS - 1.0}
    monkeypatch.setattr(health, "seconds_up", lambda: up["seconds"])
    early = client.get("/healthz")
    up["seconds"] += 2
    later = client.get("/healthz")

    assert (early.status_code, early.json()["sweep"]) == (200, "starting")
    assert (later.status_code, later.json()["sweep"]) == (503, "late")


def test_a_long_sweep_at_work_is_not_late_and_one_that_died_is(client, ended, long_up):
    ended("plan reminders", 1)
    ended("sweep outbox", 60, last_run_at=timezone.now() - 20 * MINUTE)
    message = queue_mail(to="wren@example.org", subject="a", text="b", message_key="a")

    statuses = []
    for minutes in (1, 10):
        Message.objects.filter(pk=message.pk).update(
            claimed_at=timezone.now() - minutes * MINUTE
        )
        statuses.append(client.get("/healthz").status_code)

    assert statuses == [200, 503]


def test_health_says_when_the_database_does_not_answer(client, monkeypatch):
    from django.db import OperationalError

    def away():
        raise OperationalError

    monkeypatch.setattr(health, "_mail", away)

    answer = client.get("/healthz")

    assert (answer.status_code, answer.json()) == (503, {"database": "unreachable"})


# /metrics --------------------------------------------------------------------------------


@pytest.fixture
def figures(client, settings, db):
    """``figures()`` is every sample, by name and label, as Prometheus's own parser reads it."""
    settings.METRICS_TOKEN = "for the watcher"

    def read() -> dict:
        answer = client.get("/metrics", headers=TOKEN)
        assert answer.status_code == 200
        assert answer["Content-Type"] == "text/plain; version=0.0.4; charset=utf-8"
        return {
            (sample.name.removeprefix("sowback_"), *sample.labels.values()): sample.value
            for family in text_string_to_metric_families(answer.content.decode())
            for sample in family.samples
        }

    return read


def test_the_figures_are_those_of_the_tables(figures, ended, member):
    now = timezone.now()
    ended("sweep outbox", 2)
    ended("plan reminders", 3, last_error="ZeroDivisionError")
    facts = {
        "ready": {"not_before": now - 4 * MINUTE},
        "deferred": {"not_before": now + MINUTE, "attempts": 2},
        "claimed": {"claimed_at": now},
        "sent": {"sent_at": now, "source": "reminder:1"},
        "failed": {"failed_at": now},
        "dropped": {"dropped_at": now},
    }
    for key, fields in facts.items():
        Message.objects.create(message_key=key, to="a@example.org", **fields)
    Message.objects.filter(message_key="deferred").update(created_at=now - 50 * MINUTE)
    Reminder.objects.create(
        recipient=member,
        kind="loan",
        subject="a",
        due_on=now.date(),
        queued_at=now,
        message=Message.objects.get(message_key="sent"),
    )

    read = figures()

    for state in facts:
        assert read["mail_messages", state] == 1
    assert read["job_lag_seconds", "sweep outbox"] == pytest.approx(120, abs=20)
    assert read["job_lag_seconds", "plan reminders"] == pytest.approx(180, abs=20)
    assert read["job_failing", "plan reminders"] == 1
    assert read["job_failing", "sweep outbox"] == 0
    assert read["job_late_after_seconds", "sweep outbox"] == 300
    assert read["mail_oldest_waiting_seconds",] == pytest.approx(3000, abs=20)
    assert read["mail_oldest_ready_seconds",] == pytest.approx(240, abs=20)
    assert read["mail_retrying",] == 1
    assert read["reminders", "planned"] == read["reminders", "queued"] == 1
    assert read["reminders", "sent"] == 1
    assert read["reminders", "withdrawn"] == read["reminders", "failed"] == 0


def test_an_empty_library_has_figures_too(figures):
    read = figures()

    assert read["mail_messages", "ready"] == 0
    assert read["mail_oldest_waiting_seconds",] == 0
    assert ("job_lag_seconds", "sweep outbox") not in read  # never ran: no figure, not 0


@pytest.mark.parametrize("rows", [1, 6])
def test_the_figures_cost_the_same_for_one_mail_as_for_six(
    figures, rows, django_assert_num_queries
):
    for number in range(rows):
        Message.objects.create(message_key=str(number))

    with django_assert_num_queries(4):
        figures()


@pytest.mark.parametrize(
    ("token", "sent", "status"),
    [
        ("", TOKEN, 404),
        ("", {"Authorization": "Bearer "}, 404),
        ("for the watcher", {}, 401),
        ("for the watcher", {"Authorization": "Bearer for the watchers"}, 401),
        ("for the watcher", {"Authorization": "Bearer"}, 401),
        ("for the watcher", TOKEN, 200),
    ],
)
@pytest.mark.django_db
def test_figures_are_for_who_has_the_token(client, settings, token, sent, status):
    settings.METRICS_TOKEN = token

    assert client.get("/metrics", headers=sent).status_code == status


@pytest.mark.django_db
def test_no_figure_names_a_person(client, settings, member):
    settings.METRICS_TOKEN = "for the watcher"
    Message.objects.create(message_key="a", to=member.email, last_error=member.email)

    text = client.get("/metrics", headers=TOKEN).content.decode()

    assert member.email not in text
    assert member.display_name not in text
