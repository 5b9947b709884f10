"""kill -9 at random points, a mail server that misbehaves, Redis that goes: nothing is lost.

``SOWBACK_FAULT_ROUNDS=200 pytest -m services -s tests/services/test_faults.py`` does so many
rounds (a normal run a few), with the dice of ``SOWBACK_FAULT_SEED``. Each round makes some
loans due, lets reminders be planned and sent, kills somebody at a random moment, starts what
is missing, and waits until every reminder has come.

How many duplicates are possible, and why: a mail can come again, with the same Message-ID, when
the server took it and the sender could not know (killed between its "250" and our next
statement, or the connection cut before the "250"). That is one for each such moment, and no
protocol of SMTP can do better. It is never told in a second mail with another Message-ID.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import http.client
import itertools
import os
import random
import subprocess
import threading
import time

import pytest
from django.conf import settings as real_settings
from django.db import connection
from django.test import Client
from django.utils import timezone

from accounts.models import Invitation
from accounts.roles import Role
from library.config.celery import app
from library.lending.services import lend_packet
from library.outbox.models import Message
from library.outbox.services import queue_mail
from tests.services.faults import (
    PYTHON,
    ROOT,
    Library,
    Processes,
    SqliteLibrary,
    Tally,
    all_arrived,
    answers,
    wait_for,
    words_of,
)
from tests.services.rough import RoughMail

pytestmark = [
    pytest.mark.services,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        connection.vendor != "postgresql" or not real_settings.REDIS_URL,
        reason="needs DATABASE_URL=postgres://… and REDIS_URL; .ci/run starts both",
    ),
]

ROUNDS = int(os.environ.get("SOWBACK_FAULT_ROUNDS", "5"))
SEED = int(os.environ.get("SOWBACK_FAULT_SEED", "1"))
REDIS_AWAY_S = float(os.environ.get("SOWBACK_FAULT_REDIS_AWAY", "6"))  # 3600: an hour
# Of the rounds, so many are of the embedded runner.
EMBEDDED_ROUNDS = max(ROUNDS // 4, 1)
SERVED_ROUNDS = ROUNDS - EMBEDDED_ROUNDS
LENT_ON, RIPE_BY = dt.date(2025, 10, 2), dt.date(2026, 10, 2)
TOGETHER = 4  # loans that become due in one round
CELERY = (PYTHON, "-m", "celery", "-A", "library.config")
QUEUE = "faults"


@pytest.fixture
def mail(free_port):
    server = RoughMail(free_port(), SEED)
    server.start()
    yield server
    server.stop()


@pytest.fixture
def served(mail, free_port, tmp_path, settings):
    """The processes of served mode, on the test's database and a Redis of their own."""
    database = connection.settings_dict
    place = f"{database['HOST']}:{database['PORT'] or 5432}/{database['NAME']}"
    redis_port, web_port = free_port(), free_port()
    environment = os.environ | {
        "DATABASE_URL": f"postgres://{database['USER']}:{database['PASSWORD']}@{place}",
        "REDIS_URL": f"redis://127.0.0.1:{redis_port}/0",
        "SOWBACK_QUEUE": QUEUE,
        "EMAIL_URL": f"smtp://127.0.0.1:{mail.port}",
        "SOWBACK_DATA_DIR": str(tmp_path),
        "SOWBACK_SECRET_KEY": settings.SECRET_KEY,
        "SOWBACK_URL": f"http://127.0.0.1:{web_port}",
    }
    settings.REDIS_URL = ""  # what this process queues is told to nobody: a sweep must find it
    processes = Processes(environment, tmp_path)
    processes.redis_port, processes.web_port = redis_port, web_port
    redis = ["redis-server", "--port", str(redis_port), "--bind", "127.0.0.1", "--save", ""]
    processes.commands = {
        "redis": [*redis, "--dir", str(tmp_path)],
        "worker": [*CELERY, "worker", "--concurrency=2", "--loglevel=INFO"],
        "beat": [*CELERY, "beat", "--loglevel=INFO"],
        "web": [PYTHON, "-m", "gunicorn", "library.config.wsgi", "--workers=1",
                "--bind", f"127.0.0.1:{web_port}"],
    }  # fmt: skip
    yield processes
    processes.stop()


