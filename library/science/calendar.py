"""From frost dates and life cycles to sowing, seed harvest and loan due dates.

Where a number below has no published source it is marked as common practice; each is a
parameter, so that a crop or a library that knows better can say so. A season is the stretch
from the last spring frost to the first autumn frost, in either hemisphere; it is called after
the year in which its spring falls.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from library.science.autumn import OVER_WINTER_DAYS, Planting, autumn_planting, planting_from
from library.science.dates import MonthDay, add_years, checked_day, checked_year
from library.science.reasons import COMMON_PRACTICE, Reason, Scalar, because
from library.science.seasons import GardenSeason, growing_days, season_year

__all__ = [
    "BIENNIAL_SEED_DAYS",
    "DEFAULT_DAYS_TO_MATURITY",
    "FIRST_YEAR_DAYS",
    "GRACE_DAYS",
    "SEED_RIPENING_DAYS",
    "SOWING_WAIT_DAYS",
    "DueDate",
    "GardenSeason",
    "LifeCycle",
    "MonthDay",
    "SeasonFit",
    "SeedRipe",
    "SowingWindow",
    "growing_days",
    "loan_due",
    "planting_window",
    "season_year",
    "seed_ripe",
    "sowing_window",
    "stands_over_winter",
    "suits_season",
]

# Common practice, no source; each is a default that the caller may replace.
SEED_RIPENING_DAYS = 45  # from fit to eat to ripe seed
DEFAULT_DAYS_TO_MATURITY = 75  # an annual whose days to maturity nobody wrote down
FIRST_YEAR_DAYS = 90  # a biennial's growth before its first winter
BIENNIAL_SEED_DAYS = 120  # from the second spring's last frost to ripe seed
SOWING_WAIT_DAYS = 90  # a packet lies this long before sowing where no frost sets the time
GRACE_DAYS = 60  # for drying, threshing, cleaning and bringing it in


class LifeCycle(StrEnum):
    """How long a plant takes from seed to seed, as gardeners grow it."""

    ANNUAL = "annual"
    BIENNIAL = "biennial"
    PERENNIAL = "perennial"
    CLONAL = "clonal"


@dataclass(frozen=True)
class _Explained:
    why: Reason

    @property
    def reason(self) -> str:
        """The machine key of the rule."""
        return self.why.key

    @property
    def inputs(self) -> Mapping[str, Scalar]:
        """The numbers that went into the rule."""
        return self.why.inputs

    @property
    def source(self) -> str:
        """Who published the rule."""
        return self.why.source

    @property
    def sentence(self) -> str:
        """The rule in English, with its numbers."""
        return self.why.sentence


@dataclass(frozen=True)
class SeedRipe(_Explained):
    """When seed should be ripe, of plants sown on a day; ``in_time`` is False when frost would
    come first.
    """

    sown_on: date
    ripe_on: date
    in_time: bool = True


@dataclass(frozen=True)
class DueDate(_Explained):
    """When a loan is due, and when its seed should be ripe."""

    due_on: date
    seed_ripe_on: date


@dataclass(frozen=True)
class SowingWindow(_Explained):
    """The days on which to sow, both included; ``opens`` after ``closes`` never happens."""

    opens: date
    closes: date


@dataclass(frozen=True)
class SeasonFit(_Explained):
    """Whether seed ripens before the frost; true in a condition when it does."""

    fits: bool
    days_needed: int
    days_available: int

    def __bool__(self) -> bool:
        return self.fits

    @property
    def spare_days(self) -> int:
        """Days left over; negative when there are too few."""
        return self.days_available - self.days_needed


def suits_season(
    *,
    days_to_maturity: int,
    garden: GardenSeason,
    seed_ripening_days: int = SEED_RIPENING_DAYS,
    head_start_days: int = 0,
) -> SeasonFit:
    """Say whether an annual's seed ripens within a garden's season.

    Units: days. Ranges: days_to_maturity 1 to 1000 (from sowing to fit to eat),
    seed_ripening_days and head_start_days (under cover before the last frost) 0 to 365. Raises
    ValueError outside them. Source: common practice, no source.
    """
    _check_days(days_to_maturity, seed_ripening_days)
    if not 0 <= head_start_days <= 365:
        raise ValueError(f"A head start under cover is 0 to 365 days, not {head_start_days}.")
    needed = days_to_maturity + seed_ripening_days
    available = growing_days(garden) + head_start_days
    fits = garden.frost_free or needed <= available
    key = "season_fits" if fits else "season_too_short"
    why = because(key, COMMON_PRACTICE, days_needed=needed, days_available=available)
    return SeasonFit(why, fits, needed, available)


def sowing_window(
    *,
    year: int,
    garden: GardenSeason,
    sow_from_days: int,
    sow_until_days: int,
    days_to_maturity: int | None = None,
    seed_ripening_days: int = SEED_RIPENING_DAYS,
) -> SowingWindow:
    """Return the days on which to sow in the season of a year.

    Units: days from the last spring frost, negative before it; -365 to 365, from not after
    until. When days_to_maturity is given, the window closes early enough for an annual's seed
    to ripen before the autumn frost, but never before it opens. A garden without frost may sow
    all year. Raises ValueError out of range. Source: common practice, no source.
    """
    if not -365 <= sow_from_days <= sow_until_days <= 365:
        raise ValueError(
            "Sowing days are counted from the last spring frost, from -365 to 365, the first "
            f"not after the last; not {sow_from_days} to {sow_until_days}."
        )
    starts, ends = garden.of_year(checked_year(year))
    if garden.frost_free:
        return SowingWindow(because("sow_any_time", COMMON_PRACTICE), starts, ends)
    opens = starts + timedelta(days=sow_from_days)
    closes = starts + timedelta(days=sow_until_days)
    key = "sow_around_last_frost"
    if days_to_maturity is not None:
        _check_days(days_to_maturity, seed_ripening_days)
        latest = ends - timedelta(days=days_to_maturity + seed_ripening_days)
        if latest < closes:
            closes, key = max(opens, latest), "sow_to_ripen_before_frost"
    why = because(key, COMMON_PRACTICE, last_frost=starts, first_frost=ends)
    return SowingWindow(why, opens, closes)


def stands_over_winter(life_cycle: LifeCycle, days_to_maturity: int | None) -> bool:
    """Say whether a crop is planted in the autumn before it is lifted: a clonal one of 200 days
    or more, such as garlic. Source: common practice, no source.
    """
    days = DEFAULT_DAYS_TO_MATURITY if days_to_maturity is None else days_to_maturity
    return life_cycle is LifeCycle.CLONAL and days >= OVER_WINTER_DAYS


def planting_window(*, sown_on: date, garden: GardenSeason) -> SowingWindow:
    """Return the days around one on which to plant what stands over winter.

    For gardens with frost: from the first frost of autumn on, else until the last of spring.
    Source: common practice, no source.
    """
    year = _growing_season(checked_day(sown_on), garden)
    found = None if garden.frost_free else planting_from(garden, year, sown_on)
    if found is None:
        raise ValueError(f"What stands over winter is not planted on {sown_on} there.")
    autumn, spring = garden.of_year(year - 1)[1], garden.of_year(year)[0]
    key = f"plant_in_{found.when.value}"
    why = because(key, COMMON_PRACTICE, first_frost=autumn, last_frost=spring)
    return SowingWindow(why, found.opens, found.closes)


def seed_ripe(
    *,
    sown_on: date,
    life_cycle: LifeCycle,
    garden: GardenSeason | None,
    days_to_maturity: int | None = None,
    seed_ripening_days: int = SEED_RIPENING_DAYS,
) -> SeedRipe:
    """Return the day on which the seed of plants sown on a day should be ripe.

    Units: days. Ranges: days_to_maturity 1 to 1000 or None when unknown (then 75 is assumed),
    ripening 0 to 365. An annual ripens days_to_maturity + seed_ripening_days after sowing, a
    clonal crop is lifted after days_to_maturity, both at the latest at the autumn frost; what
    stands over winter not before the last frost of spring. A biennial or perennial gives its
    first seed 120 days into the next season. Raises ValueError outside the ranges. Source:
    common practice, no source.
    """
    checked_day(sown_on)
    if life_cycle in (LifeCycle.BIENNIAL, LifeCycle.PERENNIAL):
        return _ripe_in_second_year(sown_on, life_cycle, garden)
    days = _days_needed(life_cycle, days_to_maturity, seed_ripening_days)
    ripe_on = sown_on + timedelta(days=days)
    spring = _spring_after(sown_on, garden) if stands_over_winter(life_cycle, days) else None
    if spring is not None and ripe_on < spring:
        return _ripe_after_winter(sown_on, days, spring)
    frost_on = _next_autumn_frost(sown_on, garden)
    in_time = frost_on is None or ripe_on <= frost_on
    key = "ripe_after_days" if in_time else "ripe_by_frost"
    why = because(key, COMMON_PRACTICE, sown_on=sown_on, days_needed=days, first_frost=frost_on)
    return SeedRipe(
        why, sown_on, ripe_on if frost_on is None else min(ripe_on, frost_on), in_time
    )


def loan_due(
    *,
    lent_on: date,
    life_cycle: LifeCycle,
    garden: GardenSeason | None,
    days_to_maturity: int | None,
    grace_days: int = GRACE_DAYS,
    seed_ripening_days: int = SEED_RIPENING_DAYS,
) -> DueDate:
    """Return the day by which seed should come back for a packet lent on a day.

    The packet is taken to be sown in the present season when its seed can still ripen (a
    biennial: when it can still grow 90 days before winter), else in the next; what stands over
    winter (``stands_over_winter``) is planted in the next autumn or, late, by the last frost of
    spring. The loan is due grace_days after the seed is ripe: for an annual or a clonal crop in
    the season of sowing, for a biennial or perennial in the season after. Where no frost sets
    the time, sowing is taken to be 90 days after lending. Where the garden is unknown, an
    annual's seed is taken to be ripe within a year, a biennial's within two: any run of 12
    months holds one whole harvest in any climate with one season a year.

    Units: days; garden None when its frost dates are not known. Ranges: days_to_maturity 1 to
    400 or None, grace_days 0 to 730, seed_ripening_days 0 to 365. Raises ValueError outside
    them. Source: common practice, no source.
    """
    checked_day(lent_on)
    if not 0 <= grace_days <= 730:
        raise ValueError(f"The grace after harvest is 0 to 730 days, not {grace_days}.")
    days = _days_needed(life_cycle, days_to_maturity, seed_ripening_days)
    ripe_on, inputs = _expected_harvest(lent_on, life_cycle, garden, days)
    due_on = ripe_on + timedelta(days=grace_days)
    why = because(
        f"due_{life_cycle.value}{'_garden_unknown' if garden is None else ''}",
        COMMON_PRACTICE,
        lent_on=lent_on,
        seed_ripe_on=ripe_on,
        grace_days=grace_days,
        due_on=due_on,
        days_assumed=days_to_maturity is None,
        **inputs,
    )
    return DueDate(why, due_on, ripe_on)


def _expected_harvest(
    lent_on: date, life_cycle: LifeCycle, garden: GardenSeason | None, days: int
) -> tuple[date, dict[str, Scalar | date]]:
    """The day on which a borrower's seed should be ripe, and how that was found."""
    second_year = life_cycle in (LifeCycle.BIENNIAL, LifeCycle.PERENNIAL)
    if garden is None:
        return add_years(lent_on, 2 if second_year else 1), {}
    over_winter = stands_over_winter(life_cycle, days) and not garden.frost_free
    if over_winter:
        sown_on = _expected_planting(lent_on, garden).on
    else:
        sown_on = _expected_sowing(lent_on, garden, days)
    inputs: dict[str, Scalar | date] = {"sown_on": sown_on, "days_needed": days}
    if second_year:
        return _ripe_in_second_year(sown_on, life_cycle, garden).ripe_on, inputs
    if over_winter:
        ripe = seed_ripe(
            sown_on=sown_on, life_cycle=life_cycle, garden=garden, days_to_maturity=days
        )
        return ripe.ripe_on, inputs
    return sown_on + timedelta(days=days), inputs


