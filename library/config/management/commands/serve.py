"""The whole library in one process: web server and background runner."""

from __future__ import annotations

import os
import signal
import socket
import sys
import time
from collections.abc import Callable

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import OperationalError, connection
from django.db.migrations.executor import MigrationExecutor

from accounts.models import Member
from library.catalogue.services import load_reference
from library.config.schedule import JOBS
from library.errors import Refused
from library.outbox.runner import Runner, RunnerBusy

THREADS = 8


class Command(BaseCommand):
    help = "Prepare the database and serve the library: web server and background work in one."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="default: 127.0.0.1")
        parser.add_argument("--port", type=port_number, default=8000, help="default: 8000")
        parser.add_argument(
            "--demo", action="store_true", help="fill an empty library with the demo community"
        )
        parser.add_argument(
            "--no-runner", action="store_true", help="no background work in this process"
        )

    def handle(self, *, host: str, port: int, demo: bool, no_runner: bool, **options) -> None:
        begun = time.monotonic()
        stop_on_signals()
        door = take_port(host, port)
        runner = None if no_runner else only_runner()
        if "SOWBACK_URL" not in os.environ:
            settings.SITE_URL = f"http://localhost:{door.getsockname()[1]}"
        self.prepare()
        people = self.fill_demo() if demo else []
        self.say_where(people, door, time.monotonic() - begun)
        self.serve(door, runner)

    def prepare(self) -> None:
        try:
            steps = migrations_waiting()
            if steps:
                self.say(f"Preparing the database ({steps} steps) …")
                call_command("migrate", interactive=False, verbosity=0)
        except OperationalError as error:
            raise CommandError(
                f"The database cannot be reached: {str(error).strip()} "
                "Check DATABASE_URL and that the database server runs."
            ) from error
        self.say("Reading the reference data …")
        load_reference()

    def fill_demo(self) -> list:
        from library.demo.services import fill

        self.say("Filling the library with the demo community …")
        try:
            return fill(progress=lambda sentence: self.say(f"  {sentence} …"))
        except Refused as error:
            raise CommandError(
                f"{error} Start without --demo, or name another folder in SOWBACK_DATA_DIR."
            ) from error

    def say_where(self, people: list, door: socket.socket, seconds: float) -> None:
        self.say(f"\nReady after {seconds:.0f} s at {settings.SITE_URL}/  (Ctrl-C stops it)")
        if settings.OUTBOX_DELIVERY_BACKEND == "library.outbox.console.ConsoleMail":
            self.say("Mail is written here on the console; set EMAIL_URL to send it.")
        if people:
            self.say("These people of the demo can sign in:")
            for name, email, password, role in people:
                self.say(f"  {role:<14} {email:<34} {password:<24} {name}")
        elif not Member.objects.exists():
            self.say(
                "Nobody is a member yet. Make the first administrator in another terminal:"
            )
            self.say(f"  {sys.executable} manage.py member YOUR@EMAIL --role administrator")
            self.say("(with --link it prints a link to set the password, that works once)")
            self.say("Signed in, the first day's steps set the library up.")

    def serve(self, door: socket.socket, runner: Runner | None) -> None:
        if runner:
            runner.start()
        try:
            web_server(door).run()  # returns when a signal raised SystemExit
        finally:
            self.say("Stopping …")
            if runner and not runner.stop():
                self.say("Mail that was on its way will be tried again at the next start.")
        self.say("Stopped.")

    def say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()


def port_number(text: str) -> int:
    number = int(text)
    if not 0 <= number <= 65535:
        raise ValueError
    return number


def stop_on_signals() -> None:
    """SIGTERM and SIGINT leave through SystemExit, so every ``finally`` on the way runs."""

    def leave(number, frame) -> None:
        # A second signal while stopping ends the process the hard way.
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        raise SystemExit(0)

    signal.signal(signal.SIGINT, leave)
    signal.signal(signal.SIGTERM, leave)


def take_port(host: str, port: int) -> socket.socket:
    """The bound socket; bound before the long work, so a taken port is known at once."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    door = socket.socket(family, socket.SOCK_STREAM)
    door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind((host, port))
    except OSError as error:
        door.close()
        raise CommandError(
            f"Port {port} on {host} cannot be used ({error.strerror}). Stop what uses it, or "
            f"choose another with --port {port + 1 if port < 65535 else 8000}."
        ) from error
    return door


def only_runner() -> Runner:
    runner = Runner(jobs=JOBS, lock=settings.DATA_DIR / "runner.lock")
    try:
        runner.take_lock()
    except RunnerBusy as error:
        raise CommandError(
            f"Another serve already runs with the data in {settings.DATA_DIR}. Stop it first, "
            "or start this one with --no-runner to serve pages only."
        ) from error
    return runner


def migrations_waiting() -> int:
    executor = MigrationExecutor(connection)
    return len(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def web_server(door: socket.socket, application: Callable | None = None):
    import waitress

    from library.config.wsgi import application as site

    return waitress.create_server(
        application or site,
        sockets=[door],
        threads=THREADS,
        ident=None,
        # Django reads them itself, when SOWBACK_BEHIND_PROXY says that a proxy sets them.
        clear_untrusted_proxy_headers=settings.SECURE_PROXY_SSL_HEADER is None,
    )
