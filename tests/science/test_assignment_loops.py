"""The loops of the bound against trying everything, and against a general linear program."""

from __future__ import annotations

import dataclasses
import itertools
import random

import numpy as np
import pytest
from numba import njit
from scipy.optimize import linprog

from library.science.assignment import Grower, Pairs, Season, loops, possible_pairs
from library.science.assignment.bundles import Bundles
from library.science.assignment.frame import frame_of
from library.science.assignment.relaxed import Relaxed
from tests.science.test_assignment import random_season

PRICES = ("none", "one", "uneven", "in steps", "some below nothing")


def crowded(seed: int, *, most: tuple[int, ...] = (1, 2, 3)) -> Pairs:
    """A season in which growers have several gardens and many varieties to choose among."""
    chance = random.Random(seed)
    instance = random_season(chance, varieties=9, gardens=6)
    growers = tuple(
        dataclasses.replace(one, most=chance.choice(most)) for one in instance.growers
    )
    season: Season = dataclasses.replace(
        instance, growers=growers, fairness=chance.choice([0.0, 1e-3, 0.05])
    )
    pairs = possible_pairs(season)
    if seed % 3 == 0 and pairs.possible:
        pinned = frozenset([chance.choice(sorted(pairs.possible))])
        pairs = possible_pairs(dataclasses.replace(season, pinned=pinned))
    return pairs


def prices_of(kind: str, size: int, chance: np.random.Generator) -> np.ndarray:
    return {
        "none": np.zeros(size),
        "one": np.full(size, 0.1),
        "uneven": chance.uniform(0, 0.3, size),
        "in steps": chance.integers(0, 3, size) / 10,
        "some below nothing": chance.uniform(-0.2, 0.3, size),
    }[kind]


def goes(pairs: Pairs, bundle: list[tuple[str, str]]) -> bool:
    """Whether one grower can have all these beside the pins: read from the season's words."""
    season = pairs.season
    pins = [pin for pin in season.pinned if pin not in bundle]
    if len({variety for variety, _garden in bundle}) < len(bundle):
        return False
    for garden in {garden for _variety, garden in bundle}:
        here = [season.variety[v] for v, g in (*bundle, *pins) if g == garden]
        for bound in (1, 2):
            takes = sum(one.room_m2 for one in here if one.seasons >= bound)
            if takes > season.garden[garden].room_in(bound) + 1e-6:
                return False
    for (v, g), (w, h) in itertools.combinations(bundle, 2):
        alike = season.variety[v].species == season.variety[w].species
        if g == h and alike and {(v, g), (w, h)} <= pairs.open_ground:
            return False
    return True


@pytest.mark.parametrize("seed", range(60))
def test_no_bundle_earns_a_grower_more(seed):
    """Prices move several times, since each search begins with what the last one found."""
    pairs = crowded(seed)
    frame = frame_of(pairs)
    numbers = np.flatnonzero(frame.free.reshape(-1))
    bundles, chance = Bundles(frame, numbers), np.random.default_rng(seed)
    owner = frame.owner[numbers % len(frame.gardens)]
    for kind in PRICES:
        prices = prices_of(kind, len(numbers), chance)

        earned, part = bundles.best(prices)

        for grower in range(len(frame.wish)):
            mine, load = np.flatnonzero(owner == grower), int(frame.load[grower])
            best = 0.0
            for size in range(1, int(frame.wish[grower]) + 1):
                uneven = frame.fairness * sum(range(load, load + size))
                for chosen in itertools.combinations(mine, size):
                    worth = float(prices[list(chosen)].sum()) - uneven
                    if worth > best and goes(pairs, [frame.pair(numbers[i]) for i in chosen]):
                        best = worth
            assert earned[grower] == pytest.approx(best, abs=1e-12)
            taken = mine[part[mine] > 0]
            assert set(part[mine]) <= {0.0, 1.0}
            assert goes(pairs, [frame.pair(numbers[i]) for i in taken])
            uneven = frame.fairness * sum(range(load, load + len(taken)))
            assert prices[taken].sum() - uneven == pytest.approx(best, abs=1e-12)


