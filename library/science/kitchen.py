"""From what a household eats back to produce, rows, plants and seed: plain arithmetic.

Nothing here knows a crop. Figures come with the caller, from a published table or from the
member; where one is missing the caller has no answer, and none is made up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

POUND_KG = 0.45359237  # exact: the international pound of 1959
FOOT_M = 0.3048  # exact
ACRE_M2 = 43_560 * FOOT_M**2
MOST = 1e9
_CRUMB = 1e-9  # what rounding up forgives, so that 12.0000000001 plants are 12


class Per(StrEnum):
    """What a yield is counted by."""

    PLANT = "plant"
    METRE = "metre"  # of row
    SQUARE_METRE = "square_metre"


@dataclass(frozen=True, kw_only=True)
class Yield:
    """So many kilograms of fresh produce from one plant, metre of row or square metre.

    Range: kg above 0. Raises ValueError outside it.
    """

    kg: float
    per: Per

    def __post_init__(self) -> None:
        _above_nothing(self.kg, "A yield")


@dataclass(frozen=True, kw_only=True)
class Spacing:
    """Centimetres between rows and in the row. Range: above 0. Raises ValueError outside it."""

    between_rows_cm: float
    in_row_cm: float

    def __post_init__(self) -> None:
        _above_nothing(self.between_rows_cm, "A distance between rows")
        _above_nothing(self.in_row_cm, "A distance in the row")

    def row_m(self, plants: int) -> float:
        """Metres of row for so many plants."""
        return plants * self.in_row_cm / 100

    def area_m2(self, plants: int) -> float:
        """Square metres for so many plants."""
        return plants * self.in_row_cm * self.between_rows_cm / 10_000


@dataclass(frozen=True)
class Stand:
    """Plants, metres of row and square metres; None where what is known does not tell it."""

    plants: int | None
    row_m: float | None
    area_m2: float | None


@dataclass(frozen=True)
class WithSeed:
    """Plants altogether, of which so many are for seed only; and how many give seed at all."""

    plants: int
    for_seed_only: int
    give_seed: int


def fresh_kg(*, wanted: float, amount_lb: float, gives: float) -> float:
    """Return the fresh produce for so many jars (or pounds dried), from a row of a table in
    which ``amount_lb`` pounds give ``gives`` of them.

    Units: kilograms from pounds. Ranges: wanted 0 or more; the others above 0; give the lower
    end of a range in the table, so as not to fall short. Raises ValueError outside them.
    Source: proportion; pound of exactly 0.45359237 kg.
    """
    _not_below_nothing(wanted, "What is wanted")
    _above_nothing(amount_lb, "An amount")
    _above_nothing(gives, "What an amount gives")
    return wanted / gives * amount_lb * POUND_KG


def row_yield(*, pounds: float, feet: float) -> Yield:
    """Return the yield of a metre of row from pounds on so many feet. Ranges: above 0. Raises
    ValueError outside them. Source: definition of pound and foot.
    """
    _above_nothing(pounds, "A yield")
    _above_nothing(feet, "A length of row")
    return Yield(kg=pounds * POUND_KG / (feet * FOOT_M), per=Per.METRE)


def field_yield(*, pounds_per_acre: float) -> Yield:
    """Return the yield of a square metre from pounds to the acre (43,560 square feet). Range:
    above 0. Raises ValueError outside it. Source: definition of pound, foot and acre.
    """
    _above_nothing(pounds_per_acre, "A yield")
    return Yield(kg=pounds_per_acre * POUND_KG / ACRE_M2, per=Per.SQUARE_METRE)


def stand_for(*, kg: float, gives: Yield, spacing: Spacing | None) -> Stand:
    """Return what must stand to give so much fresh produce.

    Units: kilograms. Ranges: kg 0 or more. Plants are rounded up, and row and area are those of
    the plants where they are known; where no spacing is known, only what the yield is counted
    by is told. Raises ValueError outside the range. Source: proportion.
    """
    _not_below_nothing(kg, "Produce")
    units = kg / gives.kg
    if gives.per is Per.PLANT:
        return _of_plants(units, spacing)
    if spacing is None:
        row = units if gives.per is Per.METRE else None
        area = units if gives.per is Per.SQUARE_METRE else None
        return Stand(None, row, area)
    each = (
        spacing.in_row_cm / 100
        if gives.per is Per.METRE
        else spacing.in_row_cm * spacing.between_rows_cm / 10_000
    )
    return _of_plants(units / each, spacing)


def with_seed(*, food_plants: int, population: int, shared: bool) -> WithSeed:
    """Return the plants for food and seed together.

    ``population`` plants must give seed to keep the variety. Where food and seed are different
    fruits of one plant (``shared``), the same plants give both; else those for seed stand
    beside those that are eaten. Ranges: food_plants 0 or more, population 1 or more. Raises
    ValueError outside them. Source: common practice, no source.
    """
    if food_plants < 0:
        raise ValueError(f"Plants are 0 or more, not {food_plants}.")
    if population < 1:
        raise ValueError(f"Seed comes from 1 plant or more, not {population}.")
    if shared:
        more = max(0, population - food_plants)
        return WithSeed(food_plants + more, more, max(food_plants, population))
    return WithSeed(food_plants + population, population, population)


def packets_for(*, seeds: int, packets: list[int]) -> tuple[int, int]:
    """Return how many of the packets on the shelf are needed for so many seeds, the largest
    first, and how many seeds are then still missing.

    Ranges: seeds 0 or more, each packet 0 or more seeds. Raises ValueError outside them.
    Source: counting.
    """
    if seeds < 0 or any(each < 0 for each in packets):
        raise ValueError("Seeds are counted from 0.")
    missing, taken = seeds, 0
    for each in sorted(packets, reverse=True):
        if missing <= 0:
            break
        missing, taken = missing - each, taken + 1
    return taken, max(0, missing)


def with_margin(kg: float, margin_percent: float) -> float:
    """Return so much produce and a margin for bad years: percent of it, 0 to 500. Raises
    ValueError outside it. Source: arithmetic.
    """
    if not 0 <= margin_percent <= 500:
        raise ValueError(f"A margin is 0 to 500 %, not {margin_percent:g}.")
    return kg * (1 + margin_percent / 100)


def _of_plants(plants: float, spacing: Spacing | None) -> Stand:
    whole = math.ceil(plants - _CRUMB)
    if spacing is None:
        return Stand(whole, None, None)
    return Stand(whole, spacing.row_m(whole), spacing.area_m2(whole))


def _above_nothing(value: float, what: str) -> None:
    if not 0 < value <= MOST:
        raise ValueError(f"{what} is above 0, not {value:g}.")


def _not_below_nothing(value: float, what: str) -> None:
    if not 0 <= value <= MOST:
        raise ValueError(f"{what} is 0 or more, not {value:g}.")
