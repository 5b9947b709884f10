"""Which variety to sow in which year: against hand-worked boxes, and every way there is."""

from __future__ import annotations

import itertools
import random

import pytest

from library.science.rotation import (
    Garden,
    Kept,
    Remedy,
    by_hand,
    cost_of,
    fits,
    remedy_for,
    rotate,
    short_of,
)


def kept(key: str, good_until: int, **facts) -> Kept:
    return Kept(key=key, good_until=good_until, **{"lasts": 4, "room_m2": 2.0} | facts)


def garden(*room: float, first: int = 2026) -> Garden:
    return Garden(first, room)


def test_each_is_sown_in_the_last_year_that_it_can_wait_for():
    box = [kept("bean", 2026), kept("pea", 2028)]

    found = rotate(box, garden(5, 5, 5, 5))

    assert found.in_year(2026) == ["bean"]
    assert found.in_year(2028) == ["pea"]
    assert found.short == {}


def test_where_two_press_at_once_one_is_sown_a_year_before():
    box = [kept("bean", 2027), kept("pea", 2027)]

    found = rotate(box, garden(2, 2, 2))

    assert sorted(year for _key, year in found.sowings) == [2026, 2027]
    assert found.short == {}


def test_two_that_cross_never_flower_in_one_year():
    box = [kept("round", 2027, crosses="pepo"), kept("long", 2027, crosses="pepo")]

    found = rotate(box, garden(9, 9, 9))

    assert len({year for _key, year in found.sowings}) == 2


def test_a_biennial_is_sown_two_years_before_and_binds_its_room_for_both():
    box = [kept("carrot", 2028, seasons=2), kept("bean", 2027)]

    found = rotate(box, garden(2, 2, 2, 2))

    assert found.short == {}
    assert fits(box, garden(2, 2, 2, 2), found.sowings)
    assert ("carrot", 2027) not in found.sowings or ("bean", 2027) not in found.sowings


def test_what_is_renewed_comes_round_again():
    found = rotate([kept("onion", 2026, lasts=2)], garden(2, 2, 2, 2, 2, 2))

    assert [year for _key, year in sorted(found.sowings)] == [2026, 2028, 2030]


def test_what_cannot_be_in_time_is_said_with_what_would_help():
    crossing = [kept("round", 2026, crosses="pepo"), kept("long", 2026, crosses="pepo")]
    tight = [kept("bean", 2026, lasts=1), kept("pea", 2026, lasts=1)]

    (short,) = rotate(crossing, garden(9, 9)).short
    assert remedy_for(short, crossing, garden(9, 9)) == (Remedy.TECHNIQUE, 0.0)
    (without,) = rotate(tight, garden(2, 2)).short
    assert remedy_for(without, tight, garden(2, 2)) == (Remedy.ROOM, 2.0)
    none_fits = [kept("bean", 2026), kept("pea", 2026)]
    for each in none_fits:  # and the room would not go to the other
        assert remedy_for(each.key, none_fits, garden(1, 1)) == (Remedy.ROOM, 2.0)
    gone = [kept("old", 2020)]
    assert remedy_for("old", gone, garden(9)) == (Remedy.NONE, 0.0)


def test_what_would_cross_with_something_else_waits_or_is_kept_apart_by_hand():
    box = [kept("round", 2026, crosses="pepo")]
    beside_a_marrow = Garden(2026, (9, 9), never=frozenset({("round", 2026)}))

    found = rotate(box, beside_a_marrow)

    assert found.sowings == frozenset()
    assert found.short == {"round": (2027,)}
    assert not fits(box, beside_a_marrow, [("round", 2026)])
    assert remedy_for("round", box, beside_a_marrow) == (Remedy.TECHNIQUE, 0.0)


@pytest.mark.parametrize("seed", range(200))
def test_no_other_rotation_is_better(seed):
    """Every subset of sowings of a small box is tried."""
    chance = random.Random(seed)
    years = chance.choice([2, 3])
    box = [
        Kept(
            key=f"v{n}",
            good_until=2026 + chance.randint(-1, years),
            lasts=chance.randint(1, 3),
            room_m2=chance.choice([1.0, 2.0, 3.0]),
            seasons=chance.choice([1, 1, 2]),
            crosses=chance.choice([None, None, "pepo"]),
        )
        for n in range(chance.choice([2, 3]))
    ]
    never = [(one.key, 2026 + chance.randrange(years)) for one in box if chance.random() < 0.3]
    there = Garden(
        2026,
        tuple(chance.choice([1.0, 2.0, 3.0, 5.0]) for _year in range(years)),
        never=frozenset(never),
    )

    found = rotate(box, there)

    assert fits(box, there, found.sowings)
    assert cost_of(box, there, found.sowings) == pytest.approx(
        min(cost_of(box, there, one) for one in every_rotation(box, there))
    )


def every_rotation(box, there):
    pairs = [(one.key, year) for one in box for year in there.years]
    for size in range(len(pairs) + 1):
        for chosen in itertools.combinations(pairs, size):
            if fits(box, there, chosen):
                yield chosen


@pytest.mark.parametrize("seed", range(5))
def test_a_large_box_is_never_worse_than_by_hand_and_more_room_never_hurts(seed):
    chance = random.Random(seed)
    box = [
        Kept(
            key=f"v{n}",
            good_until=2026 + chance.randint(0, 4),
            lasts=chance.randint(2, 6),
            room_m2=round(chance.uniform(0.5, 6), 1),
            seasons=chance.choice([1, 1, 1, 2]),
            crosses=chance.choice([None, "pepo", "beta", "oleracea"]),
        )
        for n in range(8)
    ]
    small, large = garden(*[7.0] * 5), garden(*[9.0] * 5)

    best, hand = rotate(box, small), by_hand(box, small)

    assert fits(box, small, hand.sowings)
    assert best.short_years <= hand.short_years
    assert rotate(box, large).short_years <= best.short_years
    assert short_of(box, small, best.sowings) == best.short


def test_what_time_does_not_prove_is_never_worse_than_by_hand():
    chance = random.Random(1)
    box = [
        Kept(
            key=f"v{n}",
            good_until=2026 + chance.randint(-1, 5),
            lasts=chance.randint(1, 6),
            room_m2=round(chance.uniform(0.5, 8), 1),
            seasons=chance.choice([1, 1, 2]),
            crosses=chance.choice([None, "pepo", "beta"]),
        )
        for n in range(60)
    ]
    there = garden(*[50.0] * 10)

    found = rotate(box, there, seconds=0.001)

    assert not found.proven
    assert fits(box, there, found.sowings)
    assert cost_of(box, there, found.sowings) <= cost_of(
        box, there, by_hand(box, there).sowings
    )


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: kept("a", 2026, lasts=0),
        lambda: kept("a", 2026, seasons=3),
        lambda: kept("a", 2026, room_m2=-1),
        lambda: garden(),
        lambda: garden(*[1] * 16),
        lambda: garden(-1),
        lambda: rotate([kept("a", 2026), kept("a", 2027)], garden(1)),
        lambda: rotate([kept(f"v{n}", 2026) for n in range(81)], garden(1)),
    ],
)
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match=r"[a-z]"):
        wrong()
