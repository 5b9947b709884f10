"""Which of one's own varieties to sow in which year, so that none dies before its turn.

A variety's seed is good for sowing up to a year that its viability sets; sown, it gives seed
that is good for so many years more. Each year has so much room, and no two varieties that would
cross flower in one year. Wanted is a plan in which as few years as possible find a variety
without seed that is good, and, among those, the fewest sowings, none earlier than it need be.
It is a small covering program, solved exactly (HiGHS in scipy).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

MOST_VARIETIES = 80
MOST_YEARS = 15
EARLY = 1e-3  # what sowing a year before it need be costs, in sowings
_CRUMB = 1e-9


@dataclass(frozen=True, kw_only=True)
class Kept:
    """A variety that somebody keeps.

    ``good_until`` is the last year in which its seed is good to sow; ``lasts`` for how many
    years new seed is good after the year of its harvest (1 or more); ``seasons`` 1, or 2 for a
    biennial, which binds its room for both and flowers in the second; ``crosses`` names what it
    would cross with (its species), None where a technique or its nature keeps it apart; room in
    square metres. Raises ValueError for what cannot be.
    """

    key: str
    good_until: int
    lasts: int
    room_m2: float
    seasons: int = 1
    crosses: str | None = None

    def __post_init__(self) -> None:
        if self.lasts < 1:
            raise ValueError(f"{self.key}: new seed is good for 1 year or more.")
        if self.seasons not in (1, 2):
            raise ValueError(f"{self.key}: seed takes one season or two.")
        if self.room_m2 < 0:
            raise ValueError(f"{self.key}: room is 0 square metres or more.")

    def harvest(self, sown: int) -> int:
        """The year in which it flowers and gives seed."""
        return sown + self.seasons - 1

    def covers(self, sown: int, year: int) -> bool:
        """Whether seed of a sowing is there and good in a year."""
        return self.harvest(sown) < year <= self.harvest(sown) + self.lasts


Sowing = tuple[str, int]  # a variety's key and the year


class Remedy(StrEnum):
    """What would spare a variety its years without good seed, the cheapest first."""

    TECHNIQUE = "technique"  # bags, a cage or pollinating by hand, so that it need not wait
    ROOM = "room"
    NONE = "none"  # its seed is past it already, or no year is left


@dataclass(frozen=True)
class Rotation:
    """The sowings, and the years (by variety) that find it without good seed; ``proven`` when
    no better rotation can be.
    """

    sowings: frozenset[Sowing]
    short: Mapping[str, tuple[int, ...]]
    proven: bool = True

    @property
    def short_years(self) -> int:
        return sum(map(len, self.short.values()))

    def in_year(self, year: int) -> list[str]:
        return sorted(key for key, sown in self.sowings if sown == year)


@dataclass(frozen=True)
class Garden:
    """What there is room for: square metres in each year, the first one given.

    ``never`` are sowings that may not be, because something else that they would cross with
    flowers then.
    """

    first: int
    room_m2: tuple[float, ...]
    never: frozenset[tuple[str, int]] = frozenset()

    def __post_init__(self) -> None:
        if not 1 <= len(self.room_m2) <= MOST_YEARS:
            raise ValueError(f"Look ahead 1 to {MOST_YEARS} years, not {len(self.room_m2)}.")
        if any(room < 0 for room in self.room_m2):
            raise ValueError("Room is 0 square metres or more.")

    @property
    def years(self) -> range:
        return range(self.first, self.first + len(self.room_m2))

    def room(self, year: int) -> float:
        """A year beyond the plan has the room of its last."""
        return self.room_m2[min(year - self.first, len(self.room_m2) - 1)]


def short_of(
    kept: Sequence[Kept], garden: Garden, sowings: Iterable[Sowing]
) -> dict[str, tuple[int, ...]]:
    """By variety the years of the plan in which no good seed of it is there."""
    sown = defaultdict(list)
    for key, year in sowings:
        sown[key].append(year)
    found = {
        one.key: tuple(
            year
            for year in garden.years
            if year > one.good_until and not any(one.covers(s, year) for s in sown[one.key])
        )
        for one in kept
    }
    return {key: years for key, years in found.items() if years}


def cost_of(kept: Sequence[Kept], garden: Garden, sowings: Iterable[Sowing]) -> float:
    """What is minimised: years without good seed, each worth more than any number of sowings;
    then sowings, and a little for each year that one lies before it need be.
    """
    chosen = list(sowings)
    by_key = {one.key: one for one in kept}
    short = sum(map(len, short_of(kept, garden, chosen).values()))
    early = sum(_early(by_key[key], garden, year) for key, year in chosen)
    return short * _weight(kept, garden) + len(chosen) + early


def _weight(kept: Sequence[Kept], garden: Garden) -> float:
    return 2.0 * len(kept) * len(garden.room_m2) + 1


def _early(one: Kept, garden: Garden, year: int) -> float:
    return EARLY * (garden.years[-1] - year) / len(garden.room_m2)


def fits(kept: Sequence[Kept], garden: Garden, sowings: Iterable[Sowing]) -> bool:
    """Whether the sowings keep to the room of every year, and nothing crosses."""
    sowings = set(sowings)
    if sowings & garden.never:
        return False
    by_key = {one.key: one for one in kept}
    room: dict[int, float] = defaultdict(float)
    flowering: dict[tuple[str, int], int] = defaultdict(int)
    for key, year in sowings:
        one = by_key[key]
        for season in range(one.seasons):
            room[year + season] += one.room_m2
        if one.crosses:
            flowering[one.crosses, one.harvest(year)] += 1
    roomy = all(used <= garden.room(year) + _CRUMB for year, used in room.items())
    return roomy and all(number <= 1 for number in flowering.values())


def by_hand(kept: Sequence[Kept], garden: Garden) -> Rotation:
    """As one does it with cards in a box: each year those whose seed would be past it before
    the next harvest, the most pressing first, as far as there is room.
    """
    sowings: set[Sowing] = set()
    good = {one.key: one.good_until for one in kept}
    for year in garden.years:
        for one in sorted(kept, key=lambda k: (good[k.key], k.key)):
            if good[one.key] > one.harvest(year):
                continue
            if fits(kept, garden, sowings | {(one.key, year)}):
                sowings.add((one.key, year))
                good[one.key] = one.harvest(year) + one.lasts
    return Rotation(frozenset(sowings), short_of(kept, garden, sowings), proven=False)


def rotate(kept: Sequence[Kept], garden: Garden, *, seconds: float | None = None) -> Rotation:
    """Return the best rotation there is; where ``seconds`` (above 0) are not enough to prove
    one the best, the best so far, which is never worse than by hand. Raises ValueError for too
    many varieties or years, or two of one key.

    Source: integer program solved to optimality by HiGHS (Huangfu & Hall 2018).
    """
    if len(kept) > MOST_VARIETIES:
        raise ValueError(f"Up to {MOST_VARIETIES} varieties are planned at once.")
    if len({one.key for one in kept}) < len(kept):
        raise ValueError("A variety is named twice.")
    if not kept:
        return Rotation(frozenset(), {})
    sowings, proven = _solved(kept, garden, seconds)
    if not proven:
        hand = by_hand(kept, garden)
        if sowings is None or cost_of(kept, garden, hand.sowings) < cost_of(
            kept, garden, sowings
        ):
            return hand
    if sowings is None:
        raise RuntimeError("No rotation was found.")
    return Rotation(sowings, short_of(kept, garden, sowings), proven)


def _solved(
    kept: Sequence[Kept], garden: Garden, seconds: float | None
) -> tuple[frozenset[Sowing] | None, bool]:
    """The sowings, None where time was up before any were found; whether they are proven."""
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    years = list(garden.years)
    sow = {(k.key, y): i for i, (k, y) in enumerate((k, y) for k in kept for y in years)}
    lack = {pair: len(sow) + i for pair, i in sow.items()}
    rows, low, high = [], [], []

    def add(terms: Mapping[int, float], least: float, most: float) -> None:
        row = np.zeros(2 * len(sow))
        for column, value in terms.items():
            row[column] += value
        rows.append(row)
        low.append(least)
        high.append(most)

    for one in kept:
        for year in years:
            if year > one.good_until:
                terms = {sow[one.key, s]: 1.0 for s in years if one.covers(s, year)}
                add({lack[one.key, year]: 1.0, **terms}, 1, np.inf)
    for year in range(years[0], years[-1] + 2):
        room = {
            sow[one.key, year - season]: one.room_m2
            for one in kept
            for season in range(one.seasons)
            if (one.key, year - season) in sow
        }
        if room:
            add(room, -np.inf, garden.room(year))
        for group in {one.crosses for one in kept if one.crosses}:
            flowering = {
                sow[one.key, year - one.seasons + 1]: 1.0
                for one in kept
                if one.crosses == group and (one.key, year - one.seasons + 1) in sow
            }
            if len(flowering) > 1:
                add(flowering, -np.inf, 1)
    by_key = {one.key: one for one in kept}
    costs = np.zeros(2 * len(sow))
    for (key, year), column in sow.items():
        costs[column] = 1 + _early(by_key[key], garden, year)
        costs[lack[key, year]] = _weight(kept, garden)
    whole = np.concatenate([np.ones(len(sow)), np.zeros(len(sow))])
    most = np.ones(2 * len(sow))
    for pair in garden.never & sow.keys():
        most[sow[pair]] = 0
    answer = milp(
        costs,
        integrality=whole,
        bounds=Bounds(0, most),
        constraints=LinearConstraint(np.array(rows), low, high) if rows else (),
        options={"mip_rel_gap": 0.0} | ({} if seconds is None else {"time_limit": seconds}),
    )
    if answer.x is None:
        return None, False
    chosen = frozenset(pair for pair, column in sow.items() if answer.x[column] > 0.5)
    return chosen, answer.status == 0


def remedy_for(key: str, kept: Sequence[Kept], garden: Garden) -> tuple[Remedy, float]:
    """The cheapest thing that spares a variety years without good seed; with square metres for
    ROOM. NONE where neither does.
    """
    before = len(rotate(kept, garden).short.get(key, ()))
    apart = [replace(one, crosses=None) if one.key == key else one for one in kept]
    free = replace(garden, never=frozenset(pair for pair in garden.never if pair[0] != key))
    if len(rotate(apart, free).short.get(key, ())) < before:
        return Remedy.TECHNIQUE, 0.0
    # A bed of its own, so that no other variety takes the room that was added for it.
    room = next(one.room_m2 for one in kept if one.key == key)
    own_bed = [replace(one, room_m2=0.0) if one.key == key else one for one in kept]
    if len(rotate(own_bed, garden).short.get(key, ())) < before:
        return Remedy.ROOM, room
    return Remedy.NONE, 0.0
