"""Risk, seasons, plans and commitments."""

from library.growouts.models.commitments import (
    Cause,
    Commitment,
    CommitmentLoan,
    Milestone,
    MilestonePhoto,
    MilestoneReport,
)
from library.growouts.models.plans import LeftOut, Pin, Plan, PlannedPair
from library.growouts.models.risk import Elsewhere, GrowOutRules
from library.growouts.models.seasons import (
    GardenOffer,
    GrowerOffer,
    OwnPlanting,
    Season,
    WantedVariety,
)

__all__ = [
    "Cause",
    "Commitment",
    "CommitmentLoan",
    "Elsewhere",
    "GardenOffer",
    "GrowOutRules",
    "GrowerOffer",
    "LeftOut",
    "Milestone",
    "MilestonePhoto",
    "MilestoneReport",
    "OwnPlanting",
    "Pin",
    "Plan",
    "PlannedPair",
    "Season",
    "WantedVariety",
]
