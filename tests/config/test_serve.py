"""The one command: up, answering, down; killed and up again."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
from aiosmtpd.controller import Controller

from tests.mailbox import Mailbox

pytestmark = pytest.mark.long

ROOT = Path(__file__).resolve().parents[2]
NEW_MAIL = """
INSERT INTO outbox_message (message_key, source, "to", sender, subject, text, html, headers,
    created_at, not_before, claimed_by, attempts, last_error)
VALUES (?, '', 'wren@example.org', '', 'Due', 'Seed.', '', '{}',
    datetime('now'), datetime('now', '-1 minute'), '', 0, '')
"""
STARTS_WITHIN = 120  # seconds, on a machine busy with other tests


class Served:
    """A ``manage.py serve`` of its own: data directory, port, mail server."""

    def __init__(self, home: Path, port: int, mail_port: int) -> None:
        self.home, self.port = home, port
        kept = {
            name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ
        }
        self.environment = kept | {
            "SOWBACK_DATA_DIR": str(home),
            "EMAIL_URL": f"smtp://127.0.0.1:{mail_port}",
            "PYTHONUNBUFFERED": "1",
        }
        self.processes: list[subprocess.Popen] = []

    def start(self, *arguments: str, **environment: str) -> subprocess.Popen:
        process = subprocess.Popen(
            [sys.executable, "manage.py", "serve", "--port", str(self.port), *arguments],
            cwd=ROOT,
            env=self.environment | environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.processes.append(process)
        return process

    def get(self, path: str = "/") -> str:
        with urllib.request.urlopen(
            f"http://127.0.0.1:{self.port}{path}", timeout=10
        ) as answer:
            return answer.read().decode()

    def wait_until_up(self, process: subprocess.Popen) -> str:
        def page() -> str:
            assert process.poll() is None, process.stdout.read()
            with contextlib.suppress(OSError):
                return self.get()
            return ""

        return wait_for(page)

    def queue(self, key: str) -> None:
        """A mail written by another process in the same database."""
        with contextlib.closing(sqlite3.connect(self.home / "library.sqlite3")) as database:
            database.execute("PRAGMA busy_timeout = 20000")
            database.execute(NEW_MAIL, [key])
            database.commit()

    def unsent(self) -> int:
        with contextlib.closing(sqlite3.connect(self.home / "library.sqlite3")) as database:
            question = "SELECT count(*) FROM outbox_message WHERE sent_at IS NULL"
            return database.execute(question).fetchone()[0]


def wait_for(question, seconds: float = STARTS_WITHIN):
    """The first answer that is true; the last one when time is up."""
    end = time.monotonic() + seconds
    while not (answer := question()) and time.monotonic() < end:
        time.sleep(0.1)
    return answer


@pytest.fixture
def box(free_port):
    handler = Mailbox()
    server = Controller(handler, hostname="127.0.0.1", port=free_port())
    server.start()
    handler.port = server.port
    yield handler
    server.stop()


@pytest.fixture
def served(tmp_path, free_port, box):
    served = Served(tmp_path, free_port(), box.port)
    yield served
    for process in served.processes:
        if process.poll() is None:
            process.kill()
        process.wait()
        process.stdout.close()


@pytest.fixture(scope="module")
def migrated(tmp_path_factory) -> Path:
    """A data directory whose tables were made: what takes longest of a first start."""
    home = tmp_path_factory.mktemp("migrated")
    served = Served(home, 0, 0)
    run = [sys.executable, "manage.py", "migrate", "--verbosity", "0"]
    subprocess.run(run, cwd=ROOT, env=served.environment, check=True, capture_output=True)
    return home


@pytest.fixture
def served_before(served, migrated):
    shutil.copytree(migrated, served.home, dirs_exist_ok=True)
    return served


def test_it_comes_up_answers_and_stops_cleanly_on_sigterm(served):
    process = served.start()
    page = served.wait_until_up(process)
    health = json.loads(served.get("/healthz"))

    process.send_signal(signal.SIGTERM)
    said, _nothing = process.communicate(timeout=30)

    assert "<title>" in page
    assert health["database"] == "ok"
    assert process.returncode == 0
    assert said.splitlines()[-2:] == ["Stopping …", "Stopped."]
    assert "manage.py member YOUR@EMAIL --role administrator" in said


def test_killed_at_any_point_it_loses_nothing(served_before, box):
    served = served_before
    first = served.start()
    served.wait_until_up(first)
    for number in range(20):
        served.queue(f"before:{number}")
    wait_for(lambda: box.received)
    first.kill()
    first.wait()
    served.queue("while away")

    second = served.start()
    served.wait_until_up(second)
    wait_for(lambda: served.unsent() == 0)
    second.send_signal(signal.SIGTERM)
    second.communicate(timeout=30)

    # At least once each; the one that was on its way when the process was killed may be twice.
    assert served.unsent() == 0
    assert len(box.received) in (21, 22)


def test_a_second_serve_on_the_same_data_says_so(served_before, free_port):
    served = served_before
    first = served.start()
    served.wait_until_up(first)
    served.port = free_port()

    said, _nothing = served.start().communicate(timeout=STARTS_WITHIN)

    assert f"Another serve already runs with the data in {served.home}." in said
    assert "Traceback" not in said


def test_a_taken_port_is_one_sentence(served, box):
    served.port = box.port

    process = served.start()
    said, _nothing = process.communicate(timeout=STARTS_WITHIN)

    assert process.returncode == 1
    assert said.startswith(f"CommandError: Port {box.port} on 127.0.0.1 cannot be used")
    assert len(said.splitlines()) == 1


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("SOWBACK_DEBUG", "perhaps", "Not a valid boolean"),
        ("SOWBACK_URL", "seed.example.org", "Write the address that people type"),
        ("DATABASE_URL", "mysql://a@b/c", "DATABASE_URL names no database for us"),
        ("REDIS_URL", "localhost:6379", "REDIS_URL must begin with redis://"),
        ("EMAIL_URL", "pigeon://coop", "EMAIL_URL cannot be read"),
        ("SOWBACK_DATA_DIR", "/dev/null/x", "Name a folder that this user may write to"),
    ],
)
def test_a_setting_that_is_wrong_is_one_sentence(served, name, value, sentence):
    process = served.start(**{name: value})
    said, _nothing = process.communicate(timeout=STARTS_WITHIN)

    assert process.returncode == 1
    assert said.startswith("Sowback cannot start with these settings.")
    assert sentence in said
    assert "Traceback" not in said


def test_the_demo_is_refused_where_there_is_data(served_before):
    served = served_before
    members = ["manage.py", "member", "swan@example.org", "--role", "administrator", "--link"]
    run = [sys.executable]
    settings = {"cwd": ROOT, "env": served.environment, "check": True, "capture_output": True}
    subprocess.run([*run, *members], **settings)

    process = served.start("--demo")
    said, _nothing = process.communicate(timeout=STARTS_WITHIN)

    assert process.returncode == 1
    assert "Start without --demo" in said
    assert "Traceback" not in said
