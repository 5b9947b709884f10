"""How moist stored seed is: measured, or in balance with the air around it, or assumed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from library.science.reasons import COMMON_PRACTICE, Reason, because
from library.science.viability import DRIEST_PERCENT, WETTEST_PERCENT

ISOTHERM_SOURCE = (
    "Cromarty, Ellis & Roberts 1982, The Design of Seed Storage Facilities for Genetic "
    "Conservation (equation and range read in a restatement)"
)
DRIEST_AIR_PERCENT, DAMPEST_AIR_PERCENT = 10.0, 70.0
COOLEST_AIR_C, WARMEST_AIR_C = 0.0, 40.0
_DAMPEST_COUNTED = 95.0  # damper air is counted as this; the curve has no end

# Percent of dry weight, rounded: from memory, one figure for a whole family, so a library that
# knows its own crop better should say so. The isotherm moves little with a few percent.
OIL_BY_FAMILY: Mapping[str, float] = {
    "Amaranthaceae": 6.0,
    "Amaryllidaceae": 20.0,
    "Apiaceae": 18.0,
    "Asteraceae": 35.0,
    "Brassicaceae": 38.0,
    "Cucurbitaceae": 30.0,
    "Fabaceae": 2.0,
    "Lamiaceae": 25.0,
    "Linaceae": 38.0,
    "Malvaceae": 20.0,
    "Poaceae": 3.0,
    "Solanaceae": 20.0,
}
OIL_BY_SPECIES: Mapping[str, float] = {"Glycine max": 20.0, "Helianthus annuus": 45.0}
OIL_UNKNOWN = 15.0  # between starchy and oily


@dataclass(frozen=True, kw_only=True)
class Climate:
    """The air of a storage place: degrees Celsius and percent relative humidity."""

    temperature_c: float
    humidity_percent: float


ORDINARY_ROOM = Climate(temperature_c=20.0, humidity_percent=50.0)
# Places that nobody measured. Cold places are dry only inside a sealed jar, and the seed in it
# is as moist as it was in the room where the jar was closed: hence the room's humidity.
_ASSUMED: Mapping[str, Climate] = {
    "room": ORDINARY_ROOM,
    "cupboard": ORDINARY_ROOM,
    "refrigerator": Climate(temperature_c=5.0, humidity_percent=50.0),
    "freezer": Climate(temperature_c=-18.0, humidity_percent=50.0),
}


@dataclass(frozen=True)
class SeedMoisture:
    """Percent moisture of fresh weight, 5 to 25 for the equation, and how it is known."""

    percent: float
    why: Reason


def oil_percent(*, family: str = "", botanical_name: str = "") -> float:
    """Return the oil in a species' seed, percent of dry weight, roughly; 15 when unknown.

    Source: from memory, see the table; for nothing but the moisture isotherm.
    """
    known = OIL_BY_SPECIES.get(botanical_name)
    return OIL_BY_FAMILY.get(family, OIL_UNKNOWN) if known is None else known


def equilibrium_moisture(
    *, humidity_percent: float, temperature_c: float, oil_percent: float
) -> float:
    """Return the percent moisture (fresh weight) of seed in balance with the air around it.

    Units and ranges: relative humidity 10 to 70 %; 0 to 40 °C (15 to 25 for oily seed, by the
    source; the cooler and warmer is extrapolated); oil 0 to 60 % of dry weight. Raises
    ValueError outside them. Source: Cromarty, Ellis & Roberts 1982:
    1 - R = exp(-(Me (1.1 + T/90) / (1 - Do))^2 / 440), Me in percent of dry weight.
    """
    if not DRIEST_AIR_PERCENT <= humidity_percent <= DAMPEST_AIR_PERCENT:
        raise ValueError(
            "Seed moisture is known from relative humidity between 10 and 70 %, "
            f"not {humidity_percent:g} %; measure the seed instead."
        )
    if not COOLEST_AIR_C <= temperature_c <= WARMEST_AIR_C:
        raise ValueError(
            "Seed moisture is known from humidity between 0 and 40 °C, "
            f"not at {temperature_c:g} °C; use the air where the seed was dried."
        )
    return _isotherm(humidity_percent, temperature_c, oil_percent)


def equilibrium_humidity(
    *, moisture_percent: float, temperature_c: float, oil_percent: float
) -> float:
    """Return the percent relative humidity of air in balance with seed: what a dial in a closed
    jar should show.

    Units and ranges: moisture above 0 and below 100 % of fresh weight; 0 to 40 °C; oil 0 to 60
    % of dry weight. Raises ValueError outside them. Source: as `equilibrium_moisture`.
    """
    if not 0 < moisture_percent < 100:
        raise ValueError(f"Seed moisture is above 0 and below 100 %, not {moisture_percent:g}.")
    if not COOLEST_AIR_C <= temperature_c <= WARMEST_AIR_C:
        raise ValueError(f"The balance is known from 0 to 40 °C, not {temperature_c:g}.")
    dry_basis = 100 * moisture_percent / (100 - moisture_percent)
    scaled = dry_basis * (1.1 + temperature_c / 90) / _oil_free(oil_percent)
    return 100 * -math.expm1(-(scaled**2) / 440)


def assumed_climate(kind: str) -> Climate:
    """Return the air that is assumed in a kind of storage place that was never measured.

    An ordinary room for any kind that is not known. Source: common practice, no source.
    """
    return _ASSUMED.get(kind, ORDINARY_ROOM)


def seed_moisture(
    *,
    measured_percent: float | None,
    humidity_percent: float | None,
    temperature_c: float,
    oil_percent: float,
    kind: str = "room",
) -> SeedMoisture:
    """Return how moist a lot's seed is: as measured, else from the air's humidity, or assumed.

    Units: percent moisture of fresh weight; percent relative humidity, 0 to 100; degrees
    Celsius, those of the place. The result is held to 5 to 25 %, where the viability equation
    holds: drier seed gains nothing more. Air beyond the isotherm's range counts as its edge
    when drier, colder or warmer, and is extrapolated when damper, and the reason says so.
    Raises ValueError for impossible figures. Source: `equilibrium_moisture`; assumptions are
    common practice, no source.
    """
    if measured_percent is not None:
        if not 0 < measured_percent < 100:
            raise ValueError(
                f"Seed moisture is above 0 and below 100 %, not {measured_percent:g}."
            )
        why = because("moisture_measured", "the lot's record", percent=measured_percent)
        return SeedMoisture(_held(measured_percent), why)
    if humidity_percent is None:
        air = assumed_climate(kind)
        percent = _isotherm(air.humidity_percent, ORDINARY_ROOM.temperature_c, oil_percent)
        key, source, humidity = "moisture_assumed", COMMON_PRACTICE, air.humidity_percent
    else:
        percent, key = _in_air(humidity_percent, temperature_c, oil_percent)
        source, humidity = ISOTHERM_SOURCE, humidity_percent
    why = because(
        key,
        source,
        percent=round(percent, 1),
        humidity_percent=humidity,
        temperature_c=temperature_c,
        oil_percent=oil_percent,
    )
    return SeedMoisture(_held(percent), why)


def _in_air(humidity: float, temperature_c: float, oil: float) -> tuple[float, str]:
    """Moisture in air that may lie beyond the isotherm's range, and the key that says so."""
    if not 0 <= humidity <= 100:
        raise ValueError(f"Relative humidity is 0 to 100 %, not {humidity:g}.")
    counted = min(max(humidity, DRIEST_AIR_PERCENT), _DAMPEST_COUNTED)
    warmth = min(max(temperature_c, COOLEST_AIR_C), WARMEST_AIR_C)
    within = humidity == counted <= DAMPEST_AIR_PERCENT and warmth == temperature_c
    key = "moisture_from_humidity" if within else "moisture_beyond_isotherm"
    return _isotherm(counted, warmth, oil), key


def _isotherm(humidity: float, temperature_c: float, oil: float) -> float:
    scaled = math.sqrt(-440 * math.log1p(-humidity / 100))
    dry_basis = scaled * _oil_free(oil) / (1.1 + temperature_c / 90)
    return 100 * dry_basis / (100 + dry_basis)


def _oil_free(oil: float) -> float:
    if not 0 <= oil <= 60:
        raise ValueError(f"Seed holds 0 to 60 % oil of its dry weight, not {oil:g}.")
    return 1 - oil / 100


def _held(percent: float) -> float:
    return min(max(percent, DRIEST_PERCENT), WETTEST_PERCENT)
