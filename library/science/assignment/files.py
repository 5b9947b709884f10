"""A season and the stages of its plan as plain JSON, to hand to another process and to keep."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import Any

from library.science.assignment.plan import Plan, Stage
from library.science.assignment.season import (
    Grower,
    OfferedGarden,
    Planting,
    Season,
    WantedVariety,
)
from library.science.isolation import Pollination, Technique


def season_to_json(season: Season) -> dict[str, Any]:
    """Everything of a season; the same season comes back by ``season_from_json``."""
    return {
        "varieties": [asdict(one) for one in season.varieties],
        "gardens": [
            asdict(one) | {"techniques": sorted(one.techniques)} for one in season.gardens
        ],
        "growers": [asdict(one) for one in season.growers],
        "plantings": [asdict(one) for one in season.plantings],
        "pinned": sorted(map(list, season.pinned)),
        "forbidden": sorted(map(list, season.forbidden)),
        "apart_m": season.apart_m,
        "fairness": season.fairness,
    }


def season_from_json(told: Mapping[str, Any]) -> Season:
    """The season that was told. Raises ValueError or KeyError for what is none."""
    return Season(
        varieties=tuple(
            _made(WantedVariety, one, pollination=Pollination(one["pollination"]))
            for one in told["varieties"]
        ),
        gardens=tuple(
            _made(OfferedGarden, one, techniques=frozenset(map(Technique, one["techniques"])))
            for one in told["gardens"]
        ),
        growers=tuple(_made(Grower, one) for one in told["growers"]),
        plantings=tuple(_made(Planting, one) for one in told["plantings"]),
        pinned=frozenset((v, g) for v, g in told["pinned"]),
        forbidden=frozenset((v, g) for v, g in told["forbidden"]),
        apart_m=told["apart_m"],
        fairness=told["fairness"],
    )


def _made(kind: type, told: Mapping[str, Any], **instead: Any) -> Any:
    names = {one.name for one in fields(kind)}
    return kind(**{name: told[name] for name in names & told.keys()} | instead)


def stage_to_json(stage: Stage) -> dict[str, Any]:
    return {
        "name": stage.name,
        "chosen": sorted(map(list, stage.chosen)),
        "covered": stage.covered,
        "cost": stage.cost,
        "bound": _finite(stage.bound),
    }


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """What is kept of a finished plan; not its season."""
    return {
        "chosen": sorted(map(list, plan.chosen)),
        "covered": plan.covered,
        "could_be_covered": plan.could_be_covered,
        "most_covered": plan.most_covered,
        "loss": plan.loss,
        "cost": plan.cost,
        "bound": _finite(plan.bound),
        "gap": _finite(plan.gap),
        "all_pairs": plan.all_pairs,
        "method": plan.method,
        "stopped": plan.stopped,
    }


def _finite(number: float | None) -> float | None:
    return number if number is not None and math.isfinite(number) else None