@pytest.mark.parametrize("seed", range(40))
def test_a_grower_who_wants_many_is_bounded_as_a_linear_program_says(seed):
    """The lesser of two limits, each by HiGHS: so many varieties, or so many square metres."""
    pairs = crowded(seed, most=(4, 5, 7))
    frame = frame_of(pairs)
    numbers = np.flatnonzero(frame.free.reshape(-1))
    bundles, chance = Bundles(frame, numbers), np.random.default_rng(seed)
    variety, garden = np.divmod(numbers, len(frame.gardens))
    owner = frame.owner[garden]
    for kind in PRICES:
        prices = prices_of(kind, len(numbers), chance)

        earned, part = bundles.best(prices)

        for grower in np.flatnonzero(frame.wish > 3):
            mine = np.flatnonzero(owner == grower)
            if not len(mine):
                assert earned[grower] == 0
                continue
            room = np.maximum(frame.room_left[0][frame.owner == grower], 0) + 1e-6
            limits = [
                (np.ones(len(mine)), frame.wish[grower]),
                (frame.room[variety[mine]], room.sum()),
            ]
            found = [
                -linprog(-prices[mine], A_ub=[weights], b_ub=[limit], bounds=(0, 1)).fun
                for weights, limit in limits
            ]
            assert earned[grower] == pytest.approx(min(found), abs=1e-9)
            assert prices[mine] @ part[mine] == pytest.approx(min(found), abs=1e-9)


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("all_spread", [False, True])
def test_no_garden_and_no_two_cost_a_variety_less(seed, all_spread):
    """Rents of groups in which both of two gardens stand are paid once."""
    pairs = crowded(seed)
    frame = frame_of(pairs)
    frame = dataclasses.replace(frame, spread=frame.spread | all_spread)
    relaxed = Relaxed(frame, np.flatnonzero(frame.free.reshape(-1)), 0)
    chance = np.random.default_rng(seed)
    groups = relaxed.in_groups.toarray() > 0
    for kind in PRICES:
        prices = prices_of(kind, len(relaxed.numbers), chance)
        rents = chance.uniform(0, 0.2, groups.shape[1]) * chance.integers(0, 2, groups.shape[1])

        one, two, places = relaxed.cheapest.find(prices, rents)

        for v in range(len(frame.varieties)):
            mine = np.flatnonzero(relaxed.variety == v)

            def cost(chosen: tuple[int, ...], v: int = v, rents=rents, prices=prices) -> float:
                lost = frame.stake[v] * frame.fail[relaxed.garden[list(chosen)]].prod()
                shared = groups[list(chosen)].any(axis=0)
                return float(lost + prices[list(chosen)].sum() + rents[shared].sum())

            ones = [(cost((i,)), (i,)) for i in mine if frame.most[v] >= 1]
            twos = [
                (cost((i, j)), (i, j))
                for i, j in itertools.combinations(mine, 2)
                if not frame.same_place[relaxed.garden[i], relaxed.garden[j]]
                and frame.most[v] == 2
            ]
            least = min(ones, default=(np.inf, ()))[0]
            least_two = min(twos, default=(np.inf, ()))[0]
            assert one[v] == pytest.approx(least, abs=1e-12)
            if np.isfinite(least):
                assert cost((places[v, 0],)) == pytest.approx(least, abs=1e-12)
            if least_two < least - 1e-12:
                assert two[v] == pytest.approx(least_two, abs=1e-12)
                assert cost(tuple(places[v, 1:])) == pytest.approx(least_two, abs=1e-12)
            elif least_two > least + 1e-12:
                assert np.isinf(two[v])


@pytest.mark.parametrize("seed", range(20))
def test_a_group_counts_each_variety_once(seed):
    frame = frame_of(crowded(seed))
    relaxed = Relaxed(frame, np.flatnonzero(frame.free.reshape(-1)), 0)
    chosen = np.random.default_rng(seed).integers(0, 2, len(relaxed.numbers)).astype(float)

    crowding = relaxed.cheapest.crowding(chosen)

    groups = relaxed.in_groups.toarray() > 0
    for group in range(groups.shape[1]):
        inside = relaxed.variety[groups[:, group] & (chosen > 0)]
        assert crowding[group] == len(set(inside.tolist())) - 1


def test_where_nothing_can_be_kept_machine_code_is_made_each_time(monkeypatch):
    """Numba says so by a RuntimeError where it finds no folder to write to."""
    asked = []

    def in_memory_only(**how):
        asked.append(how.get("cache"))
        if how.pop("cache", False):
            raise RuntimeError("cannot cache function: no locator available")
        return njit(**how)

    monkeypatch.setattr(loops, "njit", in_memory_only)

    def doubled(number: float) -> float:
        return number * 2

    assert loops.compiled(doubled)(21.0) == 42.0
    assert asked == [True, None]


def test_who_wants_nothing_earns_nothing():
    pairs = crowded(5)
    nobody = tuple(Grower(key=g.key, most=0, success=0.5) for g in pairs.season.growers)
    frame = frame_of(possible_pairs(dataclasses.replace(pairs.season, growers=nobody)))
    numbers = np.flatnonzero(frame.free.reshape(-1))

    earned, part = Bundles(frame, numbers).best(np.ones(len(numbers)))

    assert not earned.any()
    assert not part.any()
