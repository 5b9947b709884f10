"""Everything that a grower must know of a grow-out, as they are told it with the offer."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from accounts.models import Garden
from library.catalogue.models import Pollination, Variety
from library.germination.advice import SowingAdvice
from library.growouts.commitments.dates import dates_for
from library.growouts.commitments.words import sentence
from library.growouts.models import Milestone, Season
from library.growouts.plans.spacing import Spacing, spacing_of
from library.lending.services.growouts import granted
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
    room_m2: float
    spacing: Spacing
    lot: Lot | None
    here: int

    @property
    def seeds(self) -> int:
        """Seeds that are set aside once accepted: as many as advised, if they are here."""
        return granted(seeds=self.advice.seeds, here=self.here) if self.here else 0

    @property
    def advice(self) -> SowingAdvice:
        return self.guidance.advice

    @property
    def rows(self) -> list[tuple[str, str]]:
        """Figures with their labels, for the page and the letter."""
        rows = [
            (_("Plants to grow"), self._plants),
            (_("How to sow"), self.advice.headline),
            (_("Why so many"), self.advice.sentence),
        ]
        if self.lot is not None:
            rows.append((_("Seed you get"), self._seed_of(self.lot)))
        rows.append((_("Room it takes"), self._room))
        isolation = self.guidance.isolation
        if isolation.metres is not None:
            told = _("%(metres)s m from any other of its species (%(source)s)") % {
                "metres": isolation.metres,
                "source": isolation.source,
            }
            rows.append((_("Isolation distance"), told))
        return rows

    @property
    def _plants(self) -> str:
        population = self.guidance.population
        if self.plants == population.plants:
            return f"{self.plants} ({population.source})"
        return _("%(plants)s as a coordinator asks; %(keep)s keep the variety (%(source)s)") % {
            "plants": self.plants,
            "keep": population.plants,
            "source": population.source,
        }

    def _seed_of(self, lot: Lot) -> str:
        told = _("about %(seeds)s %(unit)s of lot %(lot)s") % {
            "seeds": self.seeds,
            "unit": self.advice.unit,
            "lot": lot.number,
        }
        if lot.harvest_year:
            told += _(", harvested in %(year)s") % {"year": lot.harvest_year}
        if self.seeds < self.advice.seeds:
            told += _("; there is no more to spare, so about %(plants)s plants will stand") % {
                "plants": self.advice.plants_from(self.seeds)
            }
        return told

    @property
    def _room(self) -> str:
        return _("%(room)s m², at %(rows)s × %(in_row)s cm (%(source)s)") % {
            "room": number_format(self.room_m2, decimal_pos=1),
            "rows": self.spacing.between_rows_cm,
            "in_row": self.spacing.in_row_cm,
            "source": self.spacing.source,
        }

    @property
    def letter(self) -> dict[str, Any]:
        """What the letter of the offer says, in the active language."""
        guidance = self.guidance
        return {
            "rows": self.rows,
            "steps": self.steps,
            "isolation": self.isolation,
            "cautions": [*guidance.warnings, *(note.text for note in guidance.cautions)],
        }

    @property
    def kept(self) -> dict[str, Any]:
        """What is kept of it with the commitment."""
        return {
            "plants_source": str(self.guidance.population.source),
            "seeds": self.advice.seeds,
            "seeds_set_aside": self.seeds,
            "lot": self.lot.number if self.lot else None,
            "room_m2": round(self.room_m2, 1),
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
    lots: list[Lot],
    on: dt.date,
) -> Told:
    """Put together what the grower is told, in the active language; ``lots`` are what would be
    sown from, the first of them first.
    """
    lot = lots[0] if lots else None
    spacing = spacing_of(variety.crop)
    guidance = guidance_for(variety=variety, lot=lot, garden=garden, on=on, plants=plants)
    steps = dates_for(variety, garden, season.year, not_before=on)
    return Told(
        guidance=guidance,
        steps=tuple(_step(one) for one in steps),
        isolation=tuple(_isolation(guidance, variety, technique)),
        plants=plants,
        room_m2=plants / spacing.plants_per_m2,
        spacing=spacing,
        lot=lot,
        here=sum(one.balance for one in lots),
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
