"""What the retest rule looks at, read off one lot's estimate or off many lots' at once.

The rule itself (`retest`) sees only an `Outlook`, so that one rule serves the page of one lot
and the recompute of a hundred thousand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import islice

from library.science.dates import checked_day
from library.science.longevity import Longevity
from library.science.posterior import (
    Estimate,
    LotRecord,
    ViabilityOn,
    check_level,
    check_standard,
    posterior_of,
    viabilities,
)
from library.science.posterior_grid import Posterior

_CHUNK = 256  # lots at a time: some 20 MB, however many there are


@dataclass(frozen=True, kw_only=True)
class LotDates:
    """The days that matter to a lot: when its storage began (day 0 of the estimate), when it
    was received, the day it is looked at, its newest test that counts, and the next sowing that
    counts on it (both None where there is none).

    Nothing but a sowing lies before the storage. Raises ValueError otherwise.
    """

    stored_on: date
    received_on: date
    today: date
    tested_on: date | None = None
    sowing_on: date | None = None

    def __post_init__(self) -> None:
        for day in (self.received_on, self.today, self.tested_on):
            if checked_day(day or self.stored_on) < checked_day(self.stored_on):
                raise ValueError(
                    f"A lot stored on {self.stored_on.isoformat()} cannot have been received, "
                    f"tested or looked at on {day}; give the day on which its storage began."
                )

    def day(self, on: date | None) -> int | None:
        """Return a date as a day of storage; None for no date, or one before it."""
        if on is None or on < self.stored_on:
            return None
        return (on - self.stored_on).days


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """What is known of one lot, as far as its retest date needs it.

    Shares are fractions, days count from the start of storage. ``falls_on`` is the day on which
    the chance of being above the standard falls to the level; ``predicted_days`` those from the
    beginning to 85 % of initial, as it is stored now. The viability is that of today, and of
    the days of the newest test and the next sowing, where there are such.
    """

    longevity: Longevity
    dates: LotDates
    standard: float
    level: float
    initial: float
    falls_on: float
    predicted_days: float
    today: ViabilityOn
    tested: ViabilityOn | None
    sowing: ViabilityOn | None


def outlook_of(estimate: Estimate, *, level: float, dates: LotDates) -> Outlook:
    """Return the outlook of one lot. Raises ValueError for a level that is not a chance."""
    check_level(level)
    return _read(estimate.posterior, [(estimate.record, dates)], level)[0]


def outlooks(
    lots: Iterable[tuple[LotRecord, LotDates]], *, standard: float, level: float
) -> Iterator[Outlook]:
    """Yield the outlook of each of many lots, in order and in flat memory.

    Raises ValueError for a standard or a level that is no share, before the first lot is read.
    """
    check_standard(standard)
    check_level(level)
    return _in_chunks(iter(lots), standard, level)


def _in_chunks(
    lots: Iterator[tuple[LotRecord, LotDates]], standard: float, level: float
) -> Iterator[Outlook]:
    while chunk := list(islice(lots, _CHUNK)):
        posterior = posterior_of([record for record, _ in chunk], standard=standard)
        yield from _read(posterior, chunk, level)


def _read(
    posterior: Posterior, lots: Sequence[tuple[LotRecord, LotDates]], level: float
) -> list[Outlook]:
    asked = [
        (row, day)
        for row, (_, dates) in enumerate(lots)
        for on in {dates.today, dates.tested_on, dates.sowing_on}
        if (day := dates.day(on)) is not None
    ]
    curves = [record.curve for record, _ in lots]
    seen: dict[tuple[int, int | None], ViabilityOn] = dict(
        zip(asked, viabilities(posterior, curves, asked), strict=True)
    )
    initial = posterior.initial.tolist()
    to_level = posterior.loss_to_level(level).tolist()
    to_share = posterior.loss_to_share_of_initial.tolist()
    return [
        Outlook(
            longevity=record.longevity,
            dates=dates,
            standard=posterior.standard,
            level=level,
            initial=initial[row],
            falls_on=record.curve.day_of(to_level[row]),
            predicted_days=to_share[row] / record.curve.per_day,
            today=seen[row, (dates.today - dates.stored_on).days],
            tested=seen.get((row, dates.day(dates.tested_on))),
            sowing=seen.get((row, dates.day(dates.sowing_on))),
        )
        for row, (record, dates) in enumerate(lots)
    ]
