"""Everything that a grower must know of a grow-out, as they are told it with the offer."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Garden
from library.catalogue.choices import How
from library.catalogue.models import Pollination, Variety
from library.germination.advice import SowingAdvice
from library.growouts.commitments.dates import dates_for
from library.growouts.commitments.words import sentence
from library.growouts.models import Milestone, Season
from library.growouts.plans.spacing import Spacing, spacing_of
from library.lending.services.growouts import Aside, granted, what_is_set_aside
from library.lending.services.guidance import LoanGuidance, guidance_for
from library.science.growout_calendar import StepDay
from library.stock.models import Isolation, Lot, Packet

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
class Figure:
    """A number with its unit, who says so, and whether somebody read it there."""

    label: str
    value: str
    unit: str
    source: str
    how: str = ""

    @property
    def line(self) -> str:
        """All of it in one line of a letter."""
        said = [self.source] if self.source else []
        if self.how in (How.MEMORY, How.COMPUTED):
            said.append(str(How(self.how).label))
        value = f"{self.value} {self.unit}".strip()
        return f"{value} ({'; '.join(said)})" if said else value


@dataclass(frozen=True)
class Told:
    """What the offer says: the seed for them, figures with their sources, and apart from those
    what is advised: how to sow, the garden's days, how to keep it from crossing.
    """

    guidance: LoanGuidance
    steps: tuple[ToldStep, ...]
    isolation: tuple[str, ...]
    plants: int
    room_m2: float
    spacing: Spacing
    aside: tuple[Aside, ...]
    wanted: int
    here: int
    promised: bool = False

    @property
    def seeds(self) -> int:
        """Seeds that are set aside: about as many as advised, if they are here."""
        return sum(one.seeds for one in self.aside)

    @property
    def advice(self) -> SowingAdvice:
        return self.guidance.advice

    @property
    def packets(self) -> list[str]:
        """The packets that are set aside once accepted, a line for each."""
        return [_packet(one, self.advice.unit) for one in self.aside]

    @property
    def seed(self) -> str:
        """How much seed they get, in one sentence."""
        told = {
            "seeds": number_format(self.seeds, force_grouping=True),
            "unit": self.advice.unit,
            "packets": len(self.aside),
        }
        return (
            ngettext(
                "%(seeds)s %(unit)s in %(packets)s packet",
                "%(seeds)s %(unit)s in %(packets)s packets",
                len(self.aside),
            )
            % told
        )

    @property
    def seed_notes(self) -> list[str]:
        """What must be said of that seed beside."""
        notes = []
        if not self.promised:
            notes.append(
                _("As things are today: they are set aside for you when you say yes, and wait "
                  "at the desk.")
            )  # fmt: skip
        stands = {"plants": self.advice.plants_from(self.seeds)}
        if not self.promised and granted(seeds=self.wanted, here=self.here) < self.wanted:
            notes.append(
                _("There is no more to spare, so about %(plants)s plants will stand.") % stands
            )
        elif self.seeds < self.wanted:
            notes.append(_("From so many, expect about %(plants)s plants.") % stands)
        return notes

    @property
    def figures(self) -> list[Figure]:
        """Numbers that somebody published or that are common practice, with who says so."""
        population, isolation = self.guidance.population, self.guidance.isolation
        found = [
            Figure(
                _("Plants that keep the variety"),
                str(population.plants),
                _("plants"),
                str(population.source),
                population.how,
            )
        ]
        if isolation.metres is not None:
            far = _("Distance to others of its species, at least")
            source, how = str(isolation.source), isolation.how
            found.append(Figure(far, str(isolation.metres), "m", source, how))
        apart = f"{self.spacing.between_rows_cm} × {self.spacing.in_row_cm}"
        label = _("Between rows and in the row")
        found.append(Figure(label, apart, "cm", self.spacing.source, self.spacing.how))
        return found

    @property
    def rows(self) -> list[tuple[str, str]]:
        """What is asked and advised, with labels; without the figures it rests on."""
        rows = [
            (_("Plants to grow"), self._plants),
            (_("Room it takes"), self._room),
            (_("How to sow"), self.advice.headline),
            (_("Why so many"), self.advice.sentence),
        ]
        if self.plants < self.guidance.population.plants:
            rows.append((_("If that is few"), self.guidance.few_plants))
        return rows

    @property
    def _plants(self) -> str:
        population = self.guidance.population
        if self.plants == population.plants:
            return str(self.plants)
        return _("%(plants)s as a coordinator asks; %(keep)s keep the variety") % {
            "plants": self.plants,
            "keep": population.plants,
        }

    @property
    def _room(self) -> str:
        return _("%(room)s m²") % {"room": number_format(self.room_m2, decimal_pos=1)}

    @property
    def letter(self) -> dict[str, Any]:
        """What the letter of the offer says, in the active language."""
        guidance = self.guidance
        return {
            "seed": self.seed if self.aside else "",
            "packets": self.packets,
            "seed_notes": self.seed_notes,
            "figures": self.figures,
            "rows": self.rows,
            "steps": self.steps,
            "isolation": self.isolation,
            "cautions": [*guidance.warnings, *(note.local_text for note in guidance.cautions)],
        }

    @property
    def kept(self) -> dict[str, Any]:
        """What is kept of it with the commitment."""
        return {
            "plants_source": str(self.guidance.population.source),
            "seeds": self.advice.seeds,
            "seeds_set_aside": self.seeds,
            "packets": [
                {"lot": one.lot.number, "seeds": one.seeds, "code": _code(one)}
                for one in self.aside
            ],
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
    wanted: int | None = None,
    lent: list[Packet] | None = None,
) -> Told:
    """Put together what the grower is told, in the active language; ``lots`` are what would be
    sown from, the first of them first.

    ``wanted`` seeds were offered already, else as many as are advised now; ``lent`` are the
    packets of a promise.
    """
    sown = [packet.lot for packet in lent or ()] or lots
    lot = sown[0] if sown else None
    spacing = spacing_of(variety.crop)
    guidance = guidance_for(variety=variety, lot=lot, garden=garden, on=on, plants=plants)
    steps = dates_for(variety, garden, season.year, not_before=on)
    wanted = wanted or guidance.advice.seeds
    if lent is None:
        aside = what_is_set_aside(lots, seeds=wanted)
    else:
        aside = [Aside(packet.lot, packet.seeds, packet) for packet in lent]
    return Told(
        guidance=guidance,
        steps=tuple(_step(one) for one in steps),
        isolation=tuple(_isolation(guidance, variety, technique)),
        plants=plants,
        room_m2=plants / spacing.plants_per_m2,
        spacing=spacing,
        aside=tuple(aside),
        wanted=wanted,
        here=sum(one.balance for one in lots),
        promised=lent is not None,
    )


def _packet(one: Aside, unit: str) -> str:
    """A packet in words, with the lot it is of."""
    told = {"seeds": one.seeds, "unit": unit, "lot": one.lot.number, "code": _code(one)}
    if one.packet is None:
        words = _("a packet filled for you: %(seeds)s %(unit)s of lot %(lot)s") % told
    else:
        words = _("packet %(code)s: %(seeds)s %(unit)s of lot %(lot)s") % told
    if one.lot.harvest_year:
        words += _(", harvested in %(year)s") % {"year": one.lot.harvest_year}
    return words


def _code(one: Aside) -> str | None:
    return None if one.packet is None else one.packet.code


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
            % {"metres": metres, "species": variety.crop.species.local_name}
        )
    return lines
