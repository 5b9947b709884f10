"""What a household plans for its own gardens and its own kitchen."""

from library.household.models.saving import KeptApart, SavedVariety, SavingPlan

__all__ = ["KeptApart", "SavedVariety", "SavingPlan"]
