"""A species' figures as a page and the API show them: all of them, the missing ones too."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from library.catalogue.models import (
    How,
    Species,
    SpeciesFigure,
    Variety,
    ViabilityConstants,
)
from library.catalogue.reference_words import sentence

Quantity = SpeciesFigure.Quantity

UNITS = {
    "m": gettext_lazy("m"),
    "plants": gettext_lazy("plants"),
    "years": gettext_lazy("years"),
    "g": gettext_lazy("g"),
    "per g": gettext_lazy("in a gram"),
    "%": gettext_lazy("%"),
    "°C": gettext_lazy("°C"),
    "days": gettext_lazy("days"),
}
_GENERAL_RULE = "general rule"


@dataclass(frozen=True)
class FigureLine:
    """One figure in words; ``value`` is empty where no figure was found."""

    quantity: str
    label: str
    value: str = ""
    unit: str = ""
    source: str = ""
    how: str = ""
    note: str = ""

    @property
    def shown(self) -> str:
        """The value as the reader's language writes it; ``value`` itself is for programs."""
        return number_format(self.value) if is_number(self.value) else sentence(self.value)

    @property
    def how_label(self) -> str:
        return str(How(self.how).label) if self.how else ""

    @property
    def is_doubtful(self) -> bool:
        """Whether nobody read the figure in its source: the page says so beside it."""
        return self.how not in ("", How.READ)


def figure_lines(species: Species) -> list[FigureLine]:
    """A line for every quantity there is, in order; those without a figure are not known."""
    figures = {figure.quantity: figure for figure in species.figures.all()}
    lines = [_line(quantity, figures.get(quantity)) for quantity in Quantity]
    return [*lines, constants_line(species)]


def constants_line(species: Species) -> FigureLine:
    """The constants by which the loss of viability in storage is predicted."""
    label = _("constants of the viability equation")
    found: ViabilityConstants | None = getattr(species, "viability_constants", None)
    if found is None:
        return FigureLine("viability_constants", label)
    named = {"KE": found.ke, "CW": found.cw, "CH": found.ch, "CQ": found.cq}
    return FigureLine(
        quantity="viability_constants",
        label=label,
        value=", ".join(f"{name} {number_format(value)}" for name, value in named.items()),
        source=found.source,
        how=found.how,
        note=sentence(found.note),
    )


def figure_line(species: Species, quantity: str) -> FigureLine:
    """The line for one quantity."""
    figures = (figure for figure in species.figures.all() if figure.quantity == quantity)
    return _line(Quantity(quantity), next(figures, None))


def min_population_line(variety: Variety) -> FigureLine:
    """How many plants keep a variety: its own card's figure, else its species'."""
    if variety.min_population is None:
        return figure_line(variety.crop.species, Quantity.MIN_POPULATION)
    return FigureLine(
        quantity=Quantity.MIN_POPULATION,
        label=str(Quantity.MIN_POPULATION.label),
        value=str(variety.min_population),
        unit=str(UNITS["plants"]),
        source=_("written on this variety's card"),
    )


def crossing_sentence(species: Species, crops: Iterable[str]) -> str:
    """That the kinds of one species cross; empty when the library knows one kind only."""
    names = list(crops)
    if len(names) < 2:
        return ""
    listed = _("%(all)s and %(last)s") % {"all": ", ".join(names[:-1]), "last": names[-1]}
    return _("%(kinds)s are one species, %(species)s: they cross with each other.") % {
        "kinds": listed[:1].upper() + listed[1:],
        "species": species.botanical_name,
    }


def _line(quantity: Quantity, figure: SpeciesFigure | None) -> FigureLine:
    if figure is None:
        return FigureLine(quantity, str(quantity.label))
    return FigureLine(
        quantity=quantity,
        label=str(quantity.label),
        value=figure.text if figure.number is None else plain(figure.number),
        unit=str(UNITS.get(figure.unit, figure.unit)),
        source=figure.source,
        how=figure.how,
        note=_note(figure),
    )


def is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdecimal()


def plain(number: Decimal) -> str:
    """A number without the zeros that the database pads it with."""
    return f"{number.normalize():f}"


def _note(figure: SpeciesFigure) -> str:
    """What must be said beside a figure, so that nobody reads more out of it than is in it."""
    if figure.note:
        return figure.note
    if figure.quantity == Quantity.ISOLATION_HOME_M:
        if figure.source.startswith(_GENERAL_RULE):
            return _("at least: a general rule, the same for very different crops")
        return _("at least")
    if figure.quantity == Quantity.ISOLATION_CERTIFIED_M and figure.number == 0:
        return _("only enough room that the seed is not mixed; not side by side")
    if figure.quantity == Quantity.THOUSAND_SEED_WEIGHT_G and figure.number:
        per_gram = plain(round(1000 / figure.number, 1))
        return _("about %(n)s seeds in a gram, computed; varieties differ") % {"n": per_gram}
    if figure.quantity == Quantity.FEDERAL_MIN_PERCENT:
        return _("United States; the rule was revised in 2020: check the present text")
    return ""
