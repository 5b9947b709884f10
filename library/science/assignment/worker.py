"""Works out a plan in a process of its own: ``python -m library.science.assignment.worker``.

A season as one line of JSON comes on standard input, with ``seconds``; on standard output go
lines of JSON: what the ways by hand come to, each stage, and at last the plan or the pins that
clash. The process ends when its input or output is closed and when its parent is gone, so that
it outlives nobody.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from typing import Any

from library.science.assignment import (
    PinsClash,
    Season,
    assign,
    everyone_first,
    possible_pairs,
    rarest_first,
)
from library.science.assignment.beside import end_with_parent
from library.science.assignment.files import plan_to_json, season_from_json, stage_to_json


def main() -> int:
    end_with_parent()
    told = sys.stdin.readline()
    if not told.endswith("\n"):
        return 1  # who asked ended in the middle of it
    _end_with_input()
    asked = json.loads(told)
    season = season_from_json(asked["season"])
    try:
        _say({"by_hand": _by_hand(season)})
        plan = assign(
            season,
            seconds=float(asked["seconds"]),
            report=lambda stage: _say({"stage": stage_to_json(stage)}),
        )
    except PinsClash as clash:
        _say({"clash": [[v, g, why.value] for (v, g), why in clash.clashes.items()]})
        return 0
    _say({"plan": plan_to_json(plan)})
    return 0


def _by_hand(season: Season) -> dict[str, Any]:
    """What the ways of doing it by hand come to, told first: a plan may be stopped soon."""
    try:
        pairs = possible_pairs(season)
        plans = [way(pairs, season.pinned) for way in (rarest_first, everyone_first)]
    except ValueError:
        return {}  # the pins clash, as the solver will say pair by pair
    names = (rarest_first.__name__, everyone_first.__name__)
    return {n: _judged(season, sheet.chosen) for n, sheet in zip(names, plans, strict=True)}


def _judged(season: Season, chosen: frozenset) -> dict[str, float]:
    return {"covered": len({v for v, _g in chosen}), "loss": season.loss_of(chosen)}


def _say(told: dict[str, Any]) -> None:
    try:
        sys.stdout.write(json.dumps(told) + "\n")
        sys.stdout.flush()
    except BrokenPipeError:
        os._exit(1)


def _end_with_input() -> None:
    """End when standard input is closed: who asked holds it open for as long as they listen.

    So also when they were gone before Linux was asked to tell, and where there is no Linux.
    """

    def wait() -> None:
        while os.read(sys.stdin.fileno(), 4096):
            pass
        os._exit(1)

    threading.Thread(target=wait, daemon=True).start()


if __name__ == "__main__":
    sys.exit(main())
