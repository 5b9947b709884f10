"""What was written down about the demo community: people, places, cards, habits and words."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

LAST_MONTH = 24
FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "demo"


@dataclass(frozen=True)
class Span:
    """Whole numbers from ``low`` to ``high``, written ``90-240``."""

    low: int
    high: int

    @classmethod
    def parse(cls, text: str) -> Span:
        low, _dash, high = text.partition("-")
        return cls(int(low), int(high or low))

    def pick(self, rng: Random) -> int:
        return rng.randint(self.low, self.high)


@dataclass(frozen=True)
class Isolating:
    """A way of keeping a planting from crossing, and the metres that were usual."""

    technique: str
    metres: Span | None = None

    @classmethod
    def parse(cls, text: str) -> Isolating:
        technique, _colon, metres = text.partition(":")
        return cls(technique, Span.parse(metres) if metres else None)


@dataclass(frozen=True)
class Habit:
    """How a crop behaves in the story."""

    packet: int
    deposited: Span
    returned: Span
    plants: Span
    dishes: int
    seeds_in_dish: int
    vigour: float
    isolation: tuple[Isolating, ...]
    place: str


@cache
def people() -> dict[str, Any]:
    return _toml("people.toml") | _toml("members.toml")


@cache
def places() -> list[dict[str, Any]]:
    return _toml("places.toml")["places"]


@cache
def climate(key: str) -> tuple[float, float]:
    """How warm (°C) and how damp (%) it truly is in a place, written down or not."""
    entry = next(place for place in places() if place["key"] == key)
    air = entry.get("truly", entry)
    if "temperature" in air:
        return air["temperature"], air["humidity"]
    return climate(entry["inside"])


@cache
def words(occasion: str, place: str = "", month: int = LAST_MONTH) -> tuple[str, ...]:
    """What is said on an occasion (failures, notes, …) of seed that is kept at a place.

    ``month`` is counted from January of the year of sowing.
    """
    return tuple(
        entry["text"]
        for entry in _toml("words.toml")[occasion]
        if (not place or place in entry.get("only", [place])) and entry.get("since", 1) <= month
    )


@cache
def cards() -> list[dict[str, Any]]:
    """Every card, founders' first, in the order of the files."""
    files = sorted(FOLDER.glob("varieties_*.toml"))
    found = [card for file in files for card in _toml(file.name)["varieties"]]
    return sorted(found, key=lambda card: card.get("year", -1))


@cache
def habits() -> dict[str, Habit]:
    """Each crop's habit, by the crop's name."""
    with (FOLDER / "crops.csv").open(encoding="utf-8", newline="") as lines:
        return {row["crop"]: _habit(row) for row in csv.DictReader(lines)}


def _habit(row: dict[str, str]) -> Habit:
    dishes, _x, seeds = row["dishes"].partition("x")
    return Habit(
        packet=int(row["packet"]),
        deposited=Span.parse(row["deposited"]),
        returned=Span.parse(row["returned"]),
        plants=Span.parse(row["plants"]),
        dishes=int(dishes),
        seeds_in_dish=int(seeds),
        vigour=float(row["vigour"]),
        isolation=tuple(Isolating.parse(each) for each in row["isolation"].split()),
        place=row["place"],
    )


def _toml(name: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / name).read_text(encoding="utf-8"))
