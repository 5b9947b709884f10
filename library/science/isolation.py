"""Whether a planting is kept from crossing, and if not, by which neighbour and by how much."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from library.science.reasons import COMMON_PRACTICE, Reason, Scalar, because

ZERO_DISTANCE_NOTE = "0 m asks only for enough room to keep the seed from being mixed"


class Technique(StrEnum):
    """What keeps a planting from crossing."""

    DISTANCE = "distance"
    TIME = "time"
    CAGE = "cage"
    BAG = "bag"
    HAND_POLLINATION = "hand_pollination"
    NONE = "none"
    UNKNOWN = "unknown"


class Pollination(StrEnum):
    """How pollen travels."""

    SELF = "self"
    MOSTLY_SELF = "mostly-self"
    INSECT = "insect"
    WIND = "wind"
    CLONAL = "clonal"


class Status(StrEnum):
    """What is known of a planting's isolation."""

    ISOLATED = "isolated"
    TOO_CLOSE = "too_close"
    NOT_NEEDED = "not_needed"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Neighbour:
    """Another planting of the same species but another variety.

    ``label`` is whatever the caller may show; distance in metres, 0 or more;
    ``flowers_together`` is None when nobody knows whether the two flower at the same time.
    Raises ValueError for a distance that cannot be.
    """

    label: str
    distance_m: float
    flowers_together: bool | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.distance_m < math.inf:
            raise ValueError(f"A distance is 0 metres or more, not {self.distance_m}.")


@dataclass(frozen=True)
class IsolationVerdict:
    """What is known of the isolation, the neighbour that decides it, and by how many metres it
    is short.
    """

    status: Status
    nearest: Neighbour | None
    shortfall_m: float
    why: Reason

    @property
    def isolated(self) -> bool:
        """Whether nothing is known that could cross with the planting."""
        return self.status in (Status.ISOLATED, Status.NOT_NEEDED)

    @property
    def reason(self) -> str:
        """The machine key of the rule."""
        return self.why.key

    @property
    def inputs(self) -> Mapping[str, Scalar]:
        """The numbers that went into the rule."""
        return self.why.inputs

    @property
    def source(self) -> str:
        """Who published the rule."""
        return self.why.source

    @property
    def sentence(self) -> str:
        """The verdict in English."""
        return self.why.sentence


def distance_m(*, lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Return the distance in metres between two places along the WGS84 ellipsoid.

    Units: decimal degrees. Ranges: latitude -90 to 90, longitude -180 to 180. Raises ValueError
    outside them. Source: Karney 2013, Algorithms for geodesics, J. Geodesy 87:43-55
    (geographiclib).
    """
    for latitude in (lat1, lat2):
        if not -90 <= latitude <= 90:
            raise ValueError(f"A latitude lies from -90 to 90 degrees, not {latitude}.")
    for longitude in (lon1, lon2):
        if not -180 <= longitude <= 180:
            raise ValueError(f"A longitude lies from -180 to 180 degrees, not {longitude}.")
    from geographiclib.geodesic import Geodesic

    return float(Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2, Geodesic.DISTANCE)["s12"])


def verdict(
    *,
    required_m: float | None,
    neighbours: Sequence[Neighbour],
    technique: Technique,
    pollination: Pollination,
) -> IsolationVerdict:
    """Say whether a planting is kept from crossing with the neighbours that are known.

    Units: metres; required_m None when no distance is known for the species. Range: 0 or more.
    Raises ValueError outside it.

    A clonal crop is not grown from seed and needs none. Bags and hand pollination replace
    distance; so does a cage, except against the wind, whose pollen passes a mesh. Neighbours
    known to flower at another time do not count. With the technique ``time`` every nearer
    neighbour must be known to flower at another time. A self-pollinating species for which no
    distance is known needs none. Source: common practice, no source; the distance carries its
    own source with the species.
    """
    if required_m is not None and not 0 <= required_m < math.inf:
        raise ValueError(f"An isolation distance is 0 metres or more, not {required_m}.")
    if pollination is Pollination.CLONAL:
        return _settled(Status.NOT_NEEDED, "isolation_clonal")
    if replaces_distance(technique, pollination):
        return _settled(Status.ISOLATED, f"isolation_{technique.value}")
    crossing = [n for n in neighbours if n.flowers_together is not False]
    nearest = min(crossing, key=lambda n: n.distance_m, default=None)
    if required_m is None:
        return _without_distance(nearest, pollination)
    if nearest is not None and nearest.distance_m < required_m:
        return _nearer_than_required(nearest, required_m, technique)
    return _far_enough(nearest, required_m, technique)


def replaces_distance(technique: Technique, pollination: Pollination) -> bool:
    """Whether a technique makes distance needless; a cage does not against the wind, whose
    pollen passes a mesh. Common practice, no source.
    """
    if technique is Technique.CAGE:
        return pollination is not Pollination.WIND
    return technique in (Technique.BAG, Technique.HAND_POLLINATION)


def _settled(status: Status, key: str) -> IsolationVerdict:
    return IsolationVerdict(status, None, 0.0, because(key, COMMON_PRACTICE))


def _without_distance(nearest: Neighbour | None, pollination: Pollination) -> IsolationVerdict:
    if pollination is Pollination.SELF:
        return _settled(Status.NOT_NEEDED, "isolation_self")
    if nearest is None:
        return _settled(Status.UNKNOWN, "isolation_no_neighbour_no_distance")
    why = because("isolation_no_distance", COMMON_PRACTICE, **_about(nearest))
    return IsolationVerdict(Status.UNKNOWN, nearest, 0.0, why)


def _nearer_than_required(
    nearest: Neighbour, required_m: float, technique: Technique
) -> IsolationVerdict:
    shortfall = required_m - nearest.distance_m
    unsure = technique is Technique.TIME and nearest.flowers_together is None
    why = because(
        "isolation_flowering_unknown" if unsure else "isolation_too_close",
        COMMON_PRACTICE,
        required_m=round(required_m, 1),
        shortfall_m=round(shortfall, 1),
        **_about(nearest),
    )
    status = Status.UNKNOWN if unsure else Status.TOO_CLOSE
    return IsolationVerdict(status, nearest, shortfall, why)


def _far_enough(
    nearest: Neighbour | None, required_m: float, technique: Technique
) -> IsolationVerdict:
    metres = round(required_m, 1)
    if technique is Technique.UNKNOWN:
        why = because("isolation_unrecorded", COMMON_PRACTICE, required_m=metres)
        return IsolationVerdict(Status.UNKNOWN, nearest, 0.0, why)
    if nearest is None:
        why = because("isolation_none_known", COMMON_PRACTICE, required_m=metres)
    else:
        why = because(
            "isolation_far_enough", COMMON_PRACTICE, required_m=metres, **_about(nearest)
        )
    return IsolationVerdict(Status.ISOLATED, nearest, 0.0, why)


def _about(neighbour: Neighbour) -> dict[str, Scalar]:
    return {"neighbour": neighbour.label, "distance_m": round(neighbour.distance_m, 1)}
