"""Which of one's own plantings would cross with each other, and what would keep them apart.

Two plantings meet when they are of one species but not of one variety and flower in the same
season. Each that seed is saved of is judged against the other as its only neighbour
(`isolation.verdict`); the pair stands as its worse half does.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from library.science.isolation import (
    IsolationVerdict,
    Neighbour,
    Pollination,
    Status,
    Technique,
    replaces_distance,
    verdict,
)


@dataclass(frozen=True, kw_only=True)
class Stand:
    """A planting that will flower.

    ``required_m`` is its species' isolation distance in metres, None where none is known;
    ``flowers_in`` the year of the season; ``for_seed`` False of what only flowers. Keys are
    whatever the caller likes. Raises ValueError for a distance below 0.
    """

    key: str
    species: str
    variety: str
    place: str
    flowers_in: int
    pollination: Pollination
    required_m: float | None
    technique: Technique = Technique.NONE
    for_seed: bool = True

    def __post_init__(self) -> None:
        if self.required_m is not None and self.required_m < 0:
            raise ValueError(
                f"An isolation distance is 0 metres or more, not {self.required_m}."
            )

    @property
    def is_closed(self) -> bool:
        """Whether a technique keeps other pollen out, whatever grows beside it."""
        return replaces_distance(self.technique, self.pollination)


class Outcome(StrEnum):
    """How a pair stands, the worst first."""

    CROSSES = "crosses"
    UNKNOWN = "unknown"
    APART_IF = "apart_if"  # if no open flower of the protected one is left for the insects
    APART = "apart"


_WORST_FIRST = list(Outcome)

# Metres between two stands, None where nobody knows.
Distance = Callable[[Stand, Stand], float | None]


@dataclass(frozen=True)
class Half:
    """One stand's seed, judged against the other's pollen; no verdict where the distance is not
    known and is what matters.
    """

    stand: Stand
    outcome: Outcome
    verdict: IsolationVerdict | None


@dataclass(frozen=True)
class Meeting:
    """Two stands that could cross, how far apart they are, and how each that seed is saved of
    fares.
    """

    one: Stand
    other: Stand
    distance_m: float | None
    halves: tuple[Half, ...]

    @property
    def outcome(self) -> Outcome:
        return min((half.outcome for half in self.halves), key=_WORST_FIRST.index)

    @property
    def required_m(self) -> float | None:
        """The larger of the distances that the halves need; None where none is known."""
        known = [h.stand.required_m for h in self.halves if h.stand.required_m is not None]
        return max(known, default=None)

    @property
    def ways(self) -> tuple[Technique, ...]:
        """The techniques by which the two could stand in one garden."""
        return ways_apart(self.one.pollination)


def ways_apart(pollination: Pollination) -> tuple[Technique, ...]:
    """Return what keeps plantings of a species apart instead of distance, the usual first.

    Cages stop insects, not the wind; nothing is needed of what is not grown from seed. Source:
    common practice, no source; the same rule as `isolation.replaces_distance`.
    """
    if pollination is Pollination.CLONAL:
        return ()
    closed = (Technique.BAG, Technique.CAGE, Technique.HAND_POLLINATION)
    able = tuple(t for t in closed if replaces_distance(t, pollination))
    return (*able, Technique.TIME)


def meetings(stands: Iterable[Stand], distance: Distance) -> list[Meeting]:
    """Return every pair that could meet, the worst first and then in the order given.

    Pairs of which neither gives seed that is saved are left out, and so are clones. Raises
    ValueError for a distance below 0.
    """
    groups: dict[tuple[str, int], list[Stand]] = defaultdict(list)
    for stand in stands:
        groups[stand.species, stand.flowers_in].append(stand)
    found = [
        meeting(one, other, distance(one, other))
        for group in groups.values()
        for one, other in combinations(group, 2)
        if one.variety != other.variety and (one.for_seed or other.for_seed)
    ]
    return sorted(
        (each for each in found if each.one.pollination is not Pollination.CLONAL),
        key=lambda each: _WORST_FIRST.index(each.outcome),
    )


def meeting(one: Stand, other: Stand, distance_m: float | None) -> Meeting:
    """Judge one pair, so many metres apart; None where the distance is not known."""
    halves = tuple(
        _half(stand, neighbour, distance_m)
        for stand, neighbour in ((one, other), (other, one))
        if stand.for_seed
    )
    return Meeting(one, other, distance_m, halves)


def _half(stand: Stand, neighbour: Stand, distance_m: float | None) -> Half:
    apart_in_time = Technique.TIME in (stand.technique, neighbour.technique)
    if distance_m is None and not apart_in_time and not _settled_anyhow(stand):
        held = neighbour.is_closed
        return Half(stand, Outcome.APART_IF if held else Outcome.UNKNOWN, None)
    told = verdict(
        required_m=stand.required_m,
        neighbours=[Neighbour(neighbour.key, distance_m or 0.0, not apart_in_time)],
        technique=stand.technique,
        pollination=stand.pollination,
    )
    return Half(stand, _outcome(told, neighbour), told)


def _settled_anyhow(stand: Stand) -> bool:
    needs_none = stand.required_m is None and stand.pollination is Pollination.SELF
    return stand.is_closed or needs_none or stand.required_m == 0


def _outcome(told: IsolationVerdict, neighbour: Stand) -> Outcome:
    if told.isolated:
        return Outcome.APART
    if neighbour.is_closed:
        return Outcome.APART_IF
    return Outcome.CROSSES if told.status is Status.TOO_CLOSE else Outcome.UNKNOWN
