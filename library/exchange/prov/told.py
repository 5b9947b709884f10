"""What a chain's file tells of its lots, as plain data."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any


@dataclass(frozen=True)
class ToldLink:
    """A parent lot and its part of the child, with the line that says so."""

    parent: uuid.UUID
    share: Decimal
    line: int


@dataclass(frozen=True)
class ToldLot:
    """A lot as the file tells of it; ``lines`` has the line of each fact."""

    identifier: uuid.UUID
    number: str
    variety: str
    crop: str
    species: str
    breeding_status: str
    generation: int | None
    origin: str
    harvest_year: int | None
    received_on: dt.date
    region: str
    story: str
    library: str
    place: str
    line: int
    lines: dict[str, int]
    grower_name: str = ""
    growing: dict[str, Any] = field(default_factory=dict)
    parents: tuple[ToldLink, ...] = ()


@dataclass(frozen=True)
class ToldChain:
    """The lot that the file is about, and its ancestors; parents stand before children."""

    head: uuid.UUID
    lots: dict[uuid.UUID, ToldLot]

    @property
    def head_lot(self) -> ToldLot:
        return self.lots[self.head]