@pytest.fixture
def loans(make_member, make_variety, make_packet, desk) -> dict[str, int]:
    """Loans by their borrowers' addresses; one each, so that every letter can be told."""
    variety = make_variety("Tarn Kettle", crop="drying bean")
    day = LENT_ON
    made = {}
    for number in range(TOGETHER):
        member = make_member(f"grower {number}")
        loan = lend_packet(packet=make_packet(variety), borrower=member, on=day, by=desk)
        made[member.email] = loan.pk
    return made


def day_of_round(number: int) -> dt.date:
    """Another day for each round, all within the time in which a loan is called to mind.

    Not the day by which the seed is ripe: the letters of all rounds name it.
    """
    day = timezone.localdate() + dt.timedelta(days=18 - number)
    return day if day > RIPE_BY else day - dt.timedelta(days=1)


def ask_worker(processes: Processes, job: str) -> None:
    """What beat does at its time; here it need not be waited for. A Redis away is let be."""
    url = processes.environment["REDIS_URL"]
    try:
        with app.connection_for_write(url) as broker:
            app.send_task(
                "library.config.tasks.run_periodic", [job], queue=QUEUE, routing_key=QUEUE,
                connection=broker, retry=False,
            )  # fmt: skip
    except Exception:  # noqa: S110 (whatever a broker that is down raises)
        pass


def let_time_pass(library: Library, processes: Processes, turn: int, *, ask: bool) -> None:
    """Hours pass in a second: what waits for its time need not wait for it.

    A planner that is killed is made good by the next hour's planning, so an hour passes too.
    """
    library.let_waits_pass()
    library.let_claims_of_the_dead_pass()
    processes.supervise()
    if turn % 4 == 3:
        library.plan_again()
    if ask:  # beat would in five seconds, and in a minute; 200 rounds cannot wait so often
        library.sweep_again()
        for job in ("plan reminders", "sweep outbox"):
            ask_worker(processes, job)


def wait_until_all_came(library, processes, mail, due, *, ask: bool) -> bool:
    """All that is due has come, or patience is at an end."""
    turns = itertools.count()

    def came() -> bool:
        let_time_pass(library, processes, next(turns), ask=ask)
        return all_arrived(mail, due)

    return wait_for(came, pause=0.7)


# Celery, beat, the web server and Redis -----------------------------------------------------


VICTIMS = [
    "worker",
    "redis away",
    "worker's child",
    "redis emptied",
    "web",
    "beat",
    "worker's main",
    "redis",
    "nobody",
]
if "SOWBACK_FAULT_VICTIMS" in os.environ:  # only these, separated by commas
    VICTIMS = os.environ["SOWBACK_FAULT_VICTIMS"].split(",")


def strike(victim: str, processes: Processes, dice: random.Random) -> None:
    match victim.replace("'s", "").split():
        case ["nobody"]:
            pass
        case [name, "child"]:
            processes.kill_child(name, dice)
        case [name, "main"]:
            processes.kill_main(name)
        case ["redis", "emptied"]:
            port = str(processes.redis_port)
            subprocess.run(["redis-cli", "-p", port, "flushall"], check=True, timeout=10)
        case ["redis", "away"]:
            processes.kill("redis")
            time.sleep(REDIS_AWAY_S)
        case [name]:
            processes.kill(name)


