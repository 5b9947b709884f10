"""Where labels lie on a sheet or a roll, in millimetres from its upper left corner.

A sheet is described by what a ruler says of it, never by a maker's number.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

MOST_MM = 1000
LEAST_LABEL_MM = (38, 19)  # below it the square code is too fine for a phone
MOST_ON_A_PAGE = 400
HAIR = 0.01  # mm; what rounding to hundredths may add up to


@dataclass(frozen=True)
class Geometry:
    """A page with ``columns`` × ``rows`` labels, all the same size; lengths in mm.

    A page of a roll is one row of labels and the gap after it.
    """

    page_width: float
    page_height: float
    columns: int
    rows: int
    label_width: float
    label_height: float
    left: float = 0.0
    top: float = 0.0
    gap_x: float = 0.0
    gap_y: float = 0.0
    outlined: bool = False

    @property
    def on_a_page(self) -> int:
        return self.columns * self.rows

    def place(self, number: int) -> tuple[int, float, float]:
        """The page (from 0) and the left and upper edge of a label, counted from 0 across
        and then down.
        """
        page, on_page = divmod(number, self.on_a_page)
        row, column = divmod(on_page, self.columns)
        x = self.left + column * (self.label_width + self.gap_x)
        y = self.top + row * (self.label_height + self.gap_y)
        return page, round(x, 3), round(y, 3)

    @property
    def right_edge(self) -> float:
        """Of the last column."""
        return self.left + self.columns * (self.label_width + self.gap_x) - self.gap_x

    @property
    def lower_edge(self) -> float:
        """Of the last row."""
        return self.top + self.rows * (self.label_height + self.gap_y) - self.gap_y

    @property
    def fits_across(self) -> bool:
        return self.right_edge <= self.page_width + HAIR

    @property
    def fits_down(self) -> bool:
        return self.lower_edge <= self.page_height + HAIR

    def as_json(self) -> dict[str, Any]:
        return vars(self) | {"on_a_page": self.on_a_page}
