"""A plan is worked out in the background, may be stopped, and survives whoever worked on it.

The solver is a process of its own that knows no database. Whoever runs the plan reads its
stages, writes the best so far in short transactions, and looks whether somebody asked to stop:
then the solver is ended and its last stage is the plan. A plan whose worker has not been heard
of is taken up again.
"""

from __future__ import annotations

import datetime as dt
import json
import logging
import queue
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import close_old_connections, transaction
from django.db.models import Q
from django.utils import timezone

from library.growouts.models import Plan
from library.growouts.plans.results import keep_clash, keep_failure, keep_result
from library.outbox import worker as this_process

log = logging.getLogger(__name__)

SILENT_FOR = dt.timedelta(seconds=45)  # then its worker is taken to be dead
LOOKS_EVERY_S = 1.0
GIVES_UP_AFTER_S = 60.0  # past the time that it was given
COMMAND = [sys.executable, "-m", "library.science.assignment.worker"]
State = Plan.State


def claim_next(*, worker: str) -> Plan | None:
    """Take a plan that waits, or whose worker died; of any number who ask, one gets it."""
    now = timezone.now()
    silent = Q(state=State.SOLVING) & (Q(heard_at=None) | Q(heard_at__lt=now - SILENT_FOR))
    waiting = Plan.objects.filter(Q(state=State.WAITING) | silent).order_by("pk")
    for pk in list(waiting.values_list("pk", flat=True)):
        mine = Plan.objects.filter(Q(state=State.WAITING) | silent, pk=pk)
        if mine.update(state=State.SOLVING, worker=worker, started_at=now, heard_at=now):
            return Plan.objects.select_related("season").get(pk=pk)
    return None


def work_on(plan: Plan) -> None:
    """Work a claimed plan out to its end. Never call it in a transaction: it takes a minute."""
    try:
        _Work(plan).run()
    except _GivenUp:
        return
    except Exception as error:
        log.exception("The plan %s failed.", plan.pk)
        keep_failure(plan, f"{type(error).__name__}: {error}"[:2000])


def begin_in_background(*, worker: str) -> bool:
    """Claim a plan and work on it in a thread; False when none waits."""
    plan = claim_next(worker=worker)
    if plan is None:
        return False
    threading.Thread(target=_in_thread, args=[plan], name="plan", daemon=True).start()
    return True


def _in_thread(plan: Plan) -> None:
    close_old_connections()
    try:
        work_on(plan)
    finally:
        close_old_connections()


class _GivenUp(Exception):
    """This process works on the plan no longer; another will."""


class _Work:
    """One solver process, and what it has said so far."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.lines: queue.Queue[dict[str, Any] | None] = queue.Queue()
        self.best: dict[str, Any] | None = None
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
        for line in out:
            self.lines.put(json.loads(line))
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
                return keep_result(self.plan, told["plan"], stopped=False)
            self.best = told.get("stage", self.best)
            if self._is_over():
                return self._keep_best()

    def _is_over(self) -> bool:
        """Note that we live and what is best so far; whether to end now."""
        if this_process.stopping.is_set():
            # Whoever runs next takes it up again, from the beginning.
            Plan.objects.filter(pk=self.plan.pk).update(state=State.WAITING, heard_at=None)
            raise _GivenUp
        if self._note() == 0:
            raise _GivenUp  # somebody else took it, since we were silent too long
        asked = Plan.objects.filter(pk=self.plan.pk, stop_asked_at__isnull=False)
        return asked.exists() or time.monotonic() > self.ends

    def _note(self) -> int:
        mine = Plan.objects.filter(
            pk=self.plan.pk, state=State.SOLVING, worker=self.plan.worker
        )
        facts: dict[str, Any] = {"heard_at": timezone.now()}
        if self.best is not None:
            facts |= {
                "stage": self.best["name"],
                "best": self.best["chosen"],
                "covered": self.best["covered"],
                "cost": self.best["cost"],
                "bound": self.best["bound"],
            }
        with transaction.atomic():
            return mine.update(**facts)

    def _keep_best(self) -> None:
        if self.best is None:
            return keep_failure(self.plan, "It was stopped before anything was found.")
        return keep_result(self.plan, self.best, stopped=True)

    def _why_it_ended(self, process: subprocess.Popen) -> str:
        return f"The solver ended with {process.wait()} before it had a plan."
