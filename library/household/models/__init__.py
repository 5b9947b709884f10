"""What a household plans for its own gardens and its own kitchen."""

from library.household.models.kitchen import Dish, KitchenPlan, YieldPer
from library.household.models.saving import KeptApart, SavedVariety, SavingPlan

__all__ = ["Dish", "KeptApart", "KitchenPlan", "SavedVariety", "SavingPlan", "YieldPer"]
