"""Everything that a grower must know of a grow-out, as they are told it with the offer."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from accounts.models import Garden
from library.catalogue.models import Pollination, Variety
from library.germination.advice import SowingAdvice
from library.growouts.commitments.dates import dates_for
from library.growouts.commitments.words import sentence
from library.growouts.models import Milestone, Season
from library.lending.services.guidance import LoanGuidance, guidance_for
from library.science.growout_calendar import StepDay
from library.stock.models import Isolation, Lot

Kind = Milestone.Kind


@dataclass(frozen=True)
class ToldStep:
    """A step in words: what, by when, and why then."""

    kind: str
    on: dt.date
    why: str

    @property
    def label(self) -> str:
        return str(Kind(self.kind).label)


@dataclass(frozen=True)
class Told:
    """What the offer says: guidance as for a loan, the garden's days, and how to keep apart."""

    guidance: LoanGuidance
    steps: tuple[ToldStep, ...]
    isolation: tuple[str, ...]
    plants: int

    @property
    def advice(self) -> SowingAdvice:
        return self.guidance.advice

    @property
    def rows(self) -> list[tuple[str, str]]:
        """Figures with their labels, for the page and the letter."""
        population = self.guidance.population
        rows = [
            (_("Plants to grow"), f"{self.plants} ({population.source})"),
            (_("How to sow"), self.advice.headline),
            (_("Why so many"), self.advice.sentence),
        ]
        isolation = self.guidance.isolation
        if isolation.metres is not None:
            told = _("%(metres)s m from any other of its species (%(source)s)") % {
                "metres": isolation.metres,
                "source": isolation.source,
            }
            rows.append((_("Isolation distance"), told))
        return rows

    @property
    def kept(self) -> dict[str, Any]:
        """What is kept of it with the commitment."""
        return {
            "plants_source": str(self.guidance.population.source),
            "seeds": self.advice.seeds,
            "isolation_m": self.guidance.isolation.metres,
            "isolation_source": str(self.guidance.isolation.source),
            "steps": {one.kind: one.on.isoformat() for one in self.steps},
        }


def tell(
    *,
    variety: Variety,
    garden: Garden | None,
    season: Season,
    technique: str,
    plants: int,
    lot: Lot | None,
    on: dt.date,
) -> Told:
    """Put together what the grower is told, in the active language."""
    guidance = guidance_for(variety=variety, lot=lot, garden=garden, on=on, plants=plants)
    steps = dates_for(variety, garden, season.year, not_before=on)
    return Told(
        guidance=guidance,
        steps=tuple(_step(one) for one in steps),
        isolation=tuple(_isolation(guidance, variety, technique)),
        plants=plants,
    )


def _step(one: StepDay) -> ToldStep:
    return ToldStep(one.step.value, one.on, sentence(one.why.key, dict(one.why.inputs)))


def _isolation(guidance: LoanGuidance, variety: Variety, technique: str) -> list[str]:
    pollination = Pollination(variety.crop.species.pollination)
    lines = [guidance.isolation.protection]
    if pollination in (Pollination.SELF, Pollination.CLONAL):
        return lines
    if technique in (Isolation.CAGE, Isolation.BAG, Isolation.HAND_POLLINATION):
        lines.append(
            _(
                "You said that you can keep its flowers apart by this: %(technique)s. Other "
                "varieties of its species may be grown near you because of that."
            )
            % {"technique": Isolation(technique).label}
        )
        if technique != Isolation.CAGE:
            lines.append(
                _(
                    "Take off the flowers that you do not use, or cover them too: others "
                    "nearby count on its pollen staying with you."
                )
            )
    metres = guidance.isolation.metres
    if metres:
        lines.append(
            _(
                "Before you say yes, look whether anybody within %(metres)s m grows another "
                "%(species)s that will flower: the library knows only what its members told."
            )
            % {"metres": metres, "species": variety.crop.species.common_name}
        )
    return lines
