"""A season's plan against an independent checker, and against trying every plan there is."""

from __future__ import annotations

import itertools
import math
import random
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from library.science.assignment import (
    Clash,
    Grower,
    Obstacle,
    OfferedGarden,
    PinsClash,
    Planting,
    Season,
    Sheet,
    WantedVariety,
    assign,
    everyone_first,
    possible_pairs,
    rarest_first,
)
from library.science.isolation import Pollination, Technique, distance_m

SPECIES = {
    "squash": (Pollination.INSECT, 800.0),
    "beet": (Pollination.WIND, 2400.0),
    "bean": (Pollination.SELF, 6.0),
    "potato": (Pollination.CLONAL, None),
}
REPLACING = {Technique.BAG, Technique.HAND_POLLINATION, Technique.CAGE}


def wanted(key, species="squash", **facts):
    pollination, metres = SPECIES[species]
    told = {"plants": 10, "plants_per_m2": 1.0, "days": 100, "loss": 0.3} | facts
    return WantedVariety(
        key=key, species=species, pollination=pollination, isolation_m=metres, **told
    )


def garden(key, grower="ann", *, east=0.0, north=0.0, **facts):
    """A garden so many metres east and north of a point in the valley."""
    told = {"room_m2": 100.0, "days": 150} | facts
    return OfferedGarden(
        key=key,
        grower=grower,
        latitude=54.0 + north / 111_320,
        longitude=-3.0 + east / 65_400,
        **told,
    )


def season(varieties, gardens, growers=None, **facts):
    keys = {g.grower for g in gardens}
    growers = growers or [Grower(key=key, most=3, success=0.7) for key in sorted(keys)]
    return Season(
        varieties=tuple(varieties), gardens=tuple(gardens), growers=tuple(growers), **facts
    )


def random_season(chance: random.Random, varieties=4, gardens=4, spread=2500.0) -> Season:
    growers = [
        Grower(key=f"r{i}", most=chance.randint(1, 3), success=chance.choice([0.3, 0.6, 0.8]))
        for i in range(max(2, gardens - 1))
    ]
    things = [
        wanted(
            f"v{i}",
            chance.choice(list(SPECIES)),
            plants=chance.randint(4, 30),
            days=chance.choice([90, 120, 160]),
            seasons=chance.choice([1, 1, 2]),
            loss=round(chance.uniform(0.05, 0.9), 2),
            most_growers=chance.randint(1, 2),
        )
        for i in range(varieties)
    ]
    places = [
        garden(
            f"g{i}",
            chance.choice(growers).key,
            east=chance.uniform(0, spread),
            north=chance.uniform(0, spread),
            room_m2=float(chance.randint(5, 60)),
            room_next_m2=float(chance.randint(5, 60)),
            days=chance.choice([110, 130, 170]),
            techniques=frozenset(chance.sample(sorted(REPLACING), chance.randint(0, 1))),
            place_known=chance.random() < 0.8,
        )
        for i in range(gardens)
    ]
    own = [
        Planting(
            species=chance.choice(list(SPECIES)),
            variety=chance.choice(["v0", "another"]),
            latitude=54.0 + chance.uniform(0, spread) / 111_320,
            longitude=-3.0 + chance.uniform(0, spread) / 65_400,
        )
        for _ in range(chance.randint(0, 2))
    ]
    return season(things, places, growers, plantings=tuple(own))


