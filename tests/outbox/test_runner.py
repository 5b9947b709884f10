"""Recurring jobs and the embedded runner."""

from __future__ import annotations

import datetime as dt
import threading

import pytest
from django.db import connections
from django.utils import timezone

from library.outbox import periodic, worker
from library.outbox.jobs import Job
from library.outbox.models import Message, Periodic
from library.outbox.periodic import run_if_due
from library.outbox.runner import Runner, RunnerBusy

NOW = dt.datetime(2026, 3, 10, 23, 50, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
MINUTE = dt.timedelta(minutes=1)
calls: list[str] = []


def note() -> None:
    calls.append("called")


def fail() -> None:
    raise ZeroDivisionError("nothing to divide by")


def day_in_utc(moment: dt.datetime) -> dt.date:
    return moment.astimezone(dt.UTC).date()


@pytest.fixture(autouse=True)
def no_calls(monkeypatch):
    calls.clear()
    paths = {"note": note, "fail": fail, "day": day_in_utc}
    monkeypatch.setattr(periodic, "import_string", paths.__getitem__)
    monkeypatch.setattr("library.outbox.jobs.import_string", paths.__getitem__)


@pytest.fixture
def lock(tmp_path):
    return tmp_path / "runner.lock"


hourly = Job("hourly", "note", HOUR)
each_day = Job("each day", "note", dt.timedelta(days=1), day_of="day")


@pytest.mark.django_db
def test_a_job_runs_once_in_its_time():
    ran = [run_if_due(hourly, now=NOW + minutes * MINUTE) for minutes in (0, 1, 59, 60)]

    assert ran == [True, False, False, True]
    assert len(calls) == 2


@pytest.mark.django_db
def test_a_job_of_the_day_runs_when_the_day_changes():
    ran = [run_if_due(each_day, now=NOW + minutes * MINUTE) for minutes in (0, 5, 11, 12)]

    assert ran == [True, False, True, False]


@pytest.mark.django_db
def test_a_clock_that_was_set_back_stops_nothing():
    run_if_due(hourly, now=NOW)

    assert run_if_due(hourly, now=NOW - 24 * HOUR) is True


@pytest.mark.django_db
def test_a_job_that_fails_is_written_down_and_runs_again():
    failing = Job("failing", "fail", HOUR)

    ran = [run_if_due(failing, now=NOW), run_if_due(failing, now=NOW + HOUR)]

    row = Periodic.objects.get(name="failing")
    assert ran == [True, True]
    assert row.last_error == "ZeroDivisionError: nothing to divide by"
    assert row.last_finished_at is None


@pytest.mark.django_db(transaction=True)
def test_of_eight_runners_at_once_one_gets_the_turn():
    start = threading.Barrier(8)

    def turn():
        start.wait()
        run_if_due(hourly, now=NOW)
        connections.close_all()

    threads = [threading.Thread(target=turn) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert len(calls) == 1


def test_a_second_runner_of_the_same_folder_is_refused(lock):
    first = Runner(jobs=[], lock=lock)
    first.take_lock()

    with pytest.raises(RunnerBusy):
        Runner(jobs=[], lock=lock).take_lock()


def test_a_runner_keeps_its_name_after_a_restart(lock):
    first, second = Runner(jobs=[], lock=lock), Runner(jobs=[], lock=lock)
    first.take_lock()
    first.stop()
    second.take_lock()

    assert second._name == first._name
    second.stop()


@pytest.fixture
def running(lock, settings, transactional_db):
    """A runner that was killed while it delivered, and starts again."""
    settings.REDIS_URL = ""  # embedded mode
    killed = Runner(jobs=[], lock=lock)
    killed.take_lock()
    Message.objects.create(
        message_key="a", to="wren@example.org", subject="Due", text="Seed.",
        claimed_at=timezone.now(), claimed_by=f"{killed._name}/1", attempts=1,
    )  # fmt: skip
    killed.stop()
    runner = Runner(jobs=[hourly], lock=lock, pause=0.05)
    yield runner
    runner.stop()
    worker._names.clear()
    worker.stopping.clear()


def test_a_runner_frees_its_own_mail_and_delivers_it(running, mailbox):
    worker.woken.set()
    running.start()
    wait_until(lambda: mailbox.received)

    assert running.stop() is True
    assert len(mailbox.received) == 1
    assert calls == ["called"]


def test_mail_wakes_the_runner_and_a_crash_does_not_end_it(running, mailbox, write, caplog):
    running.jobs = [Job("failing", "fail", dt.timedelta(0)), hourly]
    running.pause = 30
    running.start()
    wait_until(lambda: calls)

    write("b")
    wait_until(lambda: len(mailbox.received) == 2)

    assert running.stop() is True
    assert len(mailbox.received) == 2
    assert "The job “failing” failed" in caplog.text


def test_a_runner_that_cannot_finish_hands_its_mail_back(running, mailbox):
    release = threading.Event()
    mailbox.on_data = lambda: release.wait(20)
    worker.woken.set()
    running.start()
    wait_until(lambda: Message.objects.claimed().exists())

    finished = running.stop(patience=0.2)
    claimed = Message.objects.claimed().count()
    release.set()
    running._thread.join(20)

    assert finished is False
    assert claimed == 0
    assert Message.objects.get().sent_at is not None


def wait_until(question) -> None:
    for _ in range(400):
        if question():
            return
        threading.Event().wait(0.05)
