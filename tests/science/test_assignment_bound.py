"""The bound on a season's plan against every plan there is, at prices good and bad."""

from __future__ import annotations

import dataclasses
import math
import random
from types import SimpleNamespace

import numpy as np
import pytest

from library.science.assignment import Grower, Season, Sheet, assign, covering, possible_pairs
from library.science.assignment.ascent import Ascent
from library.science.assignment.beside import Beside
from library.science.assignment.frame import counted, frame_of
from library.science.assignment.market import Market
from library.science.assignment.pairs import Pairs
from library.science.assignment.proof import least_beside, prove
from library.science.assignment.relaxed import Relaxed
from library.science.assignment.rounding import regret, rounded
from tests.science.test_assignment import broken_rules, random_season, value

PLANS = 4000  # seasons with more plans than this are not tried whole


@pytest.fixture(scope="module", autouse=True)
def _machine_code():
    """Made before any test counts seconds: on a new machine that takes some."""
    frame = frame_of(possible_pairs(random_season(random.Random(2))))
    Ascent(frame, np.flatnonzero(frame.free.reshape(-1)), 0).climb(1.0, math.inf, lambda: False)


def varied(seed: int) -> Season:
    """A small season; some with pins, growers who want many, and varieties that want three."""
    chance = random.Random(seed)
    instance = random_season(chance, varieties=3 + seed % 2, gardens=3 + (seed % 5 == 0))
    if seed % 3 == 0:
        instance = dataclasses.replace(
            instance,
            varieties=tuple(
                dataclasses.replace(v, most_growers=chance.choice([1, 2, 3]))
                for v in instance.varieties
            ),
            growers=tuple(
                dataclasses.replace(g, most=chance.choice([1, 3, 5])) for g in instance.growers
            ),
            fairness=chance.choice([0.0, 1e-4, 0.05]),
        )
    if seed % 4 == 0:
        possible = sorted(possible_pairs(instance).possible)
        pinned = frozenset(chance.sample(possible, min(1, len(possible))))
        instance = dataclasses.replace(instance, pinned=pinned)
    return instance


def every_plan(instance: Season) -> list[frozenset[tuple[str, str]]] | None:
    """All plans that break no rule and keep the pins; None where there are too many."""
    bare = dataclasses.replace(instance, pinned=frozenset())
    pairs = [(v.key, g.key) for v in instance.varieties for g in instance.gardens]
    alone = [pair for pair in pairs if not broken_rules(bare, [pair])]
    plans: list[frozenset[tuple[str, str]]] = []

    def extend(chosen: list[tuple[str, str]], start: int) -> None:
        plans.append(frozenset(chosen))
        for i in range(start, len(alone)):
            if len(plans) <= PLANS and not broken_rules(bare, [*chosen, alone[i]]):
                extend([*chosen, alone[i]], i + 1)

    extend([], 0)
    if len(plans) > PLANS:
        return None
    return [plan for plan in plans if instance.pinned <= plan]


def countable(seed: int) -> tuple[Season, list[frozenset], Pairs]:
    """A season of this seed with something to plan, and few enough plans to try them all."""
    while True:
        instance = varied(seed)
        plans, pairs = every_plan(instance), possible_pairs(instance)
        if plans is not None and pairs.possible:
            return instance, plans, pairs
        seed += 1000


@pytest.mark.parametrize("seed", range(200))
def test_no_plan_undercuts_the_bound_at_whatever_prices(seed):
    instance, plans, pairs = countable(seed)
    frame, chance = frame_of(pairs), np.random.default_rng(seed)
    free = np.flatnonzero(frame.free.reshape(-1))
    values = [value(instance, plan) for plan in plans]
    for covered in {max(n for n, _cost in values), max(0, max(n for n, _cost in values) - 1)}:
        as_many = {
            plan: cost for plan, (n, cost) in zip(plans, values, strict=True) if n >= covered
        }
        best = min(as_many.values())
        for size in (0.0, 0.1, 0.5):
            priced = free[chance.random(len(free)) < chance.choice([0.3, 0.7, 1.0])]
            relaxed = Relaxed(frame, priced, len(frame.varieties) - covered)
            groups = sum(group.shape[1] for group in frame.groups)
            prices = chance.normal(size / 2, size + 1e-12, len(priced))
            proof = prove(relaxed, prices, np.abs(chance.normal(0, size, groups)))

            assert proof.bound <= best + 1e-12
            for number in free:
                with_it = [c for plan, c in as_many.items() if frame.pair(number) in plan]
                least = proof.bound + proof.dearer[number]
                assert least <= min(with_it, default=math.inf) + 1e-9


