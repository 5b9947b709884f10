"""A plan is worked out in the background, may be stopped, and survives whoever worked on it.

The solver is a process of its own that knows no database. Whoever runs the plan reads its
stages, writes the best so far in short transactions, and looks whether somebody asked to stop:
then the solver is ended and its last stage is the plan. A plan whose worker has not been heard
of is taken up again, a few times at most: what ends every worker is given up.
"""

from __future__ import annotations

import datetime as dt
import json
import logging
import os
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Collection
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connections
from django.db.models import Q
from django.utils import timezone

from library.growouts.models import Plan
from library.growouts.plans.results import keep_clash, keep_failure, keep_result
from library.outbox import worker as this_process
from library.science.assignment.files import season_from_json

log = logging.getLogger(__name__)

SILENT_FOR = dt.timedelta(seconds=45)  # then its worker is taken to be dead
LOOKS_EVERY_S = 1.0
GIVES_UP_AFTER_S = 60.0  # past the time that it was given
MOST_TRIES = 3  # workers that may die of one plan
COMMAND = [sys.executable, "-m", "library.science.assignment.worker"]
State = Plan.State


def claim_next(*, worker: str, here: Collection[int] | None = None) -> Plan | None:
    """Take a plan that waits, or whose worker died; of any number who ask, one gets it.

    ``here`` are the plans that this process works on, told by a process that is alone under its
    name: what else is claimed under it was left by a process that is gone.
    """
    now = timezone.now()
    dead = Q(heard_at=None) | Q(heard_at__lt=now - SILENT_FOR)
    if here is not None:
        dead |= Q(worker=worker) & ~Q(pk__in=here)
    free = Q(state=State.WAITING) | Q(state=State.SOLVING) & dead
    for pk, trouble, state in list(_facts_of(Plan.objects.filter(free).order_by("pk"))):
        tries = trouble.get("tries", 0) + (state == State.SOLVING)
        mine = Plan.objects.filter(free, pk=pk)
        if tries >= MOST_TRIES:
            mine.update(**_given_up(now))
        elif mine.update(
            state=State.SOLVING,
            worker=worker,
            started_at=now,
            heard_at=now,
            trouble={"tries": tries},
        ):
            return Plan.objects.select_related("season").get(pk=pk)
    return None


def _facts_of(plans: Any) -> Any:
    return plans.values_list("pk", "trouble", "state")


def _given_up(now: dt.datetime) -> dict[str, Any]:
    why = f"its worker ended {MOST_TRIES} times in the middle of it"
    return {"state": State.FAILED, "finished_at": now, "trouble": {"failed": why}}


def work_on(plan: Plan) -> None:
    """Work a claimed plan out to its end. Never call it in a transaction: it takes a minute."""
    try:
        if plan.stop_asked_at is not None and plan.best:
            keep_result(plan, _best_of(plan), stopped=True)  # its worker died on the way there
        else:
            _Work(plan).run()
    except _GivenUp:
        return
    except Exception as error:
        log.exception("The plan %s failed.", plan.pk)
        keep_failure(plan, f"{type(error).__name__}: {error}"[:2000])


def _best_of(plan: Plan) -> dict[str, Any]:
    """The best so far as it was written down, like a stage."""
    return {
        "name": plan.stage,
        "chosen": plan.best,
        "covered": plan.covered,
        "cost": plan.cost,
        "bound": plan.bound,
        "by_hand": plan.by_hand,
    }


_here: set[int] = set()  # the plans that threads of this process work on


def begin_in_background(*, worker: str) -> bool:
    """Claim a plan and work on it in a thread; False when none waits.

    For the embedded runner, which is alone under its name.
    """
    plan = claim_next(worker=worker, here=_here)
    if plan is None:
        return False
    _here.add(plan.pk)
    # No daemon: a process that ends waits the moment until the plan is handed back.
    threading.Thread(target=_in_thread, args=[plan], name="plan", daemon=False).start()
    return True


def _in_thread(plan: Plan) -> None:
    try:
        work_on(plan)
    finally:
        _here.discard(plan.pk)
        connections.close_all()


class _GivenUp(Exception):
    """This process works on the plan no longer; another will."""


