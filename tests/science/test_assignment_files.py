"""A season as plain JSON, on its way to another process and back."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from library.science.assignment import assign
from library.science.assignment.files import plan_to_json, season_from_json, season_to_json
from tests.load.assignment import make_season


@pytest.mark.parametrize("seed", range(5))
def test_a_season_comes_back_from_its_file_as_it_was(seed):
    year = make_season(9, 7, seed)
    pair = year.varieties[0].key, year.gardens[0].key
    year = replace(year, forbidden=year.forbidden | {pair}, pinned=year.pinned - {pair})

    assert season_from_json(json.loads(json.dumps(season_to_json(year)))) == year


def test_a_file_that_is_no_season_is_refused():
    told = season_to_json(make_season(3, 3, 1))
    told["varieties"][0]["plants"] = 0

    with pytest.raises(ValueError, match="1 plant or more"):
        season_from_json(told)


def test_a_plan_is_plain_data():
    plan = assign(make_season(4, 4, 1), seconds=2)

    told = json.loads(json.dumps(plan_to_json(plan)))

    assert {(v, g) for v, g in told["chosen"]} == plan.chosen
    assert (told["covered"], told["gap"]) == (plan.covered, plan.gap)
