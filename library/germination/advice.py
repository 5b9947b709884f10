"""How much of a lot to sow for a stand of plants, and why so much."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import Enum
from typing import Any

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from library.catalogue.models import Species, SpeciesFigure
from library.errors import Refused
from library.germination.estimates import (
    CountedTest,
    LotViability,
    estimate_of,
    model_of,
)
from library.germination.models import BenchRules, LotEstimate
from library.germination.reasons import sentence_for
from library.science.germination import exact_interval
from library.science.longevity import Known
from library.science.sowing import packet_size, seeds_for_stand
from library.stock.models import Lot
from library.stock.services.checks import whole

CONFIDENCE = 0.95  # for the stand, and for the lower bound of what sprouts
USUAL_LOSSES_PERCENT = 20  # common practice, no source
MOST_LOSSES_PERCENT = 99
MOST_PLANTS = 100_000
LEAST_GERMINATION = 0.05  # below it no sensible number of seeds gives a sure stand
PACKET_STEP = 5
SOURCE = gettext_lazy(
    "exact binomial distribution, then divided by the share of seedlings that is left"
)


class Basis(Enum):
    """What a share is known from: tests, else published constants, else neither."""

    TESTED = "tested"
    PREDICTED = "predicted"
    GUESSED = "guessed"


@dataclass(frozen=True)
class Sprouting:
    """The share of a lot that sprouts, 0 to 1: its lower bound, its median, what it is from.

    ``low`` holds with 95 % confidence. ``on`` is the day it is said for, if for one; ``told``
    says in words what it is from.
    """

    low: float
    median: float
    basis: Basis
    told: str
    on: dt.date | None = None


@dataclass(frozen=True)
class SowingAdvice:
    """So many seeds for so many plants; and what the number was made from."""

    seeds: int
    plants: int
    losses_percent: Decimal
    sprouting: Sprouting
    unit: str
    confidence: float = CONFIDENCE

    @property
    def germination(self) -> float:
        """The share that was counted on: the lower bound, but never less than 5 %."""
        return max(self.sprouting.low, LEAST_GERMINATION)

    @property
    def median(self) -> float:
        return self.sprouting.median

    @property
    def from_tests(self) -> bool:
        return self.sprouting.basis == Basis.TESTED

    @property
    def is_guess(self) -> bool:
        return self.sprouting.basis == Basis.GUESSED

    @property
    def germination_percent(self) -> int:
        """Rounded down, as the lower bound that it is."""
        return math.floor(100 * self.germination + 1e-9)

    @property
    def median_percent(self) -> int:
        return round(100 * self.median)

    @property
    def losses_told(self) -> str:
        return number_format(self.losses_percent.normalize() + 0)

    @property
    def too_poor(self) -> bool:
        """Whether less may sprout than any number of seeds makes up for."""
        return self.sprouting.low < LEAST_GERMINATION

    @property
    def headline(self) -> str:
        """What to sow, in one breath."""
        told = {
            "seeds": number_format(self.seeds, force_grouping=True),
            "unit": self.unit,
            "plants": number_format(self.plants, force_grouping=True),
        }
        return (
            ngettext(
                "Sow %(seeds)s %(unit)s for %(plants)s plant",
                "Sow %(seeds)s %(unit)s for %(plants)s plants",
                self.plants,
            )
            % told
        )

    @property
    def sentence(self) -> str:
        """Why so many, in words."""
        parts = [
            _(
                "Enough in 19 sowings of 20, if %(low)s %% sprouts and %(losses)s %% of the "
                "seedlings are lost to birds, slugs and weather."
            )
            % {"low": self.germination_percent, "losses": self.losses_told}
        ]
        if self.too_poor:
            parts.append(
                _(
                    "Even less may sprout: sow all there is and do not count on a full stand, "
                    "or choose another lot."
                )
            )
        if self.is_guess:
            parts.append(_("This is a guess."))
        if not self.from_tests:
            parts.append(self.sprouting.told)
        return " ".join(parts)

    @property
    def rule(self) -> str:
        """How the number is made, in words."""
        return _(
            "The fewest from which so many plants come in 19 sowings of 20, even if no more "
            "than the least share sprouts; then as many times that as the losses call for: "
            "eight times, where birds take seven seedlings in eight."
        )

    @property
    def rows(self) -> list[tuple[str, str, str]]:
        """What went in: the words, the value, and where it is from."""
        day = self.sprouting.on
        said_for = _("on %(day)s") % {"day": date_format(day)} if day else ""
        return [
            (_("plants wanted"), number_format(self.plants, force_grouping=True), ""),
            (
                _("sprouts at least"),
                f"{self.germination_percent} %",
                _("with 95 % confidence") + (f", {said_for}" if said_for else ""),
            ),
            (_("sprouts most likely"), f"{self.median_percent} %", self.sprouting.told),
            (_("seedlings lost"), f"{self.losses_told} %", _("as you expect it")),
            (_("a full stand in"), f"{round(100 * self.confidence)} %", _("of such sowings")),
        ]

    @property
    def source(self) -> str:
        return str(SOURCE)

    @property
    def lines(self) -> list[str]:
        """The same in few words, for a label, a slip or a commitment."""
        told = {"low": self.germination_percent, "losses": self.losses_told}
        return [
            self.headline,
            _("at least %(low)s %% sprouts, %(losses)s %% lost") % told,
            self._known_since,
        ]

    @property
    def _known_since(self) -> str:
        day = self.sprouting.on
        if self.is_guess:
            return _("a guess, never tested")
        if not self.from_tests:
            return _("never tested, predicted")
        return _("estimate of %(day)s") % {"day": date_format(day)} if day else _("tested")

    def plants_from(self, seeds: int) -> int:
        """The plants that so many seeds give most likely, rounded down."""
        left = 1 - float(self.losses_percent) / 100
        return math.floor(seeds * self.median * left + 1e-9)


def sowing_advice(
    *,
    lot: Lot,
    plants: int,
    on: dt.date,
    losses_percent: Decimal | float | int = USUAL_LOSSES_PERCENT,
) -> SowingAdvice:
    """How much of a lot to sow on a day for so many plants at 95 % confidence.

    It counts on the lower bound of the lot's estimate, and multiplies by the expected losses:
    where birds take seven seedlings in eight, eight times the seed. Raises Refused for plants
    or losses that cannot be.
    """
    sprouting = sprouting_of(lot, on=on)
    return advice_for(
        sprouting=sprouting, plants=plants, losses_percent=losses_percent, unit=lot.unit
    )


def advice_for(
    *, sprouting: Sprouting, plants: Any, losses_percent: Any, unit: str
) -> SowingAdvice:
    """The advice for a share that is known already."""
    whole(plants, field="plants", least=1, most=MOST_PLANTS)
    losses = _losses(losses_percent)
    seeds = seeds_for_stand(
        plants=plants,
        germination=max(sprouting.low, LEAST_GERMINATION),
        losses=losses / 100,
        confidence=CONFIDENCE,
    )
    return SowingAdvice(
        seeds=seeds, plants=plants, losses_percent=losses, sprouting=sprouting, unit=unit
    )


def packet_seeds(advice: SowingAdvice) -> int:
    """Seeds for a packet that gives the advised stand, rounded up to a handy number."""
    return packet_size(
        plants=advice.plants,
        germination=advice.germination,
        confidence=CONFIDENCE,
        survival=1 - advice.losses_percent / 100,
        step=PACKET_STEP,
    )


def sprouting_of(lot: Lot, *, on: dt.date) -> Sprouting:
    """What is known of how a lot sprouts: the estimate that is kept, else one made now; of
    what nothing can predict its newest test, else what its kind is taken to do.
    """
    kept = estimate_kept(lot)
    if kept is not None:
        return _estimated(lot, kept.low, kept.median, kept.on, tested=bool(kept.evidence))
    return sprouting_from(lot, estimate_of(lot, on=on), on=on)


def sprouting_from(lot: Lot, viability: LotViability, *, on: dt.date) -> Sprouting:
    """The same from what is worked out of the lot, where nothing is kept of it."""
    now = viability.on(on)
    if now is not None:
        return _estimated(lot, now.low, now.median, on, tested=bool(viability.tests))
    if viability.tests:
        return _tested(viability.tests[-1])
    return assumed_for(lot.variety.crop.species)


def _estimated(lot: Lot, low: float, median: float, on: dt.date, *, tested: bool) -> Sprouting:
    """An estimate, whose 90 % band begins at the lower bound of 95 % confidence."""
    if tested:
        return Sprouting(low, median, Basis.TESTED, _its_own_tests(), on)
    longevity = model_of(lot.variety.crop.species)
    published = longevity.known is Known.CONSTANTS
    why = sentence_for(longevity.why.key, dict(longevity.why.inputs))
    told = _("Never tested; worked out from how it was kept. %(why)s") % {"why": why}
    basis = Basis.PREDICTED if published else Basis.GUESSED
    return Sprouting(low, median, basis, told, on)


def _tested(test: CountedTest) -> Sprouting:
    """A test alone, with its exact one-sided bound of 95 % confidence."""
    low, _high = exact_interval(test.germinated, test.sown, 2 * CONFIDENCE - 1)
    share = test.germinated / test.sown
    return Sprouting(low, share, Basis.TESTED, _its_own_tests(), test.on)


def _its_own_tests() -> str:
    return _("from its own germination tests and how it was kept")


def warning_of(lot: Lot) -> str:
    """The plain warning of a lot that is likely under the library's standard, or that should
    be regrown; empty where there is nothing to warn of. It stays on the shelf until the
    coordinator decides.
    """
    estimate = estimate_kept(lot)
    if estimate is None:
        return ""
    told = {
        "percent": round(100 * estimate.median),
        "standard": estimate.standard_percent,
    }
    if estimate.is_under_standard:
        return (
            _(
                "Only about %(percent)s %% of this lot is likely to sprout; the library wants "
                "%(standard)s %%. Sow more of it, or choose another lot."
            )
            % told
        )
    if estimate.regrow_rule:
        return (
            _(
                "This lot is losing its life and should be regrown; about %(percent)s %% is "
                "likely to sprout. Bring seed back if you can."
            )
            % told
        )
    return ""


def estimate_kept(lot: Lot) -> LotEstimate | None:
    """The estimate that is kept beside the lot, if there is one."""
    return getattr(lot, "estimate", None)


def assumed_for(species: Species) -> Sprouting:
    """What is taken where nothing is known of a lot: a published minimum, else a wish."""
    figures = species.figures.filter(quantity=SpeciesFigure.Quantity.FEDERAL_MIN_PERCENT)
    minimum = figures.first()
    if minimum is not None and minimum.number:
        share = float(minimum.number) / 100
        told = _("Never tested; it is taken to sprout as seed for sale must (%(source)s).") % {
            "source": minimum.source
        }
    else:
        share = BenchRules.current().standard_percent / 100
        told = _("Never tested; it is taken to sprout as the library wants its seed to.")
    return Sprouting(low=share, median=share, basis=Basis.GUESSED, told=told)


def _losses(percent: Any) -> Decimal:
    """Losses in percent, in tenths, as far as they can be made up for."""
    try:
        losses = Decimal(str(percent))
    except InvalidOperation:
        losses = Decimal("NaN")
    if not losses.is_finite() or not 0 <= losses <= MOST_LOSSES_PERCENT:
        raise Refused(
            _("Expected losses are 0 to %(most)s %%, not %(losses)s.")
            % {"most": MOST_LOSSES_PERCENT, "losses": percent},
            field="losses_percent",
        )
    return losses.quantize(Decimal("0.1"))
