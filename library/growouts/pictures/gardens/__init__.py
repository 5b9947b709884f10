"""The season on a plan of gardens: true places for coordinators, coarse cells for the rest."""

from library.growouts.pictures.gardens.cells import MembersPlan, members_plan
from library.growouts.pictures.gardens.reading import GardenPlan, garden_plan

__all__ = ["GardenPlan", "MembersPlan", "garden_plan", "members_plan"]