def _expected_planting(lent_on: date, garden: GardenSeason) -> Planting:
    """When a borrower plants what stands over winter: in autumn, else in the spring after."""
    year = _growing_season(lent_on, garden)
    return planting_from(garden, year, lent_on) or autumn_planting(garden, year + 1)


def _expected_sowing(lent_on: date, garden: GardenSeason, days: int) -> date:
    """The day on which a borrower sows: in this season when there is still time, else in the
    next.
    """
    if garden.frost_free:
        return lent_on + timedelta(days=SOWING_WAIT_DAYS)
    year = lent_on.year - 1
    while garden.of_year(year)[1] - timedelta(days=days) < lent_on:
        year += 1
    starts, ends = garden.of_year(year)
    return max(lent_on, min(starts, ends - timedelta(days=days)))


def _ripe_in_second_year(
    sown_on: date, life_cycle: LifeCycle, garden: GardenSeason | None
) -> SeedRipe:
    """A biennial or perennial seeds in the season after the one it was sown in."""
    if garden is None or garden.frost_free:
        ripe_on = add_years(sown_on, 1) + timedelta(days=BIENNIAL_SEED_DAYS)
    else:
        starts, ends = garden.of_year(_growing_season(sown_on, garden) + 1)
        ripe_on = min(starts + timedelta(days=BIENNIAL_SEED_DAYS), ends)
    why = because(f"ripe_{life_cycle.value}", COMMON_PRACTICE, sown_on=sown_on, ripe_on=ripe_on)
    return SeedRipe(why, sown_on, ripe_on)


