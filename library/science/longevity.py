"""How long a species keeps: from its own constants, or its class of longevity, or a default.

Every model carries how far it may be off, as the standard deviation of the natural logarithm
of the rate of loss. The published finding that stored seed does worse than predicted is a
factor on the rate, not a wish.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from library.science.moisture import equilibrium_moisture
from library.science.reasons import COMMON_PRACTICE, Reason, because
from library.science.viability import (
    Constants,
    LossCurve,
    Stretch,
    days_per_probit,
    loss_curve,
    probit,
)

DAYS_IN_YEAR = 365.25
OPTIMISM_SOURCE = (
    "Solberg, Yndgaard et al. 2020, Frontiers in Plant Science 11:1007 (half-lives of 40-60 "
    "years cool and dry, two to three times that frozen, below the predicted ones)"
)
EQUATION_SOURCE = "Ellis & Roberts 1980, Annals of Botany 45:13-30"
CLASS_SOURCE = "longevity in years of cool, dry storage, with the equation's usual response"

# Fitted by us: for the recommended constants, seed in balance with 20 % humidity at 4 °C has a
# median predicted half-life 1.65 times the middle of 40-60 years; at -18 °C (dried at 15 °C and
# 20 %) 3.5 times the middle of two to three times that. ln 1.65 / 16 = 0.031 and ln 3.5 / 38 =
# 0.033 per degree below 20 °C. At 20 °C nothing published says that the equation flatters.
OPTIMISM_PER_DEGREE = 0.033
NO_OPTIMISM_FROM_C = 20.0

# A longevity of so many years is read as: 95 % falls to half in that time at 10 °C and 50 %
# humidity (50 °F and 50 % are the edge of good storage by Harrington's rule of 100).
CLASS_TEMPERATURE_C, CLASS_HUMIDITY_PERCENT = 10.0, 50.0
CLASS_INITIAL = 0.95
# The response to moisture is the median of the recommended rows; to temperature, universal
# (Dickie et al. 1990).
CLASS_CW, CLASS_CH, CLASS_CQ = 4.76, 0.0329, 0.000478
DEFAULT_YEARS = 3.0  # below the median of the printed longevities, 4: careful
LONG_LIVED_FROM_YEARS = 5.0  # common practice

# Spread of the true rate around the model, in natural logarithms. Common practice, no source:
# 0.8 lets one lot in twenty be more than five times faster or slower.
SPREAD_CONSTANTS, SPREAD_CLASS, SPREAD_UNKNOWN = 0.8, 1.0, 1.2


class Known(StrEnum):
    """From what a species' longevity is known."""

    CONSTANTS = "constants"
    CLASS = "class"
    NOTHING = "nothing"


@dataclass(frozen=True, kw_only=True)
class Longevity:
    """How fast a species' seed is expected to die, how sure that is, and why."""

    known: Known
    constants: Constants
    spread: float
    long_lived: bool
    why: Reason

    @property
    def predictable(self) -> bool:
        """Whether anything published lets its viability be predicted."""
        return self.known is not Known.NOTHING

    def expected_loss(self, history: tuple[Stretch, ...]) -> LossCurve:
        """Return the probits that seed is expected to lose by each day, optimism taken out."""
        return loss_curve(history, self.constants, optimism)


def optimism(temperature_c: float) -> float:
    """Return how many times faster stored seed dies than the equation says, at a temperature.

    Units: degrees Celsius. 1 at 20 °C and above, rising by 3.3 % for each degree below, to 3.7
    at -20 °C, and no further. Source: Solberg et al. 2020 (abstract read), with the constants
    of the compilation; the line through the published half-lives is ours.
    """
    below = NO_OPTIMISM_FROM_C - max(temperature_c, -20.0)
    return math.exp(OPTIMISM_PER_DEGREE * max(0.0, below))


def class_constants(longevity_years: float, *, oil_percent: float) -> Constants:
    """Return constants under which seed keeps so many years, cool and dry.

    Units: years until 95 % has fallen to half at 10 °C and 50 % humidity, above 0 to 1000; oil
    as percent of dry weight, 0 to 60. Raises ValueError outside them. Source: the published
    longevity tables of garden seed (Iowa State University Extension 1999, after Knott's
    Handbook); the reading of "cool and dry" is ours.
    """
    if not 0 < longevity_years <= 1000:
        raise ValueError(
            f"Longevity is more than 0 and at most 1000 years, not {longevity_years:g}."
        )
    moisture = equilibrium_moisture(
        humidity_percent=CLASS_HUMIDITY_PERCENT,
        temperature_c=CLASS_TEMPERATURE_C,
        oil_percent=oil_percent,
    )
    wanted = longevity_years * DAYS_IN_YEAR / probit(CLASS_INITIAL)
    trial = Constants(ke=0.0, cw=CLASS_CW, ch=CLASS_CH, cq=CLASS_CQ)
    at_zero = days_per_probit(
        moisture_percent=moisture, temperature_c=CLASS_TEMPERATURE_C, constants=trial
    )
    ke = math.log10(wanted * optimism(CLASS_TEMPERATURE_C) / at_zero)
    return Constants(ke=ke, cw=CLASS_CW, ch=CLASS_CH, cq=CLASS_CQ, source=CLASS_SOURCE)


def longevity_of(
    *,
    constants: Constants | None,
    longevity_years: float | None,
    oil_percent: float,
    longevity_source: str = "",
) -> Longevity:
    """Return the best model there is of how a species' seed dies.

    Its own constants if it has them; else its class of longevity, with more doubt; else a
    stated default of 3 years, with still more. Units and ranges as `class_constants`; None
    where not known. Raises ValueError outside them.
    """
    years = DEFAULT_YEARS if longevity_years is None else longevity_years
    by_class = class_constants(years, oil_percent=oil_percent)
    long_lived = longevity_years is not None and longevity_years >= LONG_LIVED_FROM_YEARS
    if constants is not None:
        why = because("longevity_constants", constants.source or EQUATION_SOURCE)
        return _model(Known.CONSTANTS, constants, SPREAD_CONSTANTS, long_lived, why)
    if longevity_years is not None:
        source = longevity_source or CLASS_SOURCE
        why = because("longevity_class", source, longevity_years=longevity_years)
        return _model(Known.CLASS, by_class, SPREAD_CLASS, long_lived, why)
    why = because("longevity_unknown", COMMON_PRACTICE, longevity_years=years)
    return _model(Known.NOTHING, by_class, SPREAD_UNKNOWN, False, why)


def _model(
    known: Known, constants: Constants, spread: float, long_lived: bool, why: Reason
) -> Longevity:
    return Longevity(
        known=known, constants=constants, spread=spread, long_lived=long_lived, why=why
    )
