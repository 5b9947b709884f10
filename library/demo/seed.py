"""What is true of the seed, which only a test can find out.

Seed dies by the published viability equation, in the true climate of wherever it lies, each lot
at a pace of its own. The library knows neither the pace nor, of some places, the climate.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from statistics import NormalDist

from library.catalogue.models import Species
from library.demo import source
from library.germination.estimates import model_of
from library.science.longevity import DAYS_IN_YEAR, Longevity, optimism
from library.science.moisture import oil_percent, seed_moisture
from library.science.viability import Stretch

LEAST, MOST = 0.02, 0.995
AT_HOME = (16.0, 45.0)  # °C and %: a cool pantry, until seed is brought
CLONES_LAST_YEARS = 0.9  # tubers and cloves: no equation holds for them
_NORMAL = NormalDist()


@dataclass
class Vigour:
    """How much of a lot is alive: at first, and what it lost wherever it lay.

    ``stays`` are the days since which it lay somewhere, each with the probits that seed of its
    kind loses there in a year; ``pace`` is how many times faster than its kind the lot ages.
    """

    initial: float
    stays: list[tuple[dt.date, float]]
    pace: float = 1.0

    def moved(self, on: dt.date, per_year: float) -> None:
        self.stays.append((on, per_year))

    def share(self, on: dt.date) -> float:
        """The share of the seed that is alive: a normal distribution of life spans."""
        left = _NORMAL.cdf(_NORMAL.inv_cdf(self.initial) - self.pace * self._lost(on))
        return min(MOST, max(LEAST, left))

    def _lost(self, on: dt.date) -> float:
        ends = [since for since, _rate in self.stays[1:]] + [on]
        days = [
            max(0, (min(end, on) - since).days)
            for (since, _rate), end in zip(self.stays, ends, strict=True)
        ]
        rates = [rate for _since, rate in self.stays]
        return sum(d * rate for d, rate in zip(days, rates, strict=True)) / DAYS_IN_YEAR


class Ageing:
    """How fast seed of one species dies in each place, in probits a year."""

    def __init__(self, species: Species) -> None:
        self.species = species
        self._known: dict[tuple[float, float], float] = {}

    @cached_property
    def longevity(self) -> Longevity:
        return model_of(self.species)

    def in_place(self, key: str) -> float:
        return self.in_air(*source.climate(key))

    def in_air(self, temperature_c: float, humidity: float) -> float:
        air = (temperature_c, humidity)
        if air not in self._known:
            self._known[air] = self._work_out(temperature_c, humidity)
        return self._known[air]

    def _work_out(self, temperature_c: float, humidity: float) -> float:
        moisture = seed_moisture(
            measured_percent=None,
            humidity_percent=humidity,
            temperature_c=temperature_c,
            oil_percent=oil_percent(
                family=self.species.family, botanical_name=self.species.botanical_name
            ),
        )
        stay = Stretch(days=1, temperature_c=temperature_c, moisture_percent=moisture.percent)
        days = stay.days_per_probit(self.longevity.constants)
        return optimism(temperature_c) * DAYS_IN_YEAR / days
