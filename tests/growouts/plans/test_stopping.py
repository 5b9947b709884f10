"""A plan that is stopped, and a solver that outlives nobody."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from library.growouts.models import Plan
from library.growouts.plans import running
from library.growouts.plans.running import claim_next
from library.growouts.services.plans import ask_plan, stop_plan
from library.outbox import worker as this_process
from library.science.assignment.files import season_to_json
from tests.growouts.conftest import TODAY
from tests.load.assignment import make_season

pytestmark = pytest.mark.django_db


@pytest.fixture
def large(season, offered, coordinator) -> Plan:
    """A plan that would take minutes."""
    plan = ask_plan(season=season, on=TODAY, by=coordinator, seconds=600)
    year = make_season(150, 150, seed=1)
    Plan.objects.filter(pk=plan.pk).update(given=season_to_json(year))
    return Plan.objects.get(pk=plan.pk)


@pytest.fixture
def in_thread():
    """Works on a claimed plan beside the test, as the embedded runner does."""
    threads = []

    def begin(plan: Plan) -> threading.Thread:
        thread = threading.Thread(target=running._in_thread, args=[plan], daemon=True)
        thread.start()
        threads.append(thread)
        return thread

    yield begin
    this_process.stopping.set()
    for thread in threads:
        thread.join(60)
    this_process.stopping.clear()


def wait_for_something(plan: Plan) -> None:
    ends = time.monotonic() + 90
    while not Plan.objects.get(pk=plan.pk).covered:
        assert time.monotonic() < ends, "The solver found nothing in a minute and a half."
        time.sleep(0.2)


@pytest.mark.django_db(transaction=True)
def test_a_plan_can_be_stopped_and_gives_its_best_so_far(large, coordinator, in_thread):
    thread = in_thread(claim_next(worker="w"))
    wait_for_something(large)

    stop_plan(plan=large, by=coordinator)
    thread.join(60)

    large.refresh_from_db()
    assert large.state == Plan.State.STOPPED
    assert large.covered > 50
    assert large.loss > 0
    assert set(large.by_hand) == {"rarest_first", "everyone_first"}
    assert (large.covered, -large.loss) >= (
        large.by_hand["everyone_first"]["covered"],
        -large.by_hand["everyone_first"]["loss"],
    )


@pytest.mark.django_db(transaction=True)
def test_others_write_while_a_plan_is_worked_on(large, in_thread, varieties):
    """Nothing slow in a transaction: on SQLite one would keep every other writer out."""
    in_thread(claim_next(worker="w"))
    waited = []
    ends = time.monotonic() + 6
    while time.monotonic() < ends:
        began = time.monotonic()
        varieties["bean"].save(update_fields=["is_rare"])
        waited.append(time.monotonic() - began)
        time.sleep(0.05)

    assert Plan.objects.get(pk=large.pk).state == Plan.State.SOLVING
    assert len(waited) > 20
    assert max(waited) < 2


@pytest.mark.django_db(transaction=True)
def test_a_server_that_stops_hands_the_plan_back_and_ends_its_solver(large, in_thread):
    thread = in_thread(claim_next(worker="w"))
    wait_for_something(large)
    (solver,) = children()

    this_process.stopping.set()
    thread.join(60)

    large.refresh_from_db()
    assert (large.state, thread.is_alive()) == (Plan.State.WAITING, False)
    assert large.covered
    assert not is_alive(solver)


def children() -> list[int]:
    """The solvers that this process has started and that live."""
    tasks = Path("/proc/self/task").glob("*/children")
    found = [int(pid) for task in tasks for pid in task.read_text().split()]
    return [pid for pid in found if is_alive(pid) and "assignment.worker" in command_of(pid)]


def command_of(pid: int) -> str:
    return Path(f"/proc/{pid}/cmdline").read_text().replace("\0", " ")


def asked_for_minutes() -> str:
    """A line for the solver that keeps it busy for long."""
    year = season_to_json(make_season(150, 150, 1))
    return json.dumps({"season": year, "seconds": 300}) + "\n"


def test_the_solver_does_not_outlive_who_asked_it():
    """Its parent is killed at once, before it has read anything; soon it is gone too."""
    asks = (
        "import subprocess, sys\n"
        f"child = subprocess.Popen({running.COMMAND!r}, stdin=subprocess.PIPE, text=True,"
        " stdout=subprocess.DEVNULL)\n"
        "child.stdin.write(sys.stdin.readline()); child.stdin.flush()\n"
        "print(child.pid, flush=True)\n"
        "child.wait()\n"
    )
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    with subprocess.Popen([sys.executable, "-c", asks], **pipes) as parent:
        parent.stdin.write(asked_for_minutes())
        parent.stdin.flush()
        child = int(parent.stdout.readline())
        parent.kill()

    assert_gone(child)


def test_the_solver_ends_when_nobody_listens_any_more():
    """Its input is closed in the middle of the work, while whoever asked lives on."""
    with subprocess.Popen(
        running.COMMAND, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as solver:
        solver.stdin.write(asked_for_minutes())
        solver.stdin.flush()
        assert "by_hand" in json.loads(solver.stdout.readline())
        solver.stdin.close()

        assert solver.wait(20) == 1


def test_a_line_that_was_cut_short_is_no_season():
    half = asked_for_minutes()[:1000]

    ended = subprocess.run(running.COMMAND, input=half, text=True, capture_output=True)

    assert (ended.returncode, ended.stdout, ended.stderr) == (1, "", "")


def assert_gone(pid: int) -> None:
    ends = time.monotonic() + 15
    while is_alive(pid) and time.monotonic() < ends:
        time.sleep(0.2)
    assert not is_alive(pid)


def is_alive(pid: int) -> bool:
    try:
        with open(f"/proc/{pid}/stat") as status:
            return status.read().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False
