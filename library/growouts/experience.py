"""How likely a grow-out of somebody is to give seed: a plain estimate, with its uncertainty.

A Beta distribution that begins at what the library expects of somebody new, with the weight of
four grow-outs, and moves with each outcome. Seed that came back counts for the grower; a crop
counts against them only where the cause they told says something of their care (it crossed, it
was not looked after). Hail, frost, slugs or illness are held against nobody. Common practice,
no source.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Q
from django.utils.formats import number_format
from django.utils.translation import gettext as _

from library.growouts.models import Cause, Commitment, GrowOutRules
from library.science.reasons import COMMON_PRACTICE

WEIGHT = 4.0  # grow-outs that the library's expectation is worth
HELD_AGAINST = (Cause.CROSSED, Cause.NEGLECT)
BAND = (0.05, 0.95)


@dataclass(frozen=True)
class Experience:
    """Shares from 0 to 1: the mean and the 90 % band; and what they rest on.

    ``excused`` are crops that failed for a cause that is held against nobody.
    """

    mean: float
    low: float
    high: float
    gave_seed: int
    failed: int
    excused: int
    expected: float
    weight: float = WEIGHT
    source: str = COMMON_PRACTICE

    @property
    def percents(self) -> tuple[int, int, int]:
        """Low, mean and high in whole per cent."""
        return round(100 * self.low), round(100 * self.mean), round(100 * self.high)

    @property
    def rows(self) -> list[tuple[str, str]]:
        """What went in, in words, for a page that explains it."""
        return [
            (_("what the library expects of somebody new"), f"{100 * self.expected:.0f} %"),
            (_("which counts as much as so many grow-outs"), number_format(f"{self.weight:g}")),
            (_("grow-outs whose seed came back"), str(self.gave_seed)),
            (_("grow-outs that crossed or were not looked after"), str(self.failed)),
            (_("failed for other causes, held against nobody"), str(self.excused)),
        ]

    @property
    def inputs(self) -> dict:
        """What the estimate was made from, for a page."""
        return {
            "expected_percent": round(100 * self.expected),
            "weight": self.weight,
            "gave_seed": self.gave_seed,
            "failed": self.failed,
            "excused": self.excused,
        }


def experience_of(members: Iterable[int], *, on: dt.date) -> dict[int, Experience]:
    """Each member's experience (by key) from what had ended by a day; two queries."""
    keys = set(members)
    expected = GrowOutRules.current().usual_success_percent / 100
    counts = dict.fromkeys(keys, (0, 0, 0))
    rows = (
        Commitment.objects.filter(grower__in=keys, closed_on__lte=on)
        .order_by()
        .values("grower")
        .annotate(
            gave=Count("pk", Q(state="fulfilled")),
            failed=Count("pk", Q(state="failed", cause__in=HELD_AGAINST)),
            excused=Count("pk", Q(state="failed") & ~Q(cause__in=HELD_AGAINST)),
        )
        .values_list("grower", "gave", "failed", "excused")
    )
    counts |= {grower: (gave, failed, excused) for grower, gave, failed, excused in rows}
    return {key: estimate(expected, *counted) for key, counted in counts.items()}


def estimate(expected: float, gave_seed: int, failed: int, excused: int = 0) -> Experience:
    """The experience that so many outcomes make, where the library expects a share.

    Range: expected strictly between 0 and 1. Raises ValueError outside it.
    """
    if not 0 < expected < 1:
        raise ValueError(f"What is expected lies between 0 and 1, not {expected:g}.")
    from scipy.stats import beta

    first = WEIGHT * expected + gave_seed
    second = WEIGHT * (1 - expected) + failed
    low, high = beta.ppf(BAND, first, second)
    return Experience(
        mean=first / (first + second),
        low=float(low),
        high=float(high),
        gave_seed=gave_seed,
        failed=failed,
        excused=excused,
        expected=expected,
    )
