"""The published tables of preserving and yields, read once as they stand.

A jar's produce is the larger of what the source's rows for that jar come to, a range of jars
being read at its lower end: so that nobody falls short. A row whose amount is no weight (cups)
has no figure here: the member gives theirs.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from library.catalogue.reference import DIRECTORY
from library.household.kitchen.table_words import said
from library.science.kitchen import Yield, field_yield, fresh_kg, row_yield

PRESERVING, CAUTIONS, CROPS = (
    "preserving.csv",
    "preserving_cautions.csv",
    "kitchen_crops.csv",
)
YIELD = "crop yield"
JARS = {"quart": "quart jars", "pint": "pint jars"}
SHARES = ("fruit", "seed")  # parts of which some can be left to ripen on the plants eaten from
_FEET = {"lb per 10 ft": 10.0, "lb per ft": 1.0}

Row = dict[str, str]


@dataclass(frozen=True)
class Food:
    """A crop in the kitchen: the part that is eaten, and which rows of the table are meant."""

    crop: str
    part: str
    yield_rows: tuple[str, ...]
    preserving_rows: tuple[str, ...]

    @property
    def shares(self) -> bool:
        """Whether food and seed come from different fruits of the same plants."""
        return self.part in SHARES


@dataclass(frozen=True)
class Product:
    """A way to preserve a crop: pounds of fresh produce (None where the source gives no
    weight) for so many units: quart or pint jars, or pounds dried.
    """

    key: str
    section: str
    food: str
    name: str
    unit: str
    pounds: float | None
    gives: float
    basis: str
    note: str
    source: str
    how: str

    def fresh_kg(self, wanted: float) -> float:
        """Fresh produce for so many units. Raises ValueError where no weight is known."""
        if self.pounds is None:
            raise ValueError(f"The source of {self.name} gives no weight.")
        return fresh_kg(wanted=wanted, amount_lb=self.pounds, gives=self.gives)

    @property
    def pounds_each(self) -> float | None:
        return None if self.pounds is None else self.pounds / self.gives


@dataclass(frozen=True)
class PublishedYield:
    """A published yield, and what the source says beside it."""

    key: str
    food: str
    figure: Yield
    printed: str
    note: str
    source: str
    how: str


@dataclass(frozen=True)
class PreservingCaution:
    topic: str
    text: str
    source: str
    how: str

    @property
    def local_text(self) -> str:
        """What it says, in the reader's language."""
        return said(self.text)


@cache
def foods() -> dict[str, Food]:
    """By crop name."""
    return {
        row["crop"]: Food(
            row["crop"],
            row["part_eaten"],
            _several(row["yield_rows"]),
            _several(row["preserving_rows"]),
        )
        for row in _rows(CROPS)
    }


@cache
def products_of(crop: str) -> tuple[Product, ...]:
    """Every way to preserve a crop that the tables know, one for each jar."""
    food = foods().get(crop)
    if food is None:
        return ()
    found: dict[str, Product] = {}
    for row in _rows(PRESERVING):
        if row["section"] != YIELD and row["food"] in food.preserving_rows:
            product = _product(row)
            if product is not None and _is_more(product, found.get(product.key)):
                found[product.key] = product
    return tuple(found.values())


def product_named(crop: str, key: str) -> Product | None:
    return next((one for one in products_of(crop) if one.key == key), None)


@cache
def yields_of(crop: str) -> tuple[PublishedYield, ...]:
    """The published yields of a crop, the smallest harvest of a row first; fields last."""
    food = foods().get(crop)
    if food is None:
        return ()
    found = [
        _published(row)
        for row in _rows(PRESERVING)
        if row["section"] == YIELD and row["food"] in food.yield_rows
    ]
    return tuple(sorted(found, key=lambda one: (one.figure.per, one.figure.kg)))


def yield_named(crop: str, key: str) -> PublishedYield | None:
    return next((one for one in yields_of(crop) if one.key == key), None)


@cache
def _cautions() -> dict[str, tuple[PreservingCaution, ...]]:
    found: dict[str, tuple[PreservingCaution, ...]] = {}
    for row in _rows(CAUTIONS):
        one = PreservingCaution(row["topic"], row["caution"], row["source"], row["how"])
        found[one.topic] = (*found.get(one.topic, ()), one)
    return found


def cautions_for(products: Iterable[tuple[str, Product]]) -> list[PreservingCaution]:
    """What to warn of where these products (each with its crop's name) are to be made."""
    topics: list[str] = []
    for crop, product in products:
        topics += _topics(crop, product)
    return [one for topic in dict.fromkeys(topics) for one in _cautions()[topic]]


def cautions_about(crops: Iterable[str]) -> list[PreservingCaution]:
    """What to warn of about crops however they are kept: garlic and herbs in oil."""
    in_oil = {"garlic", "basil", "parsley", "coriander", "dill"}
    return list(_cautions()["garlic and herbs in oil"]) if in_oil & set(crops) else []


def _topics(crop: str, product: Product) -> list[str]:
    if product.section == "drying":
        return []
    topics = ["tested recipes"]
    if product.section == "canning" and product.food == "tomato":
        topics += ["acidify", "tomato selection"]
    if "low acid" in product.note:
        topics.append("pressure canning")
    if product.section in ("pickling", "salsa") or product.food == "pickling cucumber":
        topics.append("vinegar")
    if product.food.startswith("pumpkin"):
        topics.append("pumpkin")
    return topics


def _product(row: Row) -> Product | None:
    """A row as a product; None for what is counted by the bushel, or in measures."""
    unit = _unit(row)
    if unit is None or row["basis"] == "one bushel":
        return None
    is_weight = row["amount_unit"].startswith("lb")
    return Product(
        key="|".join((row["section"], row["food"], row["product"], unit)),
        section=row["section"],
        food=row["food"],
        name=row["product"],
        unit=unit,
        pounds=float(row["amount"]) if is_weight else None,
        gives=_least(row["gives"]),
        basis=row["basis"],
        note=row["note"],
        source=row["source"],
        how=row["how"],
    )


def _unit(row: Row) -> str | None:
    for unit, words in JARS.items():
        if row["gives_unit"].startswith((words, words.removesuffix("s"))):
            return unit
    return "lb" if row["gives_unit"].startswith("lb dried") else None


def _is_more(product: Product, other: Product | None) -> bool:
    return other is None or (product.pounds_each or 0) > (other.pounds_each or 0)


def _published(row: Row) -> PublishedYield:
    amount, unit = float(row["amount"]), row["amount_unit"]
    if unit in _FEET:
        figure = row_yield(pounds=amount, feet=_FEET[unit])
    elif unit == "lb per acre":
        figure = field_yield(pounds_per_acre=amount)
    else:
        raise ValueError(f"{PRESERVING}: a yield in {unit!r} is not understood.")
    return PublishedYield(
        key=f"{row['food']}|{row['amount']} {unit}",
        food=row["food"],
        figure=figure,
        printed=f"{row['amount']} {unit}",
        note=row["note"],
        source=row["source"],
        how=row["how"],
    )


def _least(text: str) -> float:
    """The lower end of ``7-9``; a plain number as it is."""
    found = re.match(r"[0-9.]+", text)
    if found is None:
        raise ValueError(f"{PRESERVING}: {text!r} is no number.")
    return float(found.group())


def _several(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


@cache
def _rows(name: str) -> list[Row]:
    with (DIRECTORY / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))