def _ripe_after_winter(sown_on: date, days: int, spring: date) -> SeedRipe:
    """Where winter is so long that the days are over before it is."""
    why = because(
        "ripe_after_winter",
        COMMON_PRACTICE,
        sown_on=sown_on,
        days_needed=days,
        last_frost=spring,
    )
    return SeedRipe(why, sown_on, spring)


def _growing_season(on: date, garden: GardenSeason) -> int:
    """The year of the first season that has not ended by a day."""
    year = on.year - 1
    while garden.of_year(year)[1] < on:
        year += 1
    return year


def _spring_after(on: date, garden: GardenSeason | None) -> date | None:
    """The last frost before the season in which a day lies, or that comes next."""
    if garden is None or garden.frost_free:
        return None
    return garden.of_year(_growing_season(on, garden))[0]


def _next_autumn_frost(on: date, garden: GardenSeason | None) -> date | None:
    if garden is None or garden.frost_free:
        return None
    return garden.of_year(_growing_season(on, garden))[1]


def _days_needed(
    life_cycle: LifeCycle, days_to_maturity: int | None, seed_ripening_days: int
) -> int:
    """Days of growth before a borrower's crop is out of the frost's reach."""
    maturity = DEFAULT_DAYS_TO_MATURITY if days_to_maturity is None else days_to_maturity
    _check_days(maturity, seed_ripening_days)
    if life_cycle is LifeCycle.ANNUAL:
        return maturity + seed_ripening_days
    if life_cycle is LifeCycle.CLONAL:
        return maturity
    return FIRST_YEAR_DAYS


def _check_days(days_to_maturity: int, seed_ripening_days: int) -> None:
    if not 1 <= days_to_maturity <= 1000:
        raise ValueError(f"Days to maturity are 1 to 1000, not {days_to_maturity}.")
    if not 0 <= seed_ripening_days <= 365:
        raise ValueError(f"Seed ripens within 0 to 365 days more, not {seed_ripening_days}.")
