"""Where lots go in the picture: in time, apart, every link drawn."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from library.provenance.picture.layout import LANE, lay_out


@st.composite
def families(draw):
    """Lots 0, 1, 2 … with parents among the older ones, and years that never run backward."""
    n = draw(st.integers(1, 14))
    links, years = [], {}
    for lot in range(n):
        parents = draw(st.sets(st.integers(0, lot - 1), max_size=3)) if lot else set()
        links += [(parent, lot) for parent in sorted(parents)]
        known = [years[p] for p in _ancestors(lot, links) if years[p] is not None]
        year = max(known, default=2000) + draw(st.integers(0, 2))
        years[lot] = draw(st.sampled_from([year, year, None]))
    return years, links


def _ancestors(lot, links):
    found, waiting = set(), [lot]
    while waiting:
        here = waiting.pop()
        for parent, child in links:
            if child == here and parent not in found:
                found.add(parent)
                waiting.append(parent)
    return found


def laid(family):
    years, links = family
    return lay_out(years, links, list(years))


@settings(deadline=None)
@given(families())
def test_a_parent_stands_left_of_its_child(family):
    layout = laid(family)

    for parent, child in family[1]:
        assert layout.places[parent].column < layout.places[child].column


@settings(deadline=None)
@given(families())
def test_columns_are_in_the_order_of_years_and_a_lot_stands_in_its_own(family):
    years, layout = family[0], laid(family)
    known = [year for year in layout.years if year is not None]

    assert known == sorted(known)
    for lot, year in years.items():
        if year is not None:
            assert layout.years[layout.places[lot].column] == year


@settings(deadline=None)
@given(families())
def test_nothing_overlaps(family):
    layout = laid(family)
    spots = [(place, 1.0) for place in layout.places.values()]
    spots += [(lane, LANE) for way in layout.ways.values() for lane in way]

    for (one, height), (other, other_height) in itertools.combinations(spots, 2):
        if one.column == other.column:
            first, second = sorted([(one.row, height), (other.row, other_height)])
            assert first[0] + first[1] <= second[0] + 1e-6
    for place, height in spots:
        assert place.row >= -1e-9
        assert place.row + height <= layout.rows + 1e-6


@settings(deadline=None)
@given(families())
def test_every_link_is_led_through_every_column_between(family):
    layout = laid(family)

    assert set(layout.ways) == set(family[1])
    for (parent, child), way in layout.ways.items():
        between = range(layout.places[parent].column + 1, layout.places[child].column)
        assert [lane.column for lane in way] == list(between)


def crossings(layout):
    """How often two links between the same two columns cross."""
    segments = []
    for (parent, child), way in layout.ways.items():
        stops = [layout.places[parent], *way, layout.places[child]]
        segments += list(itertools.pairwise(stops))
    return sum(
        (a.row - c.row) * (b.row - d.row) < 0
        for (a, b), (c, d) in itertools.combinations(segments, 2)
        if a.column == c.column
    )


def test_a_ladder_that_can_be_drawn_without_crossings_is():
    """Two lines side by side, named so that the order of rows would cross them."""
    years = {key: 2000 + key // 2 for key in range(12)}
    swapped = [(key, key + (3 if key % 2 == 0 else 1)) for key in range(10)]

    assert crossings(lay_out(years, swapped, list(years))) == 0


@pytest.mark.parametrize("seed", range(5))
def test_sweeping_leaves_fewer_crossings_than_chance(seed):
    chance = random.Random(seed)
    years = {key: 2000 + key // 8 for key in range(64)}
    links = [
        (parent, child)
        for child in range(8, 64)
        for parent in chance.sample(range(child // 8 * 8 - 8, child // 8 * 8), 2)
    ]
    layout = lay_out(years, links, list(years))
    names = list(years)
    as_they_come = {key: key % 8 for key in names}
    by_chance = sum(
        (as_they_come[a] - as_they_come[c]) * (as_they_come[b] - as_they_come[d]) < 0
        for (a, b), (c, d) in itertools.combinations(links, 2)
        if years[a] == years[c]
    )

    assert crossings(layout) < 0.8 * by_chance


def test_an_unknown_year_stands_with_its_latest_parent_or_earliest_child():
    years = {"a": 2001, "b": 2004, "c": None, "d": None, "e": 2009}
    layout = lay_out(years, [("a", "c"), ("b", "c"), ("d", "e")], list(years))

    year_of = {key: layout.years[place.column] for key, place in layout.places.items()}
    assert year_of["c"] == 2004
    assert layout.places["c"].column > layout.places["b"].column
    assert year_of["d"] == 2009
    assert layout.places["d"].column < layout.places["e"].column


def test_where_no_year_is_known_there_is_still_an_order():
    layout = lay_out({"a": None, "b": None}, [("a", "b")], ["a", "b"])

    assert layout.years == [None, None]
    assert layout.places["a"].column == 0


@settings(max_examples=5, deadline=None)
@given(st.integers(0, 10_000))
def test_a_thousand_lots_are_laid_out_apart(seed):
    chance = random.Random(seed)
    years = {key: 2000 + key // 60 for key in range(1000)}
    links = [
        (parent, child)
        for child in range(60, 1000)
        for parent in chance.sample(range(max(0, child - 150), child // 60 * 60), 2)
    ]

    layout = lay_out(years, links, list(years))

    by_column: dict[int, list[float]] = {}
    for place in layout.places.values():
        by_column.setdefault(place.column, []).append(place.row)
    for rows in by_column.values():
        rows.sort()
        assert all(b - a >= 1 - 1e-6 for a, b in itertools.pairwise(rows))