# The independent checker: it reads the rules from the words of the design, shares no code with
# the plan's own, and measures on the ellipsoid.
def broken_rules(plan_season: Season, chosen) -> list[str]:
    varieties = {v.key: v for v in plan_season.varieties}
    gardens = {g.key: g for g in plan_season.gardens}
    growers = {g.key: g for g in plan_season.growers}
    broken = []
    for v, g in chosen:
        if (v, g) in plan_season.forbidden:
            broken.append(f"{v} in {g} is forbidden")
        if varieties[v].days > gardens[g].days:
            broken.append(f"{v} does not ripen in {g}")
        if (
            not gardens[g].place_known
            and crosses(varieties[v])
            and not safe(varieties[v], gardens[g])
        ):
            broken.append(f"nobody knows how near {v} in {g} is to what it crosses with")
        for own in plan_season.plantings:
            near = apart(gardens[g], own) < (varieties[v].isolation_m or 0)
            other = own.species == varieties[v].species and own.variety != v
            if near and other and crosses(varieties[v]) and not safe(varieties[v], gardens[g]):
                broken.append(f"{v} in {g} crosses with what grows there")
    for g, place in gardens.items():
        for bound in (1, 2):
            here = [
                varieties[v] for v, at in chosen if at == g and varieties[v].seasons >= bound
            ]
            room = place.room_m2 if bound == 1 else place.room_next_m2
            room = place.room_m2 if room is None else room
            if sum(v.plants / v.plants_per_m2 for v in here) > room + 1e-6:
                broken.append(f"{g} is too small")
    for grower, load in Counter(gardens[g].grower for _v, g in chosen).items():
        if load > growers[grower].most:
            broken.append(f"{grower} has too many")
    for (v1, g1), (v2, g2) in itertools.combinations(sorted(chosen), 2):
        if v1 == v2:
            far = apart(gardens[g1], gardens[g2]) >= plan_season.apart_m
            if gardens[g1].grower == gardens[g2].grower or not far:
                broken.append(f"{v1} is twice in one place")
        elif varieties[v1].species == varieties[v2].species and crosses(varieties[v1]):
            open_ground = not safe(varieties[v1], gardens[g1]) and not safe(
                varieties[v2], gardens[g2]
            )
            metres = 0.0 if g1 == g2 else apart(gardens[g1], gardens[g2])
            if open_ground and metres < varieties[v1].isolation_m:
                broken.append(f"{v1} in {g1} and {v2} in {g2} cross")
    for v, times in Counter(v for v, _g in chosen).items():
        if times > varieties[v].most_growers:
            broken.append(f"{v} has too many growers")
    broken += [f"{pin} was pinned" for pin in plan_season.pinned - set(chosen)]
    return broken


def apart(one, other):
    """Metres; endless where a place is not known, as the rules for such a garden are others."""
    if not all(getattr(place, "place_known", True) for place in (one, other)):
        return math.inf
    return distance_m(
        lat1=one.latitude, lon1=one.longitude, lat2=other.latitude, lon2=other.longitude
    )


def crosses(variety):
    return variety.pollination is not Pollination.CLONAL and (variety.isolation_m or 0) > 10


def safe(variety, place):
    by_wind = variety.pollination is Pollination.WIND
    return any(
        t in place.techniques for t in REPLACING if not (by_wind and t is Technique.CAGE)
    )


def value(plan_season: Season, chosen) -> tuple[int, float]:
    """Covered varieties, and the cost, from the words of the docstrings."""
    gardens = {g.key: g for g in plan_season.gardens}
    success = {g.key: min(g.success, 0.99) for g in plan_season.growers}
    loss = 0.0
    for variety in plan_season.varieties:
        fails = [1 - success[gardens[g].grower] for v, g in chosen if v == variety.key]
        loss += variety.loss * variety.weight * math.prod(fails)
    load = Counter(gardens[g].grower for _v, g in chosen)
    uneven = plan_season.fairness * sum(n * (n - 1) / 2 for n in load.values())
    return len({v for v, _g in chosen}), loss + uneven


def best_of_all(plan_season: Season) -> tuple[int, float]:
    """Every plan that breaks no rule, tried."""
    every = [(v.key, g.key) for v in plan_season.varieties for g in plan_season.gardens]
    alone = [pair for pair in every if not broken_rules(_without_pins(plan_season), [pair])]
    best = (-1, math.inf)

    def extend(chosen, start):
        nonlocal best
        if plan_season.pinned <= set(chosen):
            covered, cost = value(plan_season, chosen)
            best = min(best, (covered, cost), key=lambda b: (-b[0], b[1]))
        for i in range(start, len(alone)):
            longer = [*chosen, alone[i]]
            if not broken_rules(_without_pins(plan_season), longer):
                extend(longer, i + 1)

    extend([], 0)
    return best


def _without_pins(plan_season: Season) -> Season:
    import dataclasses

    return dataclasses.replace(plan_season, pinned=frozenset())


