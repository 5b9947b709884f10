"""A bound that holds for every possible pair, from prices of a few.

A pair that has no price gets the least one at which its variety does not want it. What growers
could earn with such pairs beside the others is then counted in full.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from library.science.assignment.bundles import Bundles
from library.science.assignment.frame import Array, Frame
from library.science.assignment.relaxed import Relaxed, Wishes

SLACK = 1e-9  # of all that is added up: what rounding may do
TOO_MANY = 600  # unpriced gardens of one variety of which every two are not looked at
CHANCES = 48  # chances of failing between which a concave curve is taken to be straight


@dataclass(frozen=True)
class Proof:
    """``bound`` on the cost of every plan that leaves no more varieties without a grower.

    ``prices`` of all free pairs by number, V x G flat; ``wanted`` the numbers of pairs that had
    no price and are worth one; ``slack`` how much cheaper each priced pair could be before its
    variety wanted it; ``dearer``, V x G flat, what every plan with a pair costs at least beyond
    the bound.
    """

    bound: float
    prices: Array
    wanted: Array
    slack: Array
    dearer: Array
    paid: Array  # V
    earned: Array  # R
    rent: Array  # V x G


def prove(relaxed: Relaxed, prices: Array, rents: Array, more: int = 24) -> Proof:
    """The bound at these prices, and up to ``more`` pairs of each variety worth adding."""
    frame = relaxed.frame
    wishes = relaxed.wishes(prices, rents)
    # whoever must have a grower and has no priced pair: no unpriced one may be had for less
    wishes = replace(wishes, paid=np.where(np.isinf(wishes.paid), frame.stake, wishes.paid))
    rent = rent_of(frame, rents)
    unpriced = frame.free.copy()
    unpriced.reshape(-1)[relaxed.numbers] = False
    least = _indifferent(relaxed, wishes, prices, rents, rent)
    displaced = _displaced(relaxed, prices)
    dense = np.where(unpriced, np.maximum(least, 0), 0.0)
    dense.reshape(-1)[relaxed.numbers] = prices
    lacking = wishes.paid[:, None] - (dense + _beside_unpriced(frame, unpriced, dense, rent))
    lacking[~unpriced] = 0
    dense = np.maximum(dense, np.minimum(displaced, dense + np.maximum(lacking, 0)))
    dense.reshape(-1)[relaxed.numbers] = prices
    dense[~frame.free] = 0
    beside = _beside_unpriced(frame, unpriced, dense, rent)
    two = np.where(unpriced, dense + beside, np.inf)
    _go_together(frame, dense, rent, two, wishes.paid)
    paid = np.minimum(wishes.paid, two.min(axis=1, initial=np.inf))
    earned, wanted = _earned(frame, unpriced, dense, displaced)
    fixed = relaxed.fixed(rents, wishes.penalty)
    total = float(paid.sum()) - float(earned.sum()) + fixed
    size = float(np.abs(paid).sum()) + float(earned.sum()) + float(rents.sum()) + abs(fixed) + 1
    added = np.union1d(_first(wanted, more), _first(wishes.paid[:, None] - two, more))
    slack = prices - least.reshape(-1)[relaxed.numbers]
    dearer = dense + np.minimum(wishes.paid[:, None] - least, beside) - paid[:, None]
    dearer[relaxed.many] = 0
    return Proof(
        bound=total - SLACK * size,
        prices=dense.reshape(-1),
        wanted=added,
        slack=slack,
        dearer=dearer.reshape(-1),
        paid=paid,
        earned=earned,
        rent=rent,
    )


def rent_of(frame: Frame, rents: Array) -> Array:
    """V x G: the rents of all groups that a pair stands in."""
    rent, begins = np.zeros(frame.shape), 0
    for species, groups in enumerate(frame.groups):
        mine, ends = np.flatnonzero(frame.species == species), begins + groups.shape[1]
        rent[mine] = frame.open_ground[mine] * (groups @ rents[begins:ends])[None, :]
        begins = ends
    return rent


def _indifferent(
    relaxed: Relaxed, wishes: Wishes, prices: Array, rents: Array, rent: Array
) -> Array:
    """V x G: the least price at which a variety would not rather take this pair too.

    As if it went together with every priced one: never less than needed.
    """
    frame = relaxed.frame
    each = prices + relaxed.in_groups @ rents
    beside = np.where(frame.spread[relaxed.variety], prices, each)
    laid = relaxed.laid(beside)
    costs = frame.stake[:, None] * frame.fail[None, :]
    two = least_beside(frame, relaxed.fail, laid)
    costs = np.where((frame.most >= 2)[:, None], np.minimum(costs, two), costs) + rent
    least: Array = wishes.paid[:, None] - costs
    for v in relaxed.many:
        resolve = -np.log(frame.fail)
        under = relaxed.under(v, prices, each)
        own = 0.0 if frame.spread[v] else rent[v]
        least[v] = under.dearest + under.slope * resolve - own
    return least


def least_beside(frame: Frame, fail: Array, laid: Array) -> Array:
    """V x G: the least of stake * fail * fail of g + what is laid out, over a row's pairs;
    ``fail`` of each, or one row for all.

    Worked out at some chances of failing of g; between them it is concave, so that a straight
    line lies under it.
    """
    every = np.unique(frame.fail)
    known = every[np.unique(np.linspace(0, len(every) - 1, CHANCES).astype(int))]
    few, beside = _front(fail, laid)
    stake = frame.stake[:, None]
    at = np.stack([(stake * (chance * few) + beside).min(axis=1) for chance in known], axis=1)
    at = np.minimum(at, 1e9)
    right = np.clip(np.searchsorted(known, frame.fail), 1, max(1, len(known) - 1))
    if len(known) == 1:
        return np.broadcast_to(at, frame.shape)
    left = right - 1
    share = (frame.fail - known[left]) / (known[right] - known[left])
    least: Array = at[:, left] * (1 - share) + at[:, right] * share
    return least


def _front(fail: Array, laid: Array) -> tuple[Array, Array]:
    """Of each row only the pairs than which none is as sure and as cheap: a handful."""
    order = np.argsort(fail, axis=-1, kind="stable")
    if fail.ndim == 1:
        fail, laid = np.broadcast_to(fail[order], laid.shape), laid[:, order]
    else:
        fail, laid = np.take_along_axis(fail, order, 1), np.take_along_axis(laid, order, 1)
    keep = np.isfinite(laid)
    keep[:, 1:] &= laid[:, 1:] < np.minimum.accumulate(laid, axis=1)[:, :-1]
    count = keep.sum(axis=1)
    row, column = np.nonzero(keep)
    place = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    shape = len(laid), max(1, int(count.max(initial=0)))
    few, beside = np.ones(shape), np.full(shape, np.inf)
    few[row, place], beside[row, place] = fail[row, column], laid[row, column]
    return few, beside


def _beside_unpriced(frame: Frame, unpriced: Array, dense: Array, rent: Array) -> Array:
    """V x G: the least that a variety pays, but for this pair's price, with an unpriced one."""
    other = np.where(unpriced, dense + np.where(frame.spread[:, None], 0.0, rent), np.inf)
    least: Array = least_beside(frame, frame.fail, other) + rent
    least[frame.most != 2] = np.inf
    return least


