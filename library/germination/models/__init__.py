"""Germination tests, what they say of a lot, and the day by which it is tested again."""

from library.germination.models.estimates import (
    LotEstimate,
    PlannedSowing,
    ShelfDecision,
    TestDate,
)
from library.germination.models.recompute import Recompute
from library.germination.models.rules import BenchRules
from library.germination.models.tests import (
    DayCount,
    GerminationTest,
    Replicate,
    TestAmendment,
)

__all__ = [
    "BenchRules",
    "DayCount",
    "GerminationTest",
    "LotEstimate",
    "PlannedSowing",
    "Recompute",
    "Replicate",
    "ShelfDecision",
    "TestAmendment",
    "TestDate",
]