@pytest.mark.parametrize("seed", range(0, 200, 5))
def test_climbing_brings_the_bound_near_the_best_plan(seed):
    """Not all the way everywhere: agreeing on average is less than agreeing."""
    instance, plans, pairs = countable(seed)
    covered, cost = min((value(instance, plan) for plan in plans), key=lambda p: (-p[0], p[1]))
    frame = frame_of(pairs)
    ascent = climbed(frame, len(frame.varieties) - covered, cost)
    fewest = climbed(counted(frame), len(frame.varieties), len(frame.varieties)).bound

    exact = seed % 3  # nobody may have three growers, nobody wants more than three varieties
    assert (0.85 if exact else 0.5) * cost - 1e-9 <= ascent.bound <= cost + 1e-12
    assert len(frame.varieties) - covered >= fewest
    assert broken_rules(instance, rounded(ascent)) == []
    lost = regret(ascent, rounded(ascent))
    assert all(amount >= 0 for amount in [*lost.of_variety.values(), *lost.of_garden.values()])


def climbed(frame, most_without, above) -> Ascent:
    market = Market(frame, most_without)
    steps = iter(range(300))
    market.run(above, math.inf, lambda: next(steps, None) is None)
    ascent = Ascent.after(market)
    for _turn in range(4):
        more = iter(range(200))
        ascent.climb(above, math.inf, lambda more=more: next(more, None) is None)
        ascent.widen(ascent.prove())
    return ascent


@pytest.mark.parametrize("seed", range(6))
def test_larger_seasons_are_planned_in_spells_and_every_report_holds(seed):
    """More pairs than the solver takes at once: the plan gets better while the bound rises."""
    instance = random_season(random.Random(seed), varieties=45, gardens=40, spread=12_000)
    pairs = possible_pairs(instance)
    assert len(pairs.possible) > 600
    stages = []

    plan = assign(instance, seconds=12, report=stages.append)

    assert broken_rules(instance, plan.chosen) == []
    assert "bound" in {stage.name for stage in stages}
    assert plan.bound is not None
    assert plan.bound > plan.cost / 2
    keys = [(-stage.covered, stage.cost) for stage in stages]
    assert keys == sorted(keys, reverse=True)
    for stage in stages:
        Sheet(pairs, stage.chosen)
        assert stage.bound is None or stage.bound <= plan.cost
    assert plan.most_covered is not None
    assert plan.most_covered >= plan.covered


def test_work_ends_soon_after_it_is_stopped():
    import time

    instance = random_season(random.Random(3), varieties=60, gardens=60, spread=15_000)
    started = time.monotonic()

    plan = assign(instance, seconds=60, stopped=lambda: time.monotonic() - started > 3)

    assert plan.stopped
    assert time.monotonic() - started < 15
    assert broken_rules(instance, plan.chosen) == []


def test_a_grower_who_wants_many_is_bounded_by_wish_and_by_room():
    """Five wishes and room for all: the bound is what all five save."""
    from tests.science.test_assignment import garden, season, wanted

    kinds = [wanted(f"bean {n}", "bean", most_growers=1) for n in range(5)]
    instance = season(
        kinds, [garden("wide")], [Grower(key="ann", most=5, success=0.6)], fairness=0.0
    )
    frame = frame_of(possible_pairs(instance))
    relaxed = Relaxed(frame, np.flatnonzero(frame.free.reshape(-1)), 0)
    proof = prove(relaxed, np.zeros(5), np.zeros(0))

    assert proof.bound == pytest.approx(5 * 0.3 * 0.4, abs=1e-6)


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("most_pairs", [1, 4, 9, 10_000])
def test_however_few_of_the_hardest_are_looked_at_no_plan_covers_more(
    seed, most_pairs, monkeypatch
):
    instance, plans, pairs = countable(seed)
    monkeypatch.setattr(covering, "HARDEST", most_pairs)

    told, chosen = covering.most_covered(pairs, 60)

    most = max((len({v for v, _g in plan}) for plan in plans), default=0)
    covered = len({v for v, _g in chosen or ()})
    assert broken_rules(instance, chosen or instance.pinned) == []
    assert covered <= most <= told
    if most_pairs == 10_000:
        assert told == most == covered