class Inviting:
    """A coordinator who invites people over the web: each invitation is a mail of its cause."""

    def __init__(self, processes: Processes, coordinator) -> None:
        client = Client()
        client.force_login(coordinator)
        self.session = client.cookies[real_settings.SESSION_COOKIE_NAME].value
        self.port = processes.web_port
        self.asked = 0

    def invite(self) -> None:
        self.asked += 1
        secret = "a" * 32
        body = f"email=guest-{self.asked}@example.org&role=member&csrfmiddlewaretoken={secret}"
        cookie = f"{real_settings.SESSION_COOKIE_NAME}={self.session}; csrftoken={secret}"
        headers = {"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}
        door = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        # Killed in the midst of it: whether it was done, the tables know.
        with contextlib.suppress(OSError, http.client.HTTPException):
            door.request("POST", "/members/invite/", body, headers)
            door.getresponse().read()
        door.close()

    def go_on(self, until: threading.Event) -> None:
        for _ in range(8):
            if until.is_set():
                return
            self.invite()
            until.wait(0.1)


def test_every_reminder_arrives_whoever_of_served_mode_is_killed(
    served, mail, loans, make_member
):
    dice, tally, library = random.Random(SEED), Tally(), Library()
    coordinator = make_member("owl", role=Role.COORDINATOR)
    for name in ("redis", "worker", "beat", "web"):
        served.start(name)
    assert wait_for(lambda: answers(served.web_port)), served.log("web")
    inviting = Inviting(served, coordinator)
    victims = [VICTIMS[n % len(VICTIMS)] for n in range(SERVED_ROUNDS)]

    for number, victim in enumerate(victims):
        due = dict.fromkeys(loans, day_of_round(number))
        for address, day in due.items():
            library.make_due(loans[address], day)
        library.plan_again()
        ask_worker(served, "plan reminders")
        enough = threading.Event()
        guests = threading.Thread(target=inviting.go_on, args=[enough])
        guests.start()
        time.sleep(dice.uniform(0, 1.5))
        strike(victim, served, dice)
        enough.set()
        guests.join()
        for name in served.commands:
            served.again(name)
        assert wait_until_all_came(library, served, mail, due, ask=True), (
            f"round {number}, {victim} killed, seed {SEED}: {library.states()}\n"
            f"{served.log('worker')}\n{served.log('beat')}"
        )
        tally.rounds += 1
        tally.killed[victim] += 1

    mail.be_kind()
    settle(library, served)
    for number in range(SERVED_ROUNDS):
        day = day_of_round(number)
        for address in loans:
            tally.count(address, day, mail.letters_to(address, words_of(day)))
    invited = set(Invitation.objects.values_list("email", flat=True))
    print(f"\nEnded by themselves and started again: {dict(served.ended)}")
    print(f"Served: {tally}; {len(invited)} invited of {inviting.asked} asked; {mail.did}")
    assert (tally.lost, tally.told_twice) == ([], [])
    assert tally.duplicates <= mail.did["takes it and hangs up"] + tally.rounds
    # What was committed is sent, what was not is not.
    assert {to for to in mail.letters if to.startswith("guest-")} == invited
    assert invited


def settle(library: Library, processes: Processes) -> None:
    """Nothing waits any more."""

    def done() -> bool:
        library.let_waits_pass()
        library.let_claims_of_the_dead_pass()
        return not Message.objects.waiting().exists()

    assert wait_for(done, pause=0.4), library.states()


def test_two_beats_and_five_workers_send_each_reminder_once(served, mail, loans):
    mail.be_kind()
    library, day = Library(), day_of_round(0)
    for loan in loans.values():
        library.make_due(loan, day)
    mail.unknown.add(gone := next(iter(loans)))
    queue_many(30)
    served.start("redis")
    assert wait_for(lambda: answers(served.redis_port))
    ask_worker(served, "plan reminders")  # beat would, after its first minute
    for number in range(5):
        command = [
            *CELERY,
            "worker",
            "--concurrency=1",
            "-n",
            f"w{number}@%h",
            "--loglevel=INFO",
        ]
        served.start(f"worker {number}", *command)
    for number in range(2):
        schedule = str(served.folder / f"schedule-{number}")
        served.start(f"beat-{number}", *CELERY, "beat", "-s", schedule)

    due = {address: day for address in loans if address != gone}
    came = wait_for(lambda: all_arrived(mail, due) and not Message.objects.waiting().exists())
    time.sleep(6)  # another turn of the sweep

    assert came, library.states()
    for address in due:
        assert len(mail.letters_to(address, words_of(day))) == 1
    assert len(mail.letters["wren@example.org"]) == 30
    (refused,) = Message.objects.filter(failed_at__isnull=False)
    assert (refused.to, refused.attempts) == (gone, 1)
    assert "550" in refused.last_error


def queue_many(how_many: int) -> None:
    for number in range(how_many):
        queue_mail(
            to="wren@example.org", subject="Hello", text="Seed.", message_key=f"a{number}"
        )


# The embedded runner --------------------------------------------------------------------------


MAKE_LOANS = f"""
import datetime as dt
from accounts.models import Member
from accounts.roles import Role
from library.catalogue.models import Crop
from library.catalogue.services import add_variety
from library.lending.services import lend_packet
from library.stock import services as stock
day = dt.date(2025, 10, 2)
def member(name, role=Role.MEMBER):
    return Member.objects.create_user(f"{{name}}@example.org", "a-long-password",
        display_name=name, role=role, membership="approved")
desk = member("heron", Role.DESK)
variety = add_variety(crop=Crop.objects.get(name="drying bean"), name="Tarn Kettle",
    breeding_status="open-pollinated", by=desk)
lot = stock.receive_lot(variety=variety, seeds=5000, origin="deposit", on=day, by=desk)
packets = stock.pack(lot=lot, packets={TOGETHER}, seeds_each=20, on=day, by=desk)
for number, packet in enumerate(lot.packets.all()):
    who = member(f"grower-{{number}}")
    print(who.email, lend_packet(packet=packet, borrower=who, on=day, by=desk).pk)
"""


@pytest.fixture
def embedded(mail, free_port, tmp_path):
    """``manage.py serve`` on a SQLite file of its own."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    environment = kept | {
        "SOWBACK_DATA_DIR": str(tmp_path),
        "EMAIL_URL": f"smtp://127.0.0.1:{mail.port}",
        "PYTHONUNBUFFERED": "1",
    }
    processes = Processes(environment, tmp_path)
    processes.web_port = free_port()
    processes.start("serve", PYTHON, "manage.py", "serve", "--port", str(processes.web_port))
    yield processes
    processes.stop()


def shell(processes: Processes, code: str) -> str:
    done = subprocess.run(
        [PYTHON, "-c", f"import django; django.setup()\n{code}"],
        cwd=ROOT,
        env=processes.environment | {"DJANGO_SETTINGS_MODULE": "library.config.settings"},
        check=True,
        capture_output=True,
        text=True,
    )
    return done.stdout


def test_every_reminder_arrives_however_often_the_embedded_server_is_killed(
    embedded, mail, tmp_path
):
    dice, tally = random.Random(SEED), Tally()
    up = lambda: answers(embedded.web_port)  # noqa: E731
    assert wait_for(up), embedded.log("serve")
    loans = dict(line.split() for line in shell(embedded, MAKE_LOANS).splitlines())
    library = SqliteLibrary(tmp_path / "library.sqlite3")

    for number in range(EMBEDDED_ROUNDS):
        due = dict.fromkeys(loans, day_of_round(number))
        for address, day in due.items():
            library.make_due(int(loans[address]), day)
        library.plan_again()
        time.sleep(dice.uniform(0, 7))
        embedded.kill("serve")
        embedded.again("serve")
        assert wait_until_all_came(library, embedded, mail, due, ask=False), (
            f"round {number}, seed {SEED}: {library.states()}\n{embedded.log('serve')}"
        )
        tally.rounds += 1
        tally.killed["runner and web in one"] += 1

    for number in range(EMBEDDED_ROUNDS):
        for address in loans:
            day = day_of_round(number)
            tally.count(address, day, mail.letters_to(address, words_of(day)))
    print(f"\nEmbedded: {tally}; {mail.did}")
    assert (tally.lost, tally.told_twice) == ([], [])
    assert tally.duplicates <= mail.did["takes it and hangs up"] + tally.rounds
