"""What a borrower is told before a loan is confirmed; a page and an endpoint show the same."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from accounts.models import Garden
from library.catalogue.models import (
    BreedingStatus,
    Caution,
    LifeCycle,
    Pollination,
    SpeciesFigure,
    Variety,
)
from library.catalogue.reference_words import sentence
from library.germination.advice import (
    SowingAdvice,
    advice_for,
    assumed_for,
    sowing_advice,
    warning_of,
)
from library.lending import sentences
from library.lending.models import LendingRules
from library.lending.services import reserve, seasons
from library.provenance.warnings import warnings_of
from library.science import calendar
from library.science.calendar import DueDate, GardenSeason, SeedRipe, SowingWindow
from library.stock.models import Lot, Packet

# Common practice, no source.
PROTECTION = {
    Pollination.SELF: gettext_lazy(
        "It pollinates itself, so crosses are rare. A little distance, or a row of something "
        "else between two varieties, is usually enough."
    ),
    Pollination.MOSTLY_SELF: gettext_lazy(
        "It mostly pollinates itself, but insects carry some pollen. Where the distance cannot "
        "be kept, bag some flower heads before they open and save seed from those alone."
    ),
    Pollination.INSECT: gettext_lazy(
        "Insects carry its pollen far. Where the distance cannot be kept, close flowers before "
        "they open, pollinate them by hand and mark them; or cage the plants with insects "
        "inside, or on alternate days with another variety."
    ),
    Pollination.WIND: gettext_lazy(
        "Wind carries its pollen, and a mesh does not stop it. Where the distance cannot be "
        "kept, bag the flowers and pollinate by hand, or let it flower at another time than "
        "its neighbours."
    ),
    Pollination.CLONAL: gettext_lazy(
        "It is grown from tubers, cloves or slips, so pollen does not matter. Keep it from "
        "mixing, and replant only what looks healthy."
    ),
}
FEW_PLANTS = gettext_lazy(
    "If you have not room for so many, grow what you can and tell us how many gave seed. The "
    "seed is welcome; it is kept with a note, and may be bulked with that of other growers."
)


@dataclass(frozen=True)
class IsolationAdvice:
    """At least so many metres to the next of its species, if known; and what else helps."""

    metres: int | None
    source: str
    how: str
    protection: str


@dataclass(frozen=True)
class CautionNote:
    text: str
    source: str = ""
    how: str = ""
    for_everything: bool = False

    @property
    def local_text(self) -> str:
        """What it says, in the reader's language; a variety's own is as it was written."""
        return sentence(self.text)


@dataclass(frozen=True)
class LoanGuidance:
    """All that is told before a packet is lent, with what each figure was made from."""

    population: reserve.Population
    few_plants: str
    advice: SowingAdvice
    isolation: IsolationAdvice
    sowing: SowingWindow | None
    ripe: SeedRipe | None
    due: DueDate
    frost_dates_from: str
    warnings: tuple[str, ...]
    cautions: tuple[CautionNote, ...]

    @property
    def due_reason(self) -> str:
        return sentences.sentence(self.due.reason, self.due.inputs)

    @property
    def sowing_label(self) -> str:
        """What the days to sow are: cloves that stand over winter mind no frost."""
        if self.sowing and self.sowing.reason.startswith("plant_"):
            return _("Plant")
        return _("Sow outdoors, if it minds frost")

    @property
    def sowing_reason(self) -> str:
        return sentences.sentence(self.sowing.reason, self.sowing.inputs) if self.sowing else ""

    @property
    def ripe_reason(self) -> str:
        return sentences.sentence(self.ripe.reason, self.ripe.inputs) if self.ripe else ""


def guidance_for(
    *,
    variety: Variety,
    lot: Lot | None,
    garden: Garden | None,
    on: dt.date,
    plants: int | None = None,
    losses_percent: Decimal | int | None = None,
) -> LoanGuidance:
    """How to grow the variety for seed in a garden, and when its seed would be due.

    Without a wish the advice is for the plants that keep the variety and the losses that the
    library expects. Raises Refused for plants or losses that cannot be.
    """
    figures = reserve.figures_of(variety)
    population = reserve.population_of(variety, figures)
    plants = population.plants if plants is None else plants
    season, whose = seasons.season_of(garden)
    due = seasons.due_date(variety=variety, garden=garden, on=on)
    return LoanGuidance(
        population=population,
        few_plants=str(FEW_PLANTS),
        advice=_advice(
            variety, lot, on, population.plants if plants is None else plants, losses_percent
        ),
        isolation=_isolation(variety, figures),
        sowing=_sowing(variety, season, due),
        ripe=_ripe(variety, season, due),
        due=due,
        frost_dates_from=whose,
        warnings=tuple(_warnings(variety, lot, due)),
        cautions=tuple(cautions_of(variety)),
    )


def sowing_advice_for(
    *,
    lot: Lot,
    on: dt.date,
    plants: int | None = None,
    losses_percent: Decimal | int | None = None,
) -> SowingAdvice:
    """How much of a lot to sow: for the plants that keep its variety, at the losses that the
    library expects, unless somebody wishes otherwise.
    """
    if plants is None:
        variety = lot.variety
        plants = reserve.population_of(variety, reserve.figures_of(variety)).plants
    return _advice(lot.variety, lot, on, plants, losses_percent)


def what_a_packet_gives(advice: SowingAdvice, packet: Packet) -> str:
    """What to expect of a packet with less in it than is advised; else empty."""
    if packet.seeds >= advice.seeds:
        return ""
    plants = advice.plants_from(packet.seeds)
    told = {"seeds": packet.seeds, "unit": packet.lot.unit, "plants": plants}
    if not plants:
        return _("This packet holds %(seeds)s %(unit)s: sow all of it.") % told
    return (
        ngettext(
            "This packet holds %(seeds)s %(unit)s: sow all of it, and expect about %(plants)s "
            "plant.",
            "This packet holds %(seeds)s %(unit)s: sow all of it, and expect about %(plants)s "
            "plants.",
            plants,
        )
        % told
    )


def _advice(
    variety: Variety, lot: Lot | None, on: dt.date, plants: int, losses_percent
) -> SowingAdvice:
    if losses_percent is None:
        losses_percent = LendingRules.current().expected_losses_percent
    if lot is None:
        return advice_for(
            sprouting=assumed_for(variety.crop.species),
            plants=plants,
            losses_percent=losses_percent,
            unit=variety.crop.get_counted_as_display(),
        )
    return sowing_advice(lot=lot, plants=plants, losses_percent=losses_percent, on=on)


def cautions_of(variety: Variety) -> list[CautionNote]:
    """The usual cautions for a variety: its own first, then its species', then everybody's."""
    notes = [CautionNote(variety.own_caution)] if variety.own_caution else []
    general = Caution.objects.filter(for_everything=True).distinct()
    rows = (Caution.objects.about_variety(variety) | general).order_by(
        "for_everything", "topic"
    )
    return notes + [
        CautionNote(row.text, row.source, row.how, row.for_everything) for row in rows
    ]


def _isolation(variety: Variety, figures: reserve.Figures) -> IsolationAdvice:
    pollination = Pollination(variety.crop.species.pollination)
    figure = figures.get(SpeciesFigure.Quantity.ISOLATION_HOME_M)
    advice = str(PROTECTION[pollination])
    if figure is None or pollination == Pollination.CLONAL:
        return IsolationAdvice(None, "", "", advice)
    return IsolationAdvice(round(figure.number), figure.source, figure.how, advice)


def _sowing(variety: Variety, season: GardenSeason | None, due: DueDate) -> SowingWindow | None:
    """The days to sow outdoors, counted from the season in which the loan is sown."""
    if season is None:
        return None
    sown_on = dt.date.fromisoformat(str(due.inputs["sown_on"]))
    length = calendar.growing_days(season)
    annual = variety.crop.life_cycle == LifeCycle.ANNUAL
    days = seasons.days_to_maturity(variety) or calendar.DEFAULT_DAYS_TO_MATURITY
    cycle = calendar.LifeCycle(variety.crop.life_cycle)
    if calendar.stands_over_winter(cycle, days) and not season.frost_free:
        return calendar.planting_window(sown_on=sown_on, garden=season)
    until = length if annual else length - _days_before_winter(variety, days)
    return calendar.sowing_window(
        year=calendar.season_year(sown_on, season),
        garden=season,
        sow_from_days=0,
        sow_until_days=min(max(until, 0), 365),
        days_to_maturity=days if annual else None,
    )


def _days_before_winter(variety: Variety, days_to_maturity: int) -> int:
    clonal = variety.crop.life_cycle == LifeCycle.CLONAL
    return days_to_maturity if clonal else calendar.FIRST_YEAR_DAYS


def _ripe(variety: Variety, season: GardenSeason | None, due: DueDate) -> SeedRipe | None:
    if season is None:
        return None
    return calendar.seed_ripe(
        sown_on=dt.date.fromisoformat(str(due.inputs["sown_on"])),
        life_cycle=calendar.LifeCycle(variety.crop.life_cycle),
        garden=season,
        days_to_maturity=seasons.days_to_maturity(variety),
    )


def _warnings(variety: Variety, lot: Lot | None, due: DueDate) -> list[str]:
    told = []
    if variety.breeding_status == BreedingStatus.F1:
        told.append(
            _(
                "This is an F1 hybrid: seed saved from it will not breed true. What you bring "
                "back is an F2 and is kept as a segregating line, not under this name."
            )
        )
    if variety.breeding_status == BreedingStatus.SEGREGATING:
        told.append(
            _("This line is still segregating (F%(generation)s): its plants will differ.")
            % {"generation": variety.generation}
        )
    if due.inputs.get("days_assumed") and variety.crop.life_cycle == LifeCycle.ANNUAL:
        told.append(
            _("Nobody wrote down its days to maturity; %(days)s days are assumed.")
            % {"days": calendar.DEFAULT_DAYS_TO_MATURITY}
        )
    if lot is not None and lot.awaits_first_test:
        told.append(_("This lot waits for its first germination test."))
    if lot is not None and (poor := warning_of(lot)):
        told.append(poor)
    if lot is not None:
        told += [warning.sentence for warning in warnings_of(lot)]
    return told
