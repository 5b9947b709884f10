"""How seed dies in storage: the improved seed viability equation, and a lot's way through it.

    v = Ki - p / 10^(KE - CW log10 m - CH t - CQ t^2)

``v`` and ``Ki`` are viability and initial viability as normal equivalent deviates (probits
without the old 5), ``p`` days, ``m`` percent moisture on a fresh-weight basis, ``t`` degrees
Celsius. Source: Ellis & Roberts 1980, Annals of Botany 45:13-30. Stored seed is known to do
worse than this says; `longevity.optimism` holds by how much.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import SupportsFloat

from library.science.numbers import number

COLDEST_C, HOTTEST_C = -20.0, 90.0
DRIEST_PERCENT, WETTEST_PERCENT = 5.0, 25.0  # below the driest no further gain is shown
VALIDITY_SOURCE = "range of validity after Hong, Linington & Ellis 1996"
_NAMES = ("ke", "cw", "ch", "cq")
_MOST_POWER = 300  # of ten: days in a probit that a float can hold
_NORMAL = NormalDist()


@dataclass(frozen=True)
class Constants:
    """The viability constants of one species, in the order in which tables print them, and who
    published them.

    Ranges: finite; ``cw`` above 0, since drier seed lives longer. Raises ValueError otherwise.
    """

    ke: float
    cw: float
    ch: float
    cq: float
    source: str = ""

    def __post_init__(self) -> None:
        if not all(math.isfinite(value) for value in (self.ke, self.cw, self.ch, self.cq)):
            raise ValueError("Viability constants are finite numbers, such as KE 9.144.")
        if self.cw <= 0:
            raise ValueError(f"The constant CW is above 0, such as 5.342, not {self.cw:g}.")

    @classmethod
    def of(cls, given: Constants | Mapping[str, SupportsFloat | str]) -> Constants:
        """Return constants as they are, or from a row of a table whose columns are called ke,
        cw, ch and cq in whatever case. Raises ValueError when one is missing or no number.
        """
        if isinstance(given, cls):
            return given
        if not isinstance(given, Mapping):
            raise ValueError(
                "Viability constants are given as Constants(ke=…, cw=…, ch=…, cq=…) or as a "
                f"mapping of those four names, not as {given!r}."
            )
        row = {str(name).lower(): value for name, value in given.items()}
        if missing := [name for name in _NAMES if name not in row]:
            raise ValueError(f"The viability constants lack {', '.join(missing).upper()}.")
        ke, cw, ch, cq = (number(row[n], f"The constant {n.upper()}") for n in _NAMES)
        return cls(ke, cw, ch, cq, str(row.get("source", "")))


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """So many days that a lot lay in one place.

    Units: days, 0 or more; degrees Celsius, -80 to 90; percent moisture of fresh weight, 1 to
    25. Raises ValueError outside them. What is colder than -20 C or drier than 5 % counts as
    -20 C or 5 %: nobody has shown that it keeps longer.
    """

    days: float
    temperature_c: float
    moisture_percent: float

    def __post_init__(self) -> None:
        _check_days(self.days)
        if not -80 <= self.temperature_c <= HOTTEST_C:
            raise ValueError(
                f"A storage temperature is -80 to 90 °C, not {self.temperature_c:g}."
            )
        if not 1 <= self.moisture_percent <= WETTEST_PERCENT:
            raise ValueError(
                "The moisture of stored seed is 1 to 25 % of its fresh weight, "
                f"not {self.moisture_percent:g}; damper seed is not stored but dried."
            )

    def days_per_probit(self, constants: Constants) -> float:
        """Return the days in which seed in this place loses one probit."""
        return _days_per_probit(
            max(self.moisture_percent, DRIEST_PERCENT),
            max(self.temperature_c, COLDEST_C),
            constants,
        )


@dataclass(frozen=True)
class LossCurve:
    """Probits lost by each day of storage: straight between the knots, and on after the last.

    ``days`` and ``losses`` begin with 0; ``per_day`` is the loss on each day after the last
    knot.
    """

    days: tuple[float, ...]
    losses: tuple[float, ...]
    per_day: float

    def at(self, day: float) -> float:
        """Return the probits lost by a day, counted from the start of storage, 0 or later."""
        _check_days(day)
        knot = bisect_right(self.days, day) - 1
        return self.losses[knot] + (day - self.days[knot]) * self._slope(knot)

    def day_of(self, loss: float) -> float:
        """Return the first day by which so much is lost; 0 for a loss of 0 or less."""
        if loss <= 0:
            return 0.0
        knot = max(i for i, lost in enumerate(self.losses) if lost < loss)
        return self.days[knot] + (loss - self.losses[knot]) / self._slope(knot)

    def _slope(self, knot: int) -> float:
        if knot == len(self.days) - 1:
            return self.per_day
        run = self.days[knot + 1] - self.days[knot]
        return (self.losses[knot + 1] - self.losses[knot]) / run


def probit(share: float) -> float:
    """Return a share as a normal equivalent deviate (no 5 added); minus or plus infinity for 0
    and 1.

    Range: 0 to 1. Raises ValueError outside it. Source: Bliss 1934; Finney 1947.
    """
    _check_share(share, "A viability")
    if share in (0, 1):
        return math.inf if share else -math.inf
    return _NORMAL.inv_cdf(share)


def share_alive(deviate: float) -> float:
    """Return a normal equivalent deviate as the share of seed that is alive, 0 to 1."""
    return _NORMAL.cdf(deviate)


def days_per_probit(
    *,
    moisture_percent: SupportsFloat,
    temperature_c: SupportsFloat,
    constants: Constants | Mapping[str, SupportsFloat | str],
) -> float:
    """Return the days of storage in which viability falls by one probit (sigma).

    Units: percent moisture of fresh weight, 5 to 25; degrees Celsius, -20 to 90; constants as
    `Constants`, or a row of the published table as `Constants.of` reads it. Raises ValueError
    outside them. Source: Ellis & Roberts 1980; range of validity as read in restatements of
    Hong, Linington & Ellis 1996.
    """
    moisture = number(moisture_percent, "Seed moisture")
    temperature = number(temperature_c, "A storage temperature")
    return _days_per_probit(moisture, temperature, Constants.of(constants))


def _days_per_probit(moisture: float, temperature: float, constants: Constants) -> float:
    if not COLDEST_C <= temperature <= HOTTEST_C:
        raise ValueError(
            "The viability equation holds from -20 to 90 °C, "
            f"not at {temperature:g} °C; for colder storage use -20."
        )
    if not DRIEST_PERCENT <= moisture <= WETTEST_PERCENT:
        raise ValueError(
            "The viability equation holds from 5 to 25 % moisture (fresh weight), "
            f"not at {moisture:g} %; drier seed gains nothing more, so use 5 for it."
        )
    power = (
        constants.ke
        - constants.cw * math.log10(moisture)
        - constants.ch * temperature
        - constants.cq * temperature**2
    )
    if abs(power) > _MOST_POWER:
        raise ValueError(
            f"Under these constants one probit would take 10^{power:g} days, which is true of "
            "no seed; look at them again, such as KE 9.144, CW 5.342, CH 0.0329, CQ 0.000478."
        )
    return 10.0**power


def viability_after(
    *,
    initial: SupportsFloat,
    moisture_percent: SupportsFloat,
    temperature_c: SupportsFloat,
    days: SupportsFloat,
    constants: Constants | Mapping[str, SupportsFloat | str],
) -> float:
    """Return the share of seed alive after so many days in one place.

    Units: initial viability as a fraction, 0 to 1; days, 0 or more; the rest as
    `days_per_probit`. Raises ValueError outside them. An initial viability of exactly 0 or 1
    stays what it is, as the equation has it; no real lot is wholly alive, so give 0.99 rather
    than 1. Source: Ellis & Roberts 1980.
    """
    share = number(initial, "The initial viability")
    stored = number(days, "The time in storage")
    start = probit(share)
    _check_days(stored)
    sigma = days_per_probit(
        moisture_percent=moisture_percent, temperature_c=temperature_c, constants=constants
    )
    # Going to probits and back may round a share up.
    return share if stored == 0 else min(share, share_alive(start - stored / sigma))


def days_until(
    *,
    initial: float,
    target: float,
    moisture_percent: float,
    temperature_c: float,
    constants: Constants,
) -> float:
    """Return the days of storage until viability has fallen to a target.

    Units and ranges as `viability_after`; initial and target strictly between 0 and 1, the
    target not above the initial. Raises ValueError outside them. Source: Ellis & Roberts 1980.
    """
    for share, what in ((initial, "The initial viability"), (target, "The target")):
        if not 0 < share < 1:
            raise ValueError(f"{what} lies between 0 and 1, such as 0.85, not {share:g}.")
    if target > initial:
        raise ValueError(
            f"Stored seed does not get better: a target of {target:g} is above the initial "
            f"viability of {initial:g}."
        )
    sigma = days_per_probit(
        moisture_percent=moisture_percent, temperature_c=temperature_c, constants=constants
    )
    return (probit(initial) - probit(target)) * sigma


def loss_over(history: Iterable[Stretch], constants: Constants) -> float:
    """Return the probits of viability that a lot lost along its history of storage.

    Raises ValueError for constants under which seed would not age. Source: Ellis & Roberts
    1980; the losses of the stretches add up, whatever their order (Ellis & Roberts 1981, Seed
    Science and Technology 9:373-409, from memory).
    """
    return math.fsum(stretch.days / stretch.days_per_probit(constants) for stretch in history)


def loss_curve(
    history: Sequence[Stretch],
    constants: Constants,
    optimism: Callable[[float], float] | None = None,
) -> LossCurve:
    """Return the loss by each day of a history; after it the lot stays where it lies last.

    ``optimism`` gives, for a temperature, how many times faster seed is really lost than the
    equation says. Raises ValueError for a history without a stretch. Source: `loss_over`.
    """
    if not history:
        raise ValueError(
            "A storage history needs at least one stretch: where the lot lies now."
        )
    days, losses, rate = [0.0], [0.0], 0.0
    for stretch in history:
        factor = optimism(stretch.temperature_c) if optimism else 1.0
        rate = factor / stretch.days_per_probit(constants)
        if stretch.days > 0:
            days.append(days[-1] + stretch.days)
            losses.append(losses[-1] + stretch.days * rate)
    return LossCurve(tuple(days), tuple(losses), rate)


def recommended_constants(rows: Iterable[Mapping[str, str]]) -> dict[str, Constants]:
    """Pick the constants to use for each species, by its botanical name, from the rows of the
    published table.

    Takes the row marked ``recommended_default``; a row whose note begins with SUSPECT is never
    taken, whatever else it says. Raises ValueError when a species has two such rows.
    """
    chosen: dict[str, Constants] = {}
    for row in rows:
        if row["recommended_default"] != "yes" or "SUSPECT" in row["note"]:
            continue
        name = row["botanical_name"]
        if name in chosen:
            raise ValueError(f"{name} has two recommended rows of constants; keep one.")
        chosen[name] = Constants.of(row)
    return chosen


def _check_share(share: float, what: str) -> None:
    if not 0 <= share <= 1:
        raise ValueError(f"{what} is a fraction from 0 to 1, such as 0.85, not {share:g}.")


def _check_days(days: float) -> None:
    if not 0 <= days < math.inf:
        raise ValueError(f"Days of storage are 0 or more, not {days:g}.")
