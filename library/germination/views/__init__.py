"""The bench's pages: planning, counting, closing and reading tests."""

from library.germination.views.bench import BenchPage, RulesPage
from library.germination.views.closing import (
    AmendPage,
    ClosePage,
    FinishPage,
    SowMorePage,
    VoidPage,
)
from library.germination.views.planning import BeginPage, PlanManyPage, RecordPage, StartPage
from library.germination.views.recompute import RecomputePage
from library.germination.views.results import TestPage
from library.germination.views.sill import CountPage, DishPage, SillPage
from library.germination.views.sowings import AddSowingPage, DropSowingPage, ShelfPage

__all__ = [
    "AddSowingPage",
    "AmendPage",
    "BeginPage",
    "BenchPage",
    "ClosePage",
    "CountPage",
    "DishPage",
    "DropSowingPage",
    "FinishPage",
    "PlanManyPage",
    "RecomputePage",
    "RecordPage",
    "RulesPage",
    "ShelfPage",
    "SillPage",
    "SowMorePage",
    "StartPage",
    "TestPage",
    "VoidPage",
]
