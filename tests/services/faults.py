"""Processes that are started, killed and started again, and time that is made to pass.

Only what was started here is ever killed: each process has a group of its own.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from django.db import connection
from django.utils.formats import date_format

from tests.services.rough import RoughMail

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 240
LONG_AGO = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)


def wait_for(question: Callable, seconds: float = PATIENCE_S, pause: float = 0.1):
    end = time.monotonic() + seconds
    while not (answer := question()) and time.monotonic() < end:
        time.sleep(pause)
    return answer


def answers(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
        return True
    return False


class Processes:
    """Named commands; the same name is the same command again."""

    def __init__(self, environment: dict[str, str], folder: Path) -> None:
        self.environment, self.folder = environment, folder
        self.running: dict[str, subprocess.Popen] = {}
        self.commands: dict[str, Sequence[str]] = {}
        self.ended: Counter[str] = Counter()

    def start(self, name: str, *command: str) -> None:
        if command:
            self.commands[name] = command
        with (self.folder / f"{name}.log").open("a") as log:
            self.running[name] = subprocess.Popen(
                self.commands[name],
                cwd=ROOT,
                env=self.environment,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def kill(self, name: str) -> None:
        """SIGKILL to the process and all it started."""
        process = self.running.pop(name)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait(30)

    def kill_main(self, name: str) -> None:
        """SIGKILL to the process alone; what it started has to notice."""
        process = self.running[name]
        process.kill()
        process.wait(30)
        time.sleep(0.2)
        self.kill(name)

    def kill_child(self, name: str, dice: random.Random) -> None:
        """SIGKILL to one of what it started; it should start another."""
        pid = self.running[name].pid
        listed = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
        if listed:
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(dice.choice(listed)), signal.SIGKILL)

    def again(self, name: str) -> None:
        if name not in self.running:
            self.start(name)

    def supervise(self) -> None:
        """Start again what ended by itself, as systemd or containers do.

        Celery's transport gives up when Redis goes between its taking and its acknowledging.
        """
        for name, process in list(self.running.items()):
            if process.poll() is not None:
                self.ended[name] += 1
                self.kill(name)  # and whatever it left behind
                self.start(name)

    def log(self, name: str, lines: int = 30) -> str:
        path = self.folder / f"{name}.log"
        return "\n".join(path.read_text().splitlines()[-lines:]) if path.exists() else ""

    def stop(self) -> None:
        for process in self.running.values():
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGTERM)
        end = time.monotonic() + 10
        for name in list(self.running):
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.running[name].wait(max(end - time.monotonic(), 0.1))
            self.kill(name)


class Library:
    """The tables, written to as time would: what is due, and what has waited long enough."""

    def execute(self, statement: str, *values) -> list[tuple]:
        with connection.cursor() as cursor:
            cursor.execute(statement, values)
            return cursor.fetchall() if cursor.description else []

    def moment(self, when: dt.datetime) -> object:
        return when

    def make_due(self, loan: int, day: dt.date) -> None:
        self.execute("UPDATE lending_loan SET due_on = %s WHERE id = %s", str(day), loan)

    def plan_again(self) -> None:
        """An hour passes for the planning."""
        self.execute(
            "UPDATE outbox_periodic SET last_run_at = NULL WHERE name = 'plan reminders'"
        )

    def sweep_again(self) -> None:
        self.execute(
            "UPDATE outbox_periodic SET last_run_at = NULL WHERE name = 'sweep outbox'"
        )

    def let_waits_pass(self) -> None:
        """Minutes to hours pass for mail that was put off."""
        now = self.moment(dt.datetime.now(dt.UTC))
        self.execute(
            "UPDATE outbox_message SET not_before = %s WHERE sent_at IS NULL"
            " AND failed_at IS NULL AND dropped_at IS NULL AND claimed_at IS NULL"
            " AND not_before > %s", now, now,
        )  # fmt: skip

    def let_claims_of_the_dead_pass(self) -> None:
        """A quarter of an hour passes for what a dead process held, and for nobody else."""
        claimed = self.execute(
            "SELECT id, claimed_by FROM outbox_message WHERE claimed_at IS NOT NULL"
            " AND sent_at IS NULL AND failed_at IS NULL AND dropped_at IS NULL"
        )
        for key, by in claimed:
            pid = by.partition("/")[0].rpartition("-")[2]
            if pid.isdigit() and not Path(f"/proc/{pid}").exists():
                self.execute(
                    "UPDATE outbox_message SET claimed_at = %s"
                    " WHERE id = %s AND claimed_by = %s",
                    self.moment(LONG_AGO), key, by,
                )  # fmt: skip

    def states(self) -> list[tuple]:
        return self.execute(
            "SELECT message_key, attempts, claimed_by, sent_at, failed_at, dropped_at,"
            " last_error FROM outbox_message ORDER BY id DESC LIMIT 20"
        )


class SqliteLibrary(Library):
    """The embedded server's own file, beside which this process has another database."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def execute(self, statement: str, *values) -> list[tuple]:
        with contextlib.closing(sqlite3.connect(self.path, timeout=30)) as database:
            found = database.execute(statement.replace("%s", "?"), values).fetchall()
            database.commit()
            return found

    def moment(self, when: dt.datetime) -> object:
        return when.astimezone(dt.UTC).replace(tzinfo=None).isoformat(" ")


@dataclass
class Tally:
    """What came of all rounds."""

    rounds: int = 0
    expected: int = 0
    arrived: int = 0
    lost: list[str] = field(default_factory=list)
    duplicates: int = 0  # the same Message-ID again
    told_twice: list[str] = field(default_factory=list)  # another Message-ID: never allowed
    killed: Counter = field(default_factory=Counter)

    def count(self, address: str, day: dt.date, letters: list) -> None:
        self.expected += 1
        ids = [letter["Message-ID"] for letter in letters]
        if ids:
            self.arrived += 1
        else:
            self.lost.append(f"{address} {day}")
        if len(set(ids)) > 1:
            self.told_twice.append(f"{address} {day} {ids}")
        self.duplicates += len(ids) - len(set(ids))

    def __str__(self) -> str:
        killed = ", ".join(f"{name} {n}" for name, n in sorted(self.killed.items()))
        return (
            f"{self.rounds} rounds ({killed}): {self.expected} reminders, "
            f"{self.arrived} arrived, {len(self.lost)} lost, {self.duplicates} duplicates, "
            f"{len(self.told_twice)} told twice"
        )


def words_of(day: dt.date) -> str:
    """How a letter names the day."""
    return date_format(day, "j F Y")


def all_arrived(mail: RoughMail, due: dict[str, dt.date]) -> bool:
    return all(mail.letters_to(address, words_of(day)) for address, day in due.items())


PYTHON = sys.executable