@pytest.mark.parametrize("seed", range(200))
def test_no_plan_is_better(seed):
    instance = random_season(random.Random(seed), varieties=3 + seed % 2, gardens=3)

    plan = assign(instance, seconds=20)

    covered, cost = best_of_all(instance)
    assert broken_rules(instance, plan.chosen) == []
    assert plan.covered == covered
    assert plan.cost == pytest.approx(cost, rel=1e-3, abs=1e-6)
    assert plan.cost == pytest.approx(value(instance, plan.chosen)[1])
    assert plan.most_covered == covered
    assert plan.bound is None or plan.bound <= plan.cost + 1e-6


@pytest.mark.parametrize("seed", range(10))
def test_larger_plans_keep_every_rule_and_beat_the_hand(seed):
    instance = random_season(random.Random(1000 + seed), varieties=14, gardens=12, spread=6000)

    plan = assign(instance, seconds=10)

    pairs = possible_pairs(instance)
    assert broken_rules(instance, plan.chosen) == []
    for by_hand in (rarest_first(pairs).chosen, everyone_first(pairs).chosen):
        assert broken_rules(instance, by_hand) == []
        covered, cost = value(instance, by_hand)
        assert (-plan.covered, plan.cost) <= (-covered, cost + 1e-9)
    assert plan.gap is not None
    assert plan.gap < 0.01


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_one_more_grower_never_makes_it_worse(seed):
    instance = random_season(random.Random(seed), varieties=4, gardens=3)
    import dataclasses

    newcomer = Grower(key="new", most=1, success=0.5)
    place = garden("new garden", "new", east=9000.0)
    more = dataclasses.replace(
        instance,
        growers=(*instance.growers, newcomer),
        gardens=(*instance.gardens, place),
    )

    before, after = assign(instance, seconds=10), assign(more, seconds=10)

    assert after.covered >= before.covered
    if after.covered == before.covered:
        assert after.cost <= before.cost * (1 + 1e-3) + 1e-6


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_a_pin_is_kept_and_costs_what_it_costs(seed):
    import dataclasses

    chance = random.Random(seed)
    instance = random_season(chance, varieties=4, gardens=3)
    possible = sorted(possible_pairs(instance).possible)
    if not possible:
        return
    pinned = dataclasses.replace(instance, pinned=frozenset([chance.choice(possible)]))

    plan = assign(pinned, seconds=10)

    assert broken_rules(pinned, plan.chosen) == []
    covered, cost = best_of_all(pinned)
    assert plan.covered == covered
    assert plan.cost == pytest.approx(cost, rel=1e-3, abs=1e-6)


def test_a_pin_that_cannot_be_is_explained():
    instance = season(
        [wanted("round one"), wanted("long one")],
        [garden("near"), garden("short", days=80)],
        pinned=frozenset([("round one", "near"), ("long one", "near"), ("round one", "short")]),
    )

    with pytest.raises(PinsClash, match="round one") as refusal:
        assign(instance)

    assert refusal.value.clashes == {
        ("round one", "near"): Clash.WOULD_CROSS,
        ("round one", "short"): Obstacle.SEASON_TOO_SHORT,
    }


def test_coverage_comes_before_loss():
    """One garden for one variety each: the rarest twice would save more than each once."""
    dear, cheap = wanted("dear", loss=0.9), wanted("cheap", loss=0.01)
    places = [garden("here", "ann"), garden("there", "bob", east=5000)]
    growers = [Grower(key=key, most=1, success=0.5) for key in ("ann", "bob")]

    plan = assign(season([dear, cheap], places, growers))

    assert {v for v, _g in plan.chosen} == {"dear", "cheap"}


def test_a_cage_lets_two_squashes_stand_side_by_side_but_not_two_beets():
    caged = [garden("caged", techniques=frozenset([Technique.CAGE]))]

    squashes = assign(season([wanted("a"), wanted("b")], caged))
    beets = assign(season([wanted("a", "beet"), wanted("b", "beet")], caged))

    assert (squashes.covered, beets.covered) == (2, 1)


