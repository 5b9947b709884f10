"""Who grows what in a season: as many varieties as possible with a grower, least expected loss.

A plan keeps every rule: enough plants for the minimum population in the room there is (a
biennial's plot is bound for two seasons), a season long enough, no more varieties than a grower
wants, two growers of one variety in different places, and no two varieties of one species
nearer than its isolation distance, unless bag, cage or hand makes it safe; also against what
people grow for themselves.
"""

from library.science.assignment.explain import (
    Alternative,
    Explanation,
    Missing,
    Reason,
    Stand,
    explain,
)
from library.science.assignment.pairs import Obstacle, Pairs, possible_pairs, protecting
from library.science.assignment.plan import PinsClash, Plan, Stage, assign
from library.science.assignment.remedies import Kind, Remedy, applied
from library.science.assignment.season import (
    Grower,
    OfferedGarden,
    Pair,
    Planting,
    Season,
    WantedVariety,
)
from library.science.assignment.sheet import Clash, Sheet, everyone_first, rarest_first

__all__ = [
    "Alternative",
    "Clash",
    "Explanation",
    "Grower",
    "Kind",
    "Missing",
    "Obstacle",
    "OfferedGarden",
    "Pair",
    "Pairs",
    "PinsClash",
    "Plan",
    "Planting",
    "Reason",
    "Remedy",
    "Season",
    "Sheet",
    "Stage",
    "Stand",
    "WantedVariety",
    "applied",
    "assign",
    "everyone_first",
    "explain",
    "possible_pairs",
    "protecting",
    "rarest_first",
]
