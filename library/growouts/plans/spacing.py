"""The room that plants take when they are grown to seed."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache

from library.catalogue.choices import How
from library.catalogue.models import Crop
from library.catalogue.reference import DIRECTORY
from library.science.reasons import COMMON_PRACTICE

FILE = "plant_spacing.csv"
DEFAULT_CM = (50, 40)  # a crop that the file does not name: common practice, no source


@dataclass(frozen=True)
class Spacing:
    """Centimetres between rows and in the row, and who says so."""

    between_rows_cm: int
    in_row_cm: int
    source: str
    assumed: bool = False
    how: str = How.COMMON_PRACTICE

    @property
    def plants_per_m2(self) -> float:
        return 10_000 / (self.between_rows_cm * self.in_row_cm)


def spacing_of(crop: Crop) -> Spacing:
    """The usual distances of a crop grown to seed; assumed where nobody wrote them down."""
    known = _known().get(crop.name)
    return known or Spacing(*DEFAULT_CM, source=COMMON_PRACTICE, assumed=True)


@cache
def _known() -> dict[str, Spacing]:
    with (DIRECTORY / FILE).open(encoding="utf-8", newline="") as lines:
        return {
            row["crop"]: Spacing(
                int(row["between_rows_cm"]),
                int(row["in_row_cm"]),
                row["source"],
                how=row["how"],
            )
            for row in csv.DictReader(lines)
        }
