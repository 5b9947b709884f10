"""How sure it is that a stand was not crossed, and which stand of a chain is the least sure."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from library.science.isolation import (
    IsolationVerdict,
    Neighbour,
    Pollination,
    Status,
    Technique,
    verdict,
)
from library.science.reasons import COMMON_PRACTICE, because


class Grade(StrEnum):
    """What is known of a stand: it was kept from crossing, nobody can say, or it was not."""

    SAFE = "safe"
    UNKNOWN = "unknown"
    WEAK = "weak"
    NOTHING_GREW = "nothing_grew"


_WORST_FIRST = (Grade.WEAK, Grade.UNKNOWN, Grade.SAFE)
_OF_STATUS = {
    Status.ISOLATED: Grade.SAFE,
    Status.NOT_NEEDED: Grade.SAFE,
    Status.UNKNOWN: Grade.UNKNOWN,
    Status.TOO_CLOSE: Grade.WEAK,
}


@dataclass(frozen=True)
class StandJudgement:
    """The grade of one stand, why, and by what part (0 to 1) of the distance it is short."""

    grade: Grade
    verdict: IsolationVerdict
    shortfall: float


@dataclass(frozen=True)
class ChainStand:
    """One stand of a chain: its grade, its relative shortfall and its share, each 0 to 1."""

    key: Hashable
    grade: Grade
    shortfall: float
    share: float


def judge_stand(
    *,
    required_m: float | None,
    technique: Technique,
    pollination: Pollination,
    noted_m: float | None = None,
    noted_neighbour: str = "",
    known: Sequence[Neighbour] = (),
) -> StandJudgement:
    """Judge a stand by what its grower noted and by the other plantings that are known.

    Units: metres; ``required_m`` is None where no distance is known for the species, and
    ``noted_m`` where nobody noted one. ``known`` are plantings that the grower need not have
    known of.
    Ranges: 0 or more; raises ValueError outside.

    Beside ``isolation.verdict``: a distance that was noted counts whatever the technique. Who
    isolated by time has said of the noted neighbour that it flowered at another time. Distance
    without metres, and nothing at all without metres, say too little where some are needed.
    Source: common practice, no source; the distance carries its own source with the species.
    """
    noted = []
    if noted_m is not None:
        apart = False if technique is Technique.TIME else None
        noted = [Neighbour(noted_neighbour, noted_m, apart)]
        if technique is Technique.UNKNOWN:
            technique = Technique.DISTANCE
    found = verdict(
        required_m=required_m,
        neighbours=[*noted, *known],
        technique=technique,
        pollination=pollination,
    )
    if noted_m is None and found.status is Status.ISOLATED and required_m:
        found = _without_metres(found, technique, required_m)
    shortfall = found.shortfall_m / required_m if required_m else 0.0
    return StandJudgement(_OF_STATUS[found.status], found, shortfall)


def _without_metres(
    found: IsolationVerdict, technique: Technique, required_m: float
) -> IsolationVerdict:
    keys = {
        Technique.DISTANCE: "purity_distance_without_metres",
        Technique.NONE: "purity_nothing_without_metres",
    }
    if technique not in keys:
        return found
    why = because(keys[technique], COMMON_PRACTICE, required_m=round(required_m, 1))
    return IsolationVerdict(Status.UNKNOWN, found.nearest, 0.0, why)


def weakest_of(stands: Iterable[ChainStand]) -> ChainStand | None:
    """Return the stand that decides how sure a chain is; None where nothing grew.

    Weak ones come first, the one that is shortest of its distance; then unknown, then safe
    ones. Of equals the one through which most of the chain's seed came, and the first of those.
    Source: common practice, no source.
    """
    grew = (stand for stand in stands if stand.grade is not Grade.NOTHING_GREW)
    return min(
        grew,
        key=lambda s: (_WORST_FIRST.index(s.grade), -s.shortfall, -s.share),
        default=None,
    )
