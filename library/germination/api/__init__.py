"""The bench over the API; each write calls the service that its page calls."""

from library.germination.api.bench import BenchViewSet
from library.germination.api.sowings import PlannedSowingViewSet, ShelfDecisionViewSet
from library.germination.api.tests import GerminationTestViewSet
from library.germination.api.viability import ViabilityView

__all__ = [
    "BenchViewSet",
    "GerminationTestViewSet",
    "PlannedSowingViewSet",
    "ShelfDecisionViewSet",
    "ViabilityView",
]
