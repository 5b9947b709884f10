"""Lots and where they came from, packets, storage places, and the seed ledger."""

from library.stock.models.growing import Growing, Isolation, LotAmendment
from library.stock.models.ledger import Movement, Packet
from library.stock.models.lots import (
    ForeignLot,
    Keeping,
    Lot,
    LotParent,
    NumberSeries,
    Origin,
)
from library.stock.models.places import StoragePlace
from library.stock.models.stocktaking import StockTake, StockTakeLine

__all__ = [
    "ForeignLot",
    "Growing",
    "Isolation",
    "Keeping",
    "Lot",
    "LotAmendment",
    "LotParent",
    "Movement",
    "NumberSeries",
    "Origin",
    "Packet",
    "StockTake",
    "StockTakeLine",
    "StoragePlace",
]
