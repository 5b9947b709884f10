"""The ranked chart: a bar for each variety, and what makes its chance of loss.

A bar is certain loss, cut up: what the seed that is kept takes away, then the grow-outs, then
the world outside; what is left is the chance of loss. Places are in percent of the width, so
that one picture fits a telephone, a desk and a sheet of paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from operator import mul

from django.utils.translation import gettext as _

from library.growouts.risk.words import Told

TOP, ROW, BAR, FOOT = 26, 46, 16, 6  # pixels
LONGEST_NAME = 34  # letters that fit beside the percentage on a telephone
LEAST = 0.05  # percent of the width under which nothing is drawn
TICKS = (0, 25, 50, 75, 100)


@dataclass(frozen=True)
class Part:
    """A piece of a bar: ``lost``, ``elsewhere``, ``growing`` or ``kept``."""

    kind: str
    left: float
    width: float


@dataclass(frozen=True)
class Bar:
    """One variety's bar, with the words over it."""

    name: str
    words: str
    parts: tuple[Part, ...]
    text_y: int
    bar_y: int


@dataclass(frozen=True)
class Chart:
    """A picture ready to be drawn; ``height`` in pixels."""

    bars: tuple[Bar, ...]
    height: int
    summary: str
    ticks: Sequence[int] = TICKS
    bar_height: int = BAR
    axis_y: int = TOP - 10
    top: int = TOP - 4

    @property
    def bottom(self) -> int:
        return self.height - FOOT


def chart_of(rows: Iterable[Told]) -> Chart:
    """The chart of some varieties, in their order; hybrids, which have no chance, left out."""
    counted = [one for one in rows if one.is_counted]
    bars = tuple(_bar(one, TOP + ROW * number) for number, one in enumerate(counted))
    return Chart(bars, TOP + ROW * len(bars) + FOOT, _summary(counted))


def _bar(one: Told, top: int) -> Bar:
    name = one.risk.variety.name
    if one.rank:
        name = f"{one.rank}. {name}"
    if len(name) > LONGEST_NAME:
        name = name[: LONGEST_NAME - 1].rstrip() + "…"
    return Bar(name, one.chance, tuple(parts_of(one)), top + 14, top + 20)


def parts_of(one: Told) -> list[Part]:
    """The pieces from the left: what is lost, then what saves it, the last counted first."""
    risk = one.risk.risk
    kept = _steps(1.0, [keeper.fails for keeper in one.keepers])
    grown = _steps(kept[-1], one.growing)
    ends = [
        ("lost", 0.0, risk.lost),
        ("elsewhere", risk.lost, grown[-1]),
        *(("growing", low, high) for high, low in _pairs(grown)),
        *(("kept", low, high) for high, low in _pairs(kept)),
    ]
    parts = (
        Part(kind, round(100 * low, 3), round(100 * (high - low), 3))
        for kind, low, high in ends
    )
    return sorted((part for part in parts if part.width >= LEAST), key=lambda part: part.left)


def _steps(first: float, factors: Iterable[float]) -> list[float]:
    return list(accumulate(factors, mul, initial=first))


def _pairs(steps: list[float]) -> list[tuple[float, float]]:
    return list(pairwise(steps))


def _summary(rows: Sequence[Told]) -> str:
    """The picture for who cannot see it; the table beside it says the rest."""
    if not rows:
        return ""
    named = ", ".join(f"{one.risk.variety.name} {one.chance}" for one in rows[:5])
    return _(
        "Bars of %(n)s varieties, each cut into its chance of loss and what takes away from "
        "it. First are %(named)s. All are in the table below."
    ) % {"n": len(rows), "named": named}


def key() -> list[tuple[str, str]]:
    """What the fillings mean."""
    return [
        ("lost", _("lost")),
        ("elsewhere", _("saved by what can be had elsewhere")),
        ("growing", _("saved by grow-outs that were promised")),
        ("kept", _("saved by seed that is kept, one place after the other")),
    ]
