"""A season as arrays: what is left to decide beside what is pinned, for the bound."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from library.science.assignment.pairs import Pairs
from library.science.assignment.places import cliques
from library.science.assignment.season import Season
from library.science.assignment.sheet import Sheet

Array = NDArray[Any]
CRUMB = 1e-6  # square metres: more than the sheet forgives, so that the bound forgives no less


@dataclass(frozen=True)
class Frame:
    """V varieties, G gardens and R growers by number; a free pair is v * G + g.

    Pins are taken as given: they use up wishes, room and numbers of growers, lower a variety's
    stake, and take every pair away that would clash with them.
    """

    pairs: Pairs
    varieties: list[str]
    gardens: list[str]
    free: Array  # V x G: may this pair be chosen
    open_ground: Array  # V x G: does only distance keep it from crossing
    stake: Array  # V: what is lost if nobody else than the pinned grows it
    most: Array  # V: growers it may still have
    pinned: Array  # V: has a grower by a pin
    room: Array  # V
    biennial: Array  # V
    species: Array  # V
    fail: Array  # G: the chance that its grower fails
    room_left: Array  # 2 x G
    owner: Array  # G: number of its grower
    wish: Array  # R: varieties that may be given still
    load: Array  # R: varieties given by pins
    same_place: Array  # G x G: one of both at most grows a variety
    groups: list[csr_matrix]  # by species: G x groups of gardens within its crossing distance
    spread: Array  # V: crosses farther than two growers of a variety must be apart
    fairness: float  # what a grower's second variety costs
    lost: float  # what is lost of varieties that nobody can grow

    @property
    def shape(self) -> tuple[int, int]:
        return len(self.varieties), len(self.gardens)

    def pair(self, number: int) -> tuple[str, str]:
        v, g = divmod(int(number), len(self.gardens))
        return self.varieties[v], self.gardens[g]


def frame_of(pairs: Pairs) -> Frame:
    """The arrays of a season whose pins go together."""
    season, sheet = pairs.season, Sheet(pairs, pairs.season.pinned)
    keys = sorted(pairs.by_variety)
    varieties = [season.variety[key] for key in keys]
    growers = {grower.key: i for i, grower in enumerate(season.growers)}
    pins = Counter(variety for variety, _garden in season.pinned)
    lowered = dict.fromkeys(keys, 1.0)
    for variety, garden in season.pinned:
        lowered[variety] *= float(np.exp(-season.grower_of(garden).resolve))
    kinds = {species: i for i, species in enumerate(sorted({v.species for v in varieties}))}
    free, open_ground = _free(pairs, sheet, keys)
    near = _beside(season, pairs.near(season.apart_m))
    owner = np.array([growers[garden.grower] for garden in season.gardens], dtype=int)
    return Frame(
        pairs=pairs,
        varieties=keys,
        gardens=[garden.key for garden in season.gardens],
        free=free,
        open_ground=open_ground,
        stake=np.array([v.stake * lowered[v.key] for v in varieties]),
        most=np.array([v.most_growers - pins[v.key] for v in varieties], dtype=int),
        pinned=np.array([pins[v.key] > 0 for v in varieties], dtype=bool),
        room=np.array([v.room_m2 for v in varieties]),
        biennial=np.array([v.seasons == 2 for v in varieties], dtype=bool),
        species=np.array([kinds[v.species] for v in varieties], dtype=int),
        fail=np.array([np.exp(-season.grower_of(g.key).resolve) for g in season.gardens]),
        room_left=np.array(
            [[g.room_in(s) - sheet.room[s][g.key] for g in season.gardens] for s in (1, 2)]
        ),
        owner=owner,
        wish=np.array([g.most - sheet.load[g.key] for g in season.growers], dtype=int),
        load=np.array([sheet.load[g.key] for g in season.growers], dtype=int),
        same_place=near | (owner[:, None] == owner[None, :]),
        groups=_groups(pairs, kinds),
        spread=np.array([v.crosses_within_m > season.apart_m for v in varieties], dtype=bool),
        fairness=season.fairness,
        lost=sum(v.stake for v in season.varieties if v.key not in pairs.by_variety),
    )


def counted(frame: Frame) -> Frame:
    """The same season where a variety without a grower costs 1 and nothing else anything."""
    return replace(
        frame,
        stake=np.where(frame.pinned, 0.0, 1.0),
        most=np.where(frame.pinned, 0, np.minimum(frame.most, 1)),
        fail=np.zeros_like(frame.fail),
        fairness=0.0,
        lost=0.0,
    )


def _free(pairs: Pairs, sheet: Sheet, keys: list[str]) -> tuple[Array, Array]:
    number = {garden.key: i for i, garden in enumerate(pairs.season.gardens)}
    free = np.zeros((len(keys), len(number)), dtype=bool)
    open_ground = np.zeros_like(free)
    pinned = bool(pairs.season.pinned)
    for i, variety in enumerate(keys):
        gardens = pairs.by_variety[variety]
        if pinned:
            gardens = [g for g in gardens if sheet.clash(variety, g) is None]
        free[i, [number[g] for g in gardens]] = True
        unsafe = [number[g] for g in gardens if (variety, g) in pairs.open_ground]
        open_ground[i, unsafe] = True
    return free, open_ground


def _beside(season: Season, near: Any) -> Array:
    number = {garden.key: i for i, garden in enumerate(season.gardens)}
    beside = np.eye(len(number), dtype=bool)
    for garden, others in near.items():
        beside[number[garden], [number[other] for other in others]] = True
    return beside


def _groups(pairs: Pairs, kinds: dict[str, int]) -> list[csr_matrix]:
    """For each species the groups of gardens that hold one variety of it at most.

    Found once for each distance: a group keeps its sense if some of its gardens do not matter.
    """
    metres = {v.species: v.crosses_within_m for v in pairs.season.varieties}
    found = {m: _groups_within(pairs, m) for m in {metres[species] for species in kinds}}
    return [found[metres[species]] for species in kinds]


def _groups_within(pairs: Pairs, metres: float) -> csr_matrix:
    gardens = pairs.season.gardens
    number = {garden.key: i for i, garden in enumerate(gardens)}
    near = pairs.near(metres)
    edges: Iterable[tuple[int, int]] = (
        (number[g], number[other])
        for g in near
        for other in near[g]
        if number[g] < number[other]
    )
    several = [group for group in cliques(range(len(gardens)), edges) if len(group) > 1]
    rows = [garden for group in several for garden in group]
    columns = [i for i, group in enumerate(several) for _garden in group]
    return csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(len(gardens), len(several)))
