"""Loops as machine code: what is worked out thousands of times for one plan.

All in one file, and nothing from elsewhere: what is kept of them on disk is made anew when this
file changes, not when another does.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, TypeVar, cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[Any]
Function = TypeVar("Function", bound=Callable[..., object])
ENDLESS = 1e300
EXACT = 3  # varieties in a bundle that is found by trying
LEARNT = 0.01  # of each step in what is known of how a price swings
CALM = 1e-3  # added to that: no price is quite at ease


def compiled(function: Function, **how: Any) -> Function:
    """The same function as machine code, made when it is first called.

    It is kept on disk for the next process. Where nothing may be written (a read-only
    installation without a home) each process makes its own, which takes some seconds.
    """
    try:
        return cast(Function, njit(cache=True, **how)(function))
    except RuntimeError:  # no place to keep it
        return cast(Function, njit(**how)(function))


def records(**fields: Array) -> Array:
    """Equally long arrays side by side: a loop passes one instead of many, and finds what
    belongs together in one place.
    """
    dtype = [(name, values.dtype) for name, values in fields.items()]
    found = np.empty(len(next(iter(fields.values()))), dtype)
    for name, values in fields.items():
        found[name] = values
    return found


@compiled
def best_bundles(
    growers: Array,
    offers: Array,
    fairness: float,
    worth: Array,
    dearest: Array,
    by_room: Array,
    last: Array,
    earned: Array,
    part: Array,
) -> None:
    """Overwrites what growers earn, the offers' parts and, for the next time, their orders and
    the bundles.
    """
    for_room = worth / offers["room"]
    for r in range(len(growers)):
        grower = growers[r]
        begins, ends = grower["begins"], grower["ends"]
        mine = dearest[begins:ends]
        if len(mine) == 0 or grower["want"] <= 0:
            continue
        _sort_anew(mine, worth, -1.0)
        if grower["want"] > EXACT:
            roomy = by_room[begins:ends]
            _sort_anew(roomy, for_room, -1.0)
            earned[r] = _limit(grower, offers, worth, mine, roomy, part)
            continue
        earned[r] = _best_of_few(grower, offers, fairness, worth, mine, last[r])
        for offer in last[r]:
            if offer >= 0:
                part[offer] = 1.0


@compiled
def _sort_anew(order: Array, values: Array, sign: float) -> None:
    """By rising sign * value, in place: quick where hardly anything moved since last time."""
    for here in range(1, len(order)):
        item = order[here]
        value, before = sign * values[item], here - 1
        while before >= 0 and sign * values[order[before]] > value:
            order[before + 1] = order[before]
            before -= 1
        order[before + 1] = item


@compiled
def _best_of_few(
    grower: Array, offers: Array, fairness: float, worth: Array, mine: Array, found: Array
) -> float:
    """The most that up to three of a grower's offers (the dearest first) earn, and which: -1
    where the bundle has fewer. The load makes each further variety dearer. What was ``found``
    last time, mostly as good or nearly so, tells how little need be looked at.
    """
    want, load, size = grower["want"], grower["load"], len(mine)
    one, two, three = fairness * load, fairness * (2 * load + 1), fairness * (3 * load + 3)
    best = 0.0
    for x in range(EXACT):
        if found[x] >= 0:
            best += worth[found[x]] - fairness * (load + x)
    if best <= 0:
        best = 0.0
        found[:] = -1
    for x in range(size):
        i = mine[x]
        most = max(worth[i] - one, 2 * worth[i] - two if want > 1 else 0.0)
        if max(most, 3 * worth[i] - three if want == EXACT else 0.0) <= best:
            break
        if worth[i] - one > best:
            best = worth[i] - one
            found[0], found[1], found[2] = i, -1, -1
        for y in range(x + 1, size if want > 1 else 0):
            j = mine[y]
            both = worth[i] + worth[j]
            if max(both - two, both + worth[j] - three if want == EXACT else 0.0) <= best:
                break
            if _clash(offers[i], offers[j]):
                continue
            if both - two > best:
                best = both - two
                found[0], found[1], found[2] = i, j, -1
            taken = offers[i]["room"] + offers[j]["room"]
            if want < EXACT or taken + grower["least_room"] > grower["room"]:
                continue
            k = _third(offers, worth, mine[y + 1 :], i, j, best + three - both)
            if k >= 0:
                best = both + worth[k] - three
                found[0], found[1], found[2] = i, j, k
    return best


@compiled
def _third(offers: Array, worth: Array, rest: Array, i: int, j: int, least: float) -> int:
    """The dearest of the rest that goes with two and is worth more than the least, or -1."""
    for k in rest:
        if worth[k] <= least:
            break
        if _clash(offers[i], offers[k]) or _clash(offers[j], offers[k]):
            continue
        if not _too_large(offers[i], offers[j], offers[k]):
            return int(k)
    return -1


@compiled
def _clash(one: Array, other: Array) -> bool:
    """Whether two offers of one grower do not go together."""
    if one["variety"] == other["variety"]:
        return True
    if one["garden"] != other["garden"]:
        return False
    if one["room"] + other["room"] > one["left"]:
        return True
    if one["later"] + other["later"] > one["later_left"]:
        return True
    return bool(one["unsafe"] and other["unsafe"] and one["species"] == other["species"])


@compiled
def _too_large(one: Array, two: Array, three: Array) -> bool:
    """Whether three of one garden find no room in it together, though each two do."""
    if one["garden"] != two["garden"] or one["garden"] != three["garden"]:
        return False
    if one["room"] + two["room"] + three["room"] > one["left"]:
        return True
    return bool(one["later"] + two["later"] + three["later"] > one["later_left"])


@compiled
def _limit(
    grower: Array, offers: Array, worth: Array, dearest: Array, by_room: Array, part: Array
) -> float:
    """What many of a grower's offers earn at most: the ``dearest`` so many, or as much as finds
    room in parts, the dearest for their room first.
    """
    whole, roomy, left = 0.0, 0.0, grower["room"]
    for i in dearest[: grower["want"]]:
        whole += max(0.0, worth[i])
    for i in by_room:
        if worth[i] <= 0 or left <= 0:
            break
        part[i] = min(1.0, left / offers[i]["room"])
        roomy += part[i] * worth[i]
        left -= part[i] * offers[i]["room"]
    if roomy < whole:
        return roomy
    part[by_room] = 0.0
    for i in dearest[: grower["want"]]:
        part[i] = 1.0 if worth[i] > 0 else 0.0
    return whole


@compiled
def cheapest(varieties: Array, pairs: Array, each: Array, one: Array, places: Array) -> None:
    """Overwrites what one garden costs, and which."""
    for v in range(len(varieties)):
        stake = varieties[v]["stake"]
        for p in range(varieties[v]["begins"], varieties[v]["ends"]):
            paid = stake * pairs[p]["fail"] + each[p]
            if paid < one[v]:
                one[v], places[v, 0] = paid, p


@compiled
def cheapest_two(
    varieties: Array,
    pairs: Array,
    same_place: Array,
    groups: Array,
    rents: Array,
    key: Array,
    order: Array,
    paid: Array,
    places: Array,
) -> None:
    """Overwrites what two gardens cost if that is less than one, and which; and, for the next
    time, the order of pairs by key.
    """
    for v in range(len(varieties)):
        variety = varieties[v]
        if variety["two"]:
            mine = order[variety["begins"] : variety["ends"]]
            _sort_anew(mine, key, 1.0)
            paid[1, v] = _two(
                variety, pairs, same_place, groups, rents, key, mine, paid[0, v], places[v]
            )


@compiled
def _two(
    variety: Array,
    pairs: Array,
    same_place: Array,
    groups: Array,
    rents: Array,
    key: Array,
    mine: Array,
    best: float,
    places: Array,
) -> float:
    """What the two of one variety's pairs (by rising key) cost that cost least, endless if not
    less than ``best``. What was found last time is mostly the best or nearly so: then hardly
    any other two need be added up.
    """
    stake, found, surest = variety["stake"], np.inf, 1.0
    price, fail = np.empty(len(mine)), np.empty(len(mine))
    for x in range(len(mine)):
        price[x], fail[x] = key[mine[x]], pairs[mine[x]]["fail"]
        surest = min(surest, fail[x])
    if places[1] >= 0:
        one, other = pairs[places[1]], pairs[places[2]]
        cost = key[places[1]] + key[places[2]] + stake * one["fail"] * other["fail"]
        if variety["spread"]:
            cost += _rent_of_both(one, other, groups, rents)
        if cost < best:
            best = found = cost
    for x in range(len(mine)):
        left = stake * fail[x]
        if 2 * price[x] + stake * surest * surest >= best:
            break
        if price[x] + _least_beside(price[x + 1 :], fail[x + 1 :], left) >= best:
            continue
        for y in range(x + 1, len(mine)):
            cost = price[x] + price[y] + left * fail[y]
            if cost >= best:
                continue
            one, other = pairs[mine[x]], pairs[mine[y]]
            if same_place[one["garden"], other["garden"]]:
                continue
            if variety["spread"]:
                cost += _rent_of_both(one, other, groups, rents)
            if cost < best:
                best = found = cost
                places[1], places[2] = mine[x], mine[y]
    return found


@partial(compiled, fastmath={"nnan", "nsz", "reassoc"})  # several at a time
def _least_beside(price: Array, fail: Array, left: float) -> float:
    """The least of price + left * fail."""
    least = ENDLESS
    for y in range(len(price)):
        cost = price[y] + left * fail[y]
        if cost < least:
            least = cost
    return least


@compiled
def _rent_of_both(one: Array, other: Array, groups: Array, rents: Array) -> float:
    """The rents of the groups in which at least one of two pairs stands."""
    rent, x, y = 0.0, one["begins"], other["begins"]
    while x < one["ends"] and y < other["ends"]:
        rent += rents[min(groups[x], groups[y])]
        first, second = groups[x] <= groups[y], groups[y] <= groups[x]
        x += first
        y += second
    for rest in range(x, one["ends"]):
        rent += rents[groups[rest]]
    for rest in range(y, other["ends"]):
        rent += rents[groups[rest]]
    return rent


@compiled
def crowd(varieties: Array, pairs: Array, groups: Array, chosen: Array, count: Array) -> None:
    """Adds one to each group for each variety that chose a pair in it."""
    last = np.full(len(count), -1)
    for v in range(len(varieties)):
        for p in range(varieties[v]["begins"], varieties[v]["ends"]):
            if chosen[p] == 0:
                continue
            for at in range(pairs[p]["begins"], pairs[p]["ends"]):
                if last[groups[at]] != v:
                    last[groups[at]] = v
                    count[groups[at]] += 1


@compiled
def bend(
    by: Array, scale: Array, direction: Array, swing: Array, ease: Array, memory: float
) -> float:
    """Bend the last direction by what this step says; how long it is, where each price goes as
    far as it is at ``ease``: the less, the oftener it swings. All but the first two are
    overwritten.
    """
    size = 0.0
    for i in range(len(by)):
        direction[i] = by[i] + memory * direction[i]
        swing[i] += (by[i] * by[i] - swing[i]) * LEARNT
        ease[i] = scale[i] / np.sqrt(swing[i] + CALM)
        size += ease[i] * direction[i] * direction[i]
    return size