def _go_together(frame: Frame, price: Array, rent: Array, two: Array, paid: Array) -> None:
    """Where two unpriced pairs seem to be had for less than ``paid``, look at each such two:
    many are one garden twice, or gardens too near to one another. Overwrites rows of ``two``.
    """
    for v in np.flatnonzero(two.min(axis=1, initial=np.inf) < paid):
        cheap = np.flatnonzero(two[v] < paid[v])
        if len(cheap) > TOO_MANY:
            continue
        fail, least, own = frame.fail[cheap], price[v, cheap], rent[v, cheap]
        costs = frame.stake[v] * np.outer(fail, fail) + np.add.outer(least, least)
        # a rent that both share is paid once
        costs += np.maximum.outer(own, own) if frame.spread[v] else np.add.outer(own, own)
        costs[frame.same_place[np.ix_(cheap, cheap)]] = np.inf
        two[v, cheap] = np.maximum(two[v, cheap], np.minimum(costs.min(axis=1), paid[v]))


def _earned(
    frame: Frame, unpriced: Array, dense: Array, displaced: Array
) -> tuple[Array, Array]:
    """The most that each grower earns; V x G how much more an unpriced pair is worth to its
    grower than what would make way for it (0 or less where nothing is gained).
    """
    flat = dense.reshape(-1)
    numbers = np.flatnonzero(frame.free.reshape(-1) & (flat > 0))
    earned, part = Bundles(frame, numbers).best(flat[numbers])
    taken = np.zeros(flat.shape, dtype=bool)
    taken[numbers[part > 0]] = True
    gain = np.where(unpriced, dense, 0.0)
    gain -= displaced
    chosen = taken.reshape(frame.shape) & unpriced
    gain[chosen] = np.maximum(gain[chosen], dense[chosen])
    return earned, gain


def _displaced(relaxed: Relaxed, prices: Array) -> Array:
    """V x G: about what a grower earns with that which one more pair would push out.

    Nothing where it finds room and the grower wants more; else with his cheapest variety, or
    with the part of all that the pair would take.
    """
    frame = relaxed.frame
    all_of_it, part = relaxed.bundles.best(prices)
    taken = np.flatnonzero(part)
    v, g = relaxed.variety[taken], relaxed.garden[taken]
    count = np.bincount(frame.owner[g], minlength=len(frame.wish))
    cheapest = np.full(len(frame.wish), np.inf)
    np.minimum.at(cheapest, frame.owner[g], prices[taken])
    cheapest[count == 0] = 0.0
    left = np.maximum(frame.room_left, 0)
    np.subtract.at(left[0], g, frame.room[v])
    np.subtract.at(left[1], g, frame.room[v] * frame.biennial[v])
    room = frame.room[:, None]
    fits = (room <= left[0]) & (~frame.biennial[:, None] | (room <= left[1]))
    fits &= (count < frame.wish)[frame.owner]
    wish = np.maximum(frame.wish, 1)[frame.owner]
    part = np.maximum(1 / wish, room / np.maximum(frame.room_left[0], 1e-9))
    pushed = np.minimum(cheapest[frame.owner], all_of_it[frame.owner] * part)
    return np.where(fits, 0.0, pushed)


def _first(gain: Array, more: int) -> Array:
    """The numbers of the ``more`` most gainful pairs of each variety."""
    width = gain.shape[1]
    size = min(more, width)
    found = np.argpartition(-gain, size - 1, axis=1)[:, :size]
    row = np.arange(len(gain))[:, None]
    worth = gain[row, found] > 1e-9
    numbers: Array = (row * width + found)[worth]
    return np.sort(numbers)
