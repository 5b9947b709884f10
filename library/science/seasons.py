"""The season of a garden: the stretch from the last spring frost to the first autumn frost.

It is called after the year in which its spring falls, in either hemisphere.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from library.science.dates import MonthDay, checked_day


@dataclass(frozen=True)
class GardenSeason:
    """When frost ends and begins in a garden; both None for a garden without frost.

    Raises ValueError when only one is given, or both are the same day. A garden whose frost
    dates nobody knows has no GardenSeason: pass None, or build it with ``known``.
    """

    last_spring_frost: MonthDay | None
    first_autumn_frost: MonthDay | None

    def __post_init__(self) -> None:
        if (self.last_spring_frost is None) != (self.first_autumn_frost is None):
            raise ValueError(
                "Give both the last spring frost and the first autumn frost, or neither "
                "for a garden without frost."
            )
        if not self.frost_free and self.last_spring_frost == self.first_autumn_frost:
            raise ValueError("The last and the first frost cannot fall on the same day.")

    @classmethod
    def parse(cls, *, last_spring_frost: str, first_autumn_frost: str) -> GardenSeason:
        """Read both frosts as ``MM-DD``, or both empty for a garden without frost."""
        last, first = last_spring_frost.strip(), first_autumn_frost.strip()
        return cls(
            MonthDay.parse(last) if last else None, MonthDay.parse(first) if first else None
        )

    @classmethod
    def known(
        cls,
        *,
        last_spring_frost: MonthDay | None,
        first_autumn_frost: MonthDay | None,
        frost_free: bool = False,
    ) -> GardenSeason | None:
        """Return the season from what was written down, or None when that is not enough."""
        if frost_free:
            return cls(None, None)
        if last_spring_frost is None or first_autumn_frost is None:
            return None
        return cls(last_spring_frost, first_autumn_frost)

    @property
    def frost_free(self) -> bool:
        """Whether the garden has no frost."""
        return self.last_spring_frost is None

    def of_year(self, year: int) -> tuple[date, date]:
        """Return the first and the last day of the season whose spring falls in that year."""
        if self.last_spring_frost is None or self.first_autumn_frost is None:
            return date(year, 1, 1), date(year, 12, 31)
        starts = self.last_spring_frost.in_year(year)
        return starts, self.first_autumn_frost.on_or_after(starts)


def growing_days(garden: GardenSeason) -> int:
    """Return the length of the frost-free season in days: 365 for a garden without frost.

    Counted in a year without 29 February, in either hemisphere. Source: definition.
    """
    if garden.frost_free:
        return 365
    starts, ends = garden.of_year(2001)
    return (ends - starts).days


def season_year(on: date, garden: GardenSeason | None) -> int:
    """Return the year that a day's growing season is called after: the year of its spring.

    Where winter holds 1 January, or no frost dates are known, that is the calendar year. Where
    the season spans the new year (southern gardens), the season changes in the middle of the
    winter. Source: common practice, no source.
    """
    checked_day(on)
    if garden is None or garden.last_spring_frost is None or garden.first_autumn_frost is None:
        return on.year
    starts, ends = garden.of_year(on.year)
    if starts.year == ends.year:
        return on.year
    winter_begins = garden.first_autumn_frost.on_or_before(starts)
    midwinter = winter_begins + (starts - winter_begins) / 2
    return on.year if on >= midwinter else on.year - 1
