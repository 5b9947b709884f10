"""What a plan came to, kept with the reasons."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils import timezone

from accounts.models import Garden
from library.catalogue.models import Variety
from library.growouts.models import LeftOut, Plan, PlannedPair
from library.growouts.plans.given import number_of, variety_key
from library.growouts.plans.reasons import reasons_for
from library.science.assignment import Season, possible_pairs
from library.science.assignment.files import season_from_json

State = Plan.State


def keep_result(plan: Plan, told: dict[str, Any], *, stopped: bool) -> None:
    """The plan is done, or was stopped with its best so far: keep its pairs and the reasons.

    What is explained is worked out before the transaction: it takes seconds for large seasons.
    """
    season = season_from_json(plan.given)
    chosen = frozenset((v, g) for v, g in told["chosen"])
    pairs, left = reasons_for(season, chosen)
    no_seed = plan.given.get("notes", {}).get("without_seed", ())
    left |= {variety_key(pk): {"no_seed": True} for pk in no_seed}
    facts = _facts(season, told, chosen, stopped)
    with transaction.atomic():
        if not _mine(plan).update(**facts):
            return
        _write_pairs(plan, season, pairs)
        _write_left_out(plan, left)


def keep_clash(plan: Plan, clashes: list[list[str]]) -> None:
    """What is pinned cannot be: kept with what stands in the way of each pair."""
    _mine(plan).update(
        state=State.FAILED, finished_at=timezone.now(), trouble={"clash": clashes}
    )


def keep_failure(plan: Plan, why: str) -> None:
    _mine(plan).update(state=State.FAILED, finished_at=timezone.now(), trouble={"failed": why})


def _mine(plan: Plan):
    return Plan.objects.filter(pk=plan.pk, state=State.SOLVING, worker=plan.worker)


def _facts(
    season: Season, told: dict[str, Any], chosen: frozenset, stopped: bool
) -> dict[str, Any]:
    cost, bound = season.cost_of(chosen), told.get("bound")
    could = told.get("could_be_covered")
    if could is None:
        could = len(possible_pairs(season).by_variety)
    covered = len({v for v, _g in chosen})
    most = told.get("most_covered", could if covered == could else None)
    gap = told.get("gap")
    if gap is None and bound is not None and most == covered and cost:
        gap = max(0.0, cost - bound) / cost
    return {
        "state": State.STOPPED if stopped or told.get("stopped") else State.DONE,
        "finished_at": timezone.now(),
        "best": sorted(map(list, chosen)),
        "covered": covered,
        "could_be_covered": could,
        "most_covered": most,
        "loss": season.loss_of(chosen),
        "cost": cost,
        "bound": bound,
        "gap": gap,
        "all_pairs": told.get("all_pairs", True),
        "method": told.get("method", "stopped"),
        "by_hand": told.get("by_hand", {}),
        "trouble": {},
    }


def _write_pairs(plan: Plan, season: Season, pairs: dict) -> None:
    """Gardens and varieties that were removed meanwhile are left out."""
    gardens = set(
        Garden.objects.filter(pk__in={number_of(g) for _v, g in pairs}).values_list(
            "pk", flat=True
        )
    )
    varieties = set(
        Variety.objects.filter(pk__in={number_of(v) for v, _g in pairs}).values_list(
            "pk", flat=True
        )
    )
    PlannedPair.objects.bulk_create(
        PlannedPair(
            plan=plan,
            variety_id=number_of(v),
            garden_id=number_of(g),
            technique=why["technique"],
            pinned=(v, g) in season.pinned,
            why=why,
        )
        for (v, g), why in sorted(pairs.items())
        if number_of(g) in gardens and number_of(v) in varieties
    )


def _write_left_out(plan: Plan, left: dict[str, dict[str, Any]]) -> None:
    known = set(
        Variety.objects.filter(pk__in=map(number_of, left)).values_list("pk", flat=True)
    )
    LeftOut.objects.bulk_create(
        LeftOut(plan=plan, variety_id=number_of(v), why=why)
        for v, why in sorted(left.items())
        if number_of(v) in known
    )
