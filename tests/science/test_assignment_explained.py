"""Why this grower, and what kept a variety out: said of plans that are made by hand here."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from library.science.assignment import (
    Clash,
    Grower,
    Obstacle,
    OfferedGarden,
    Planting,
    Season,
    Sheet,
    WantedVariety,
    possible_pairs,
)
from library.science.assignment.explain import Explainer, Remedy
from library.science.assignment.files import season_from_json, season_to_json
from library.science.isolation import Pollination, Technique
from tests.load.assignment import make_season

NORTH = 1 / 111_320  # degrees of a metre


def bean(key: str, **facts) -> WantedVariety:
    """Stays apart by 800 m; twenty plants need 2 square metres."""
    given = {
        "species": "bean", "pollination": Pollination.INSECT, "isolation_m": 800.0,
        "plants": 20, "plants_per_m2": 10.0, "days": 120, "loss": 0.5,
    }  # fmt: skip
    return WantedVariety(key=key, **given | facts)


def garden(key: str, *, north_m: float = 0, room_m2: float = 30, **facts) -> OfferedGarden:
    given = {"grower": f"grower of {key}", "days": 150, "longitude": -2.9} | facts
    return OfferedGarden(key=key, latitude=54.2 + north_m * NORTH, room_m2=room_m2, **given)


def season(varieties, gardens, *, most: int = 1, **facts) -> Season:
    growers = {one.grower: Grower(key=one.grower, most=most, success=0.7) for one in gardens}
    return Season(
        varieties=tuple(varieties),
        gardens=tuple(gardens),
        growers=tuple(growers.values()),
        **facts,
    )


def test_a_chosen_pair_says_what_it_saves_and_what_is_near():
    year = season([bean("a"), bean("b")], [garden("home"), garden("far", north_m=1500)])

    why = Explainer(year, {("a", "home"), ("b", "far")}).why_grower("a", "home")

    assert why.technique is Technique.DISTANCE
    assert why.nearest_m == pytest.approx(1500, rel=0.01)
    assert why.saves == pytest.approx(0.5 * 0.7 - 0, abs=1e-9)
    assert (why.room_m2, why.garden_m2, why.spare_days) == (2.0, 30, 30)
    assert [(o.garden, o.clash) for o in why.alternatives] == [("far", Clash.GROWER_IS_FULL)]


def test_what_stood_in_the_way_is_counted():
    year = season(
        [bean("a"), bean("late", days=200), bean("wide", plants=900)],
        [garden("one"), garden("two", north_m=3000)],
    )
    explainer = Explainer(year, {("a", "one")})

    assert explainer.left_out() == ["late", "wide"]
    assert explainer.why_left_out("late").obstacles == {Obstacle.SEASON_TOO_SHORT: 2}
    assert explainer.why_left_out("late").freeing is None
    wide = explainer.why_left_out("wide")
    assert wide.obstacles == {Obstacle.TOO_LITTLE_ROOM: 2}
    assert (wide.freeing.remedy, wide.freeing.garden) == (Remedy.ROOM, "two")
    assert wide.freeing.amount == pytest.approx(60)


def test_moving_what_stands_there_costs_least():
    year = season(
        [bean("a"), bean("b", species="pea", isolation_m=None, days=140)],
        [garden("long"), garden("short", north_m=5000, days=130)],
    )

    freeing = Explainer(year, {("a", "long")}).why_left_out("b").freeing

    assert (freeing.remedy, freeing.garden) == (Remedy.MOVE, "long")
    assert (freeing.moved, freeing.to) == (("a", "long"), "short")


def test_one_more_for_a_grower_comes_before_a_technique():
    year = season([bean("a", isolation_m=None), bean("b", isolation_m=None)], [garden("only")])

    freeing = Explainer(year, {("a", "only")}).why_left_out("b").freeing

    assert (freeing.remedy, freeing.garden) == (Remedy.ONE_MORE, "only")


def test_a_neighbours_planting_is_answered_by_a_technique():
    near = Planting(species="bean", variety="theirs", latitude=54.2, longitude=-2.9)
    year = season([bean("a")], [garden("only", north_m=300)], plantings=(near,))

    why = Explainer(year, ()).why_left_out("a")

    assert why.obstacles == {Obstacle.PLANTING_TOO_NEAR: 1}
    assert why.freeing.remedy is Remedy.TECHNIQUE


@pytest.mark.parametrize("seed", range(25))
def test_a_remedy_that_is_followed_opens_the_garden(seed):
    """Every remedy of a hundred left out varieties is tried on the season itself."""
    year = make_season(14, 10, seed)
    pairs = possible_pairs(year)
    sheet = Sheet(pairs)
    chance = random.Random(seed)
    for pair in chance.sample(sorted(pairs.possible), len(pairs.possible)):
        if sheet.clash(*pair) is None:
            sheet.add(*pair)
    chosen = sheet.chosen
    explainer = Explainer(year, chosen)

    for variety in explainer.left_out():
        freeing = explainer.why_left_out(variety).freeing
        if freeing is None:
            continue
        then, kept = followed(year, chosen, variety, freeing)
        opened = Sheet(possible_pairs(then), kept)
        assert (variety, freeing.garden) in opened.pairs.possible
        assert opened.clash(variety, freeing.garden) is None


def followed(year: Season, chosen, variety, freeing):
    """The season and the plan after a remedy."""
    place = year.garden[freeing.garden]
    if freeing.remedy is Remedy.MOVE:
        return year, chosen - {freeing.moved} | {(freeing.moved[0], freeing.to)}
    if freeing.remedy is Remedy.ONE_MORE:
        growers = tuple(
            replace(g, most=g.most + 1) if g.key == place.grower else g for g in year.growers
        )
        return replace(year, growers=growers), chosen
    if freeing.remedy is Remedy.TECHNIQUE:
        changed = replace(place, techniques=place.techniques | {Technique.BAG})
    else:
        later = place.room_in(2) + freeing.amount
        changed = replace(place, room_m2=place.room_m2 + freeing.amount, room_next_m2=later)
    gardens = tuple(changed if g.key == place.key else g for g in year.gardens)
    return replace(year, gardens=gardens), chosen


@pytest.mark.parametrize("seed", range(5))
def test_a_season_comes_back_from_its_file_as_it_was(seed):
    year = make_season(9, 7, seed)

    assert season_from_json(season_to_json(year)) == year
