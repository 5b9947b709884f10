"""Works out a plan in a process of its own: ``python -m library.science.assignment.worker``.

A season as JSON comes on standard input, with ``seconds``; on standard output goes a line of
JSON for each stage, and at last the plan or the pins that clash. The process ends when nobody
reads it any more, or when its parent is gone, so that it outlives nobody.
"""

from __future__ import annotations

import ctypes
import json
import os
import signal
import sys
import threading
import time
from typing import Any

from library.science.assignment import PinsClash, assign, everyone_first, possible_pairs
from library.science.assignment.files import plan_to_json, season_from_json, stage_to_json
from library.science.assignment.sheet import rarest_first

LOOKS_EVERY_S = 1.0
PR_SET_PDEATHSIG = 1  # prctl(2)


def main() -> int:
    asked = json.loads(sys.stdin.readline())
    _end_with_parent(os.getppid())
    season = season_from_json(asked["season"])
    try:
        pairs = possible_pairs(season)
        plan = assign(
            season,
            seconds=float(asked["seconds"]),
            report=lambda stage: _say({"stage": stage_to_json(stage)}),
        )
    except PinsClash as clash:
        _say({"clash": [[v, g, why.value] for (v, g), why in clash.clashes.items()]})
        return 0
    by_hand = {
        way.__name__: _judged(season, way(pairs, season.pinned).chosen)
        for way in (rarest_first, everyone_first)
    }
    _say({"plan": plan_to_json(plan) | {"by_hand": by_hand}})
    return 0


def _judged(season: Any, chosen: frozenset) -> dict[str, float]:
    return {"covered": len({v for v, _g in chosen}), "loss": season.loss_of(chosen)}


def _say(told: dict[str, Any]) -> None:
    try:
        sys.stdout.write(json.dumps(told) + "\n")
        sys.stdout.flush()
    except BrokenPipeError:
        os._exit(1)


def _end_with_parent(parent: int) -> None:
    """Linux ends us with our parent; elsewhere a thread looks, whenever the solver lets it."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(LOOKS_EVERY_S)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


if __name__ == "__main__":
    sys.exit(main())