class _Work:
    """One solver process, and what it has said so far."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.lines: queue.Queue[dict[str, Any] | None] = queue.Queue()
        self.best: dict[str, Any] | None = _best_of(plan) if plan.best else None
        self.by_hand: dict[str, Any] = plan.by_hand
        self.season = season_from_json(plan.given)
        self.ends = time.monotonic() + plan.seconds + GIVES_UP_AFTER_S

    def run(self) -> None:
        with self._start() as process:
            listener = threading.Thread(target=self._listen, args=[process.stdout], daemon=True)
            listener.start()
            try:
                self._ask(process)
                self._follow(process)
            finally:
                process.kill()
                listener.join()

    def _start(self) -> subprocess.Popen:
        return subprocess.Popen(  # noqa: S603 (our own module)
            COMMAND,
            cwd=Path(settings.BASE_DIR),
            # machine code is kept where we may write for certain
            env={"NUMBA_CACHE_DIR": str(settings.MACHINE_CODE_DIR)} | os.environ,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def _ask(self, process: Any) -> None:
        asked = {"season": self.plan.given, "seconds": self.plan.seconds}
        try:
            process.stdin.write(json.dumps(asked) + "\n")
            process.stdin.flush()
        except BrokenPipeError:
            return  # it ended already; the listener hears of it

    def _listen(self, out: Any) -> None:
        try:
            for line in out:
                self.lines.put(json.loads(line))
        except ValueError:
            log.warning("The solver was cut short in the middle of a line.")
        self.lines.put(None)

    def _follow(self, process: subprocess.Popen) -> None:
        while True:
            try:
                told = self.lines.get(timeout=LOOKS_EVERY_S)
            except queue.Empty:
                told = {}
            if told is None:
                return keep_failure(self.plan, self._why_it_ended(process))
            if "clash" in told:
                return keep_clash(self.plan, told["clash"])
            if "plan" in told:
                plan = told["plan"] | {"by_hand": self.by_hand}
                return keep_result(self.plan, plan, stopped=False)
            self._hear(told)
            if self._is_over():
                return self._keep_best()

    def _hear(self, told: dict[str, Any]) -> None:
        """What was better before the plan was taken up again stays the best so far."""
        self.by_hand = told.get("by_hand", self.by_hand)
        stage = told.get("stage")
        if stage is not None and (self.best is None or _rank(stage) <= _rank(self.best)):
            self.best = stage

    def _is_over(self) -> bool:
        """Note that we live and what is best so far; whether to end now."""
        if this_process.stopping.is_set() or not threading.main_thread().is_alive():
            # Whoever runs next takes it up again, from the beginning.
            self._mine().update(state=State.WAITING, heard_at=None)
            raise _GivenUp
        if self._note() == 0:
            raise _GivenUp  # somebody else took it, since we were silent too long
        asked = Plan.objects.filter(pk=self.plan.pk, stop_asked_at__isnull=False)
        return asked.exists() or time.monotonic() > self.ends

    def _mine(self) -> Any:
        return Plan.objects.filter(
            pk=self.plan.pk, state=State.SOLVING, worker=self.plan.worker
        )

    def _note(self) -> int:
        """A sign of life, with the best so far: one short statement."""
        facts: dict[str, Any] = {"heard_at": timezone.now()}
        if self.best is not None:
            facts |= {
                "stage": self.best["name"],
                "best": self.best["chosen"],
                "covered": self.best["covered"],
                "loss": self.season.loss_of((v, g) for v, g in self.best["chosen"]),
                "cost": self.best["cost"],
                "bound": self.best["bound"],
                "by_hand": self.by_hand,
            }
        return self._mine().update(**facts)

    def _keep_best(self) -> None:
        if self.best is None:
            return keep_failure(self.plan, "It was stopped before anything was found.")
        return keep_result(self.plan, self.best | {"by_hand": self.by_hand}, stopped=True)

    def _why_it_ended(self, process: subprocess.Popen) -> str:
        return f"The solver ended with {process.wait()} before it had a plan."


def _rank(stage: dict[str, Any]) -> tuple[int, float]:
    """Less is better: more varieties with a grower first, then less loss."""
    return -stage["covered"], stage["cost"]