def test_a_garden_whose_place_is_not_known_vouches_for_no_distance():
    """Two such gardens, told with one coordinate: no crossing crop in the open, but a bean in
    both, as their growers differ, and a squash under a cage.
    """
    nowhere = [
        garden("cell", place_known=False),
        garden("other", "bob", place_known=False, techniques=frozenset([Technique.CAGE])),
    ]
    kinds = [wanted("squash"), wanted("beet", "beet"), wanted("bean", "bean")]

    plan = assign(season(kinds, nowhere))

    assert plan.chosen == {("squash", "other"), ("bean", "cell"), ("bean", "other")}
    assert plan.pairs.obstacles["squash", "cell"] is Obstacle.PLACE_NOT_KNOWN
    assert plan.pairs.obstacles["beet", "other"] is Obstacle.PLACE_NOT_KNOWN
    assert plan.pairs.near(5000) == {"cell": frozenset(), "other": frozenset()}


def test_what_people_grow_for_themselves_counts():
    own = Planting(species="squash", variety="my own", latitude=54.0, longitude=-3.0)
    places = [garden("beside it", east=300), garden("far from it", "bob", east=3000)]

    plan = assign(season([wanted("a", most_growers=2)], places, plantings=(own,)))

    assert plan.chosen == {("a", "far from it")}
    assert plan.pairs.obstacles["a", "beside it"] is Obstacle.PLANTING_TOO_NEAR


def test_a_biennial_binds_its_plot_for_two_seasons():
    narrow = garden("narrow", room_m2=100.0, room_next_m2=5.0)

    plan = assign(season([wanted("annual"), wanted("biennial", "beet", seasons=2)], [narrow]))

    assert plan.chosen == {("annual", "narrow")}
    assert plan.pairs.obstacles["biennial", "narrow"] is Obstacle.TOO_LITTLE_ROOM_NEXT_SEASON


def test_load_is_shared_where_it_costs_nothing():
    kinds = [wanted(f"bean {n}", "bean", most_growers=1) for n in range(4)]
    places = [garden("here", "ann"), garden("there", "bob", east=3000)]

    plan = assign(season(kinds, places))

    load = Counter(plan.season.garden[g].grower for _v, g in plan.chosen)
    assert load == {"ann": 2, "bob": 2}


def test_stopped_at_once_it_gives_the_plan_made_by_hand():
    instance = random_season(random.Random(7), varieties=10, gardens=8)
    stages = []

    plan = assign(instance, report=stages.append, stopped=lambda: True)

    assert plan.stopped
    assert plan.method in ("rarest_first", "everyone_first")
    assert [stage.name for stage in stages] == ["by_hand"]
    assert plan.gap is None
    assert broken_rules(instance, plan.chosen) == []


def test_nothing_to_plan_is_an_empty_plan():
    plan = assign(season([], []))

    assert (plan.chosen, plan.covered, plan.loss) == (frozenset(), 0, 0)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"plants": 0}, "population"),
        ({"plants_per_m2": 0}, "room"),
        ({"seasons": 3}, "one season or two"),
        ({"loss": 1.5}, "chance of loss"),
        ({"most_growers": 0}, "at least one grower"),
    ],
)
def test_what_cannot_be_is_refused(change, says):
    with pytest.raises(ValueError, match=says):
        wanted("a", **change)


def test_a_garden_of_nobody_is_refused():
    with pytest.raises(ValueError, match="nobody is called ann"):
        season([], [garden("here")], [Grower(key="bob", most=1, success=0.5)])


def test_a_sheet_says_why_something_does_not_fit():
    instance = season(
        [wanted("a"), wanted("b"), wanted("c", "bean")],
        [garden("one", room_m2=15.0), garden("two", "bob", east=400)],
        [Grower(key="ann", most=2, success=0.5), Grower(key="bob", most=1, success=0.5)],
    )
    sheet = Sheet(possible_pairs(instance), [("a", "one")])

    assert sheet.clash("a", "one") is Clash.TAKEN
    assert sheet.clash("a", "two") is Clash.TOO_NEAR_ITS_LIKE
    assert sheet.clash("b", "two") is Clash.WOULD_CROSS
    assert sheet.clash("c", "one") is Clash.GARDEN_IS_FULL
    assert sheet.clash("c", "two") is None
