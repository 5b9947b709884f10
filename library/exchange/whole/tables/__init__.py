"""The tables of the export, parents before children.

Left out on purpose: how to reach a member and where they garden (see
``exchange.private``), what is only remembered of a computation (estimates, plans, test days),
and the program's own working state. ``LEFT_OUT`` names the models; a backup holds them all.
"""

from __future__ import annotations

from library.exchange.whole.tables.cards import CARDS, PEOPLE
from library.exchange.whole.tables.seasons import GROW_OUTS
from library.exchange.whole.tables.seed import STOCK
from library.exchange.whole.tables.work import DESK, TESTS

TABLES = (PEOPLE, *CARDS, *STOCK, *TESTS, *DESK, *GROW_OUTS)

LEFT_OUT = frozenset(
    {
        # Of the program, or made again from what the tables tell.
        "catalogue.ReferenceFile",
        "catalogue.SpeciesFigure",
        "catalogue.ViabilityConstants",
        "catalogue.Caution",
        "stock.NumberSeries",
        "germination.TestDate",
        "germination.LotEstimate",
        "germination.Recompute",
        "growouts.Plan",
        "growouts.PlannedPair",
        "growouts.LeftOut",
        "growouts.Pin",
        "exchange.ChainImport",
        "paper.PrintJob",
        "cardbox.CardImport",
        "cardbox.Question",
        "cardbox.CardRow",
        "cardbox.Shape",
        "cardbox.NotedPerson",
        # Rules, and what was decided in passing.
        "catalogue.VarietyEdit",
        "germination.BenchRules",
        "germination.PlannedSowing",
        "germination.ShelfDecision",
        "germination.TestAmendment",
        "germination.DayCount",
        "growouts.GrowOutRules",
        "paper.LabelSheet",
        "growouts.WantedVariety",
        "lending.LendingRules",
        "lending.LoanEvent",
        "provenance.OffTypeClearance",
        "stock.Keeping",
        "stock.StockTake",
        "stock.StockTakeLine",
        # Gardens and pictures: a member's own archive and the backup have them.
        "growouts.GrowerOffer",
        "growouts.GardenOffer",
        "growouts.OwnPlanting",
        "growouts.MilestoneReport",
        "growouts.MilestonePhoto",
        "photos.Photo",
        "album.AttachedPhoto",
    }
)