@pytest.mark.parametrize("seed", range(60))
def test_a_plan_that_forgot_someone_is_repaired_if_that_can_be(seed):
    """All pairs are likely, so that the small program sees the whole of a small season."""
    instance, plans, pairs = countable(seed)
    covers = {plan: len({v for v, _g in plan}) for plan in plans}
    most = max(plans, key=lambda plan: (covers[plan], sorted(plan)))
    chance = random.Random(seed)
    forgetful = [plan for plan in plans if covers[plan] < covers[most]]
    for plan in chance.sample(forgetful, min(3, len(forgetful))):
        mended = covering.repaired(pairs, plan, most, pairs.possible, 60)

        assert broken_rules(instance, mended) == []
        assert covers[plan] <= len({v for v, _g in mended}) <= covers[most]
        if covers[plan] == covers[most] - 1:
            assert len({v for v, _g in mended}) == covers[most]


def test_a_plan_that_covers_as_many_stays_as_it_is():
    _instance, plans, pairs = countable(1)
    most = max(plans, key=lambda plan: len({v for v, _g in plan}))

    assert covering.repaired(pairs, most, most, frozenset(), 60) == most


def test_without_the_process_beside_it_the_work_is_done_here(monkeypatch):
    """It was killed, say by a system short of memory: the plan is as good, only later."""
    instance = random_season(random.Random(2), varieties=45, gardens=40, spread=12_000)
    began = Beside.begin

    def killed(self):
        began(self)
        self.process.kill()
        self.process.join()

    monkeypatch.setattr(Beside, "begin", killed)
    stages = []

    plan = assign(instance, seconds=12, report=stages.append)

    by_hand = next(stage for stage in stages if stage.name == "by_hand")
    assert broken_rules(instance, plan.chosen) == []
    assert plan.method == "solver"
    assert plan.most_covered == plan.covered
    assert (-plan.covered, plan.cost) < (-by_hand.covered, by_hand.cost)
    assert plan.bound is not None
    assert plan.bound <= plan.cost


def test_the_process_beside_it_ends_with_the_work():
    instance = random_season(random.Random(2), varieties=45, gardens=40, spread=12_000)
    with Beside(possible_pairs(instance)) as beside:
        beside.begin()
        beside.cover(asked=True)
        assert beside.process.is_alive()
        assert any(one.most is not None for one in beside.found(60))
    assert not beside.process.is_alive()


def test_a_process_that_never_began_need_not_end():
    with Beside(possible_pairs(random_season(random.Random(2)))) as beside:
        assert beside.process.pid is None


@pytest.mark.parametrize("one_row", [True, False])
@pytest.mark.parametrize("seed", range(30))
def test_the_least_with_one_more_pair_is_never_overstated(seed, one_row):
    """Against trying every pair; where few chances are known it is exact."""
    chance = np.random.default_rng(seed)
    rows, gardens, width = 4, 9, 7
    own = np.round(chance.random(gardens), 2)
    fail = np.round(chance.random(width if one_row else (rows, width)), 1)
    laid = np.where(
        chance.random((rows, width)) < 0.3, np.inf, np.round(chance.random((rows, width)), 1)
    )
    stake = chance.random(rows)
    frame = SimpleNamespace(fail=own, stake=stake, shape=(rows, gardens))

    found = least_beside(frame, fail, laid)

    every = (
        stake[:, None, None]
        * own[None, :, None]
        * np.broadcast_to(fail, (rows, width))[:, None, :]
    )
    exact = np.minimum((every + laid[:, None, :]).min(axis=2), 1e9)
    assert found == pytest.approx(exact, abs=1e-12)
