"""Counting seed by weighing it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal, InvalidOperation
from typing import Any

from django.utils.translation import gettext as _

from library.catalogue.models import CountedAs, SpeciesFigure, Variety
from library.errors import Refused
from library.stock.services.checks import MOST_SEEDS, plain

MOST_GRAMS = Decimal(1_000_000)  # a tonne


@dataclass(frozen=True)
class Conversion:
    """A weight as a count: ``seeds`` is ``grams`` at so many grams for a thousand seeds.

    ``own`` when the lot itself was weighed; else ``source`` and ``how`` are the figure's.
    """

    grams: Decimal
    thousand_seed_weight_g: Decimal
    seeds: int
    own: bool
    source: str
    how: str = ""


def seeds_from_weight(
    *, grams: Any, variety: Variety, thousand_seed_weight_g: Any = None
) -> Conversion:
    """How many seeds weigh ``grams``, rounded down; by the lot's own weighing, or the species'.

    Refuses what is not weighed (tubers, cloves, slips) and a species without a figure.
    """
    if variety.crop.counted_as != CountedAs.SEED:
        counted = variety.crop.get_counted_as_display()
        raise Refused(
            _("%(crop)s is counted in %(counted)s, not weighed.")
            % {"crop": variety.crop.local_name, "counted": counted},
            field="grams",
        )
    weight = _grams(grams, field="grams")
    own = thousand_seed_weight_g is not None
    if own:
        each = _grams(thousand_seed_weight_g, field="thousand_seed_weight_g")
        source, how = _("weighed here"), ""
    else:
        each, source, how = _species_figure(variety)
    seeds = int((weight * 1000 / each).to_integral_value(rounding=ROUND_DOWN))
    if not 1 <= seeds <= MOST_SEEDS:
        raise Refused(
            _("%(grams)s g at %(each)s g for a thousand would be %(seeds)s seeds; look again.")
            % {"grams": plain(weight), "each": plain(each), "seeds": seeds},
            field="grams",
        )
    return Conversion(weight, each, seeds, own, source, how)


def weighing_of(variety: Variety) -> SpeciesFigure | None:
    """The species' weight of a thousand seeds, with its source, if one is known."""
    wanted = SpeciesFigure.Quantity.THOUSAND_SEED_WEIGHT_G
    figures = variety.crop.species.figures.all()
    return next((f for f in figures if f.quantity == wanted and f.number), None)


def _species_figure(variety: Variety) -> tuple[Decimal, str, str]:
    figure = weighing_of(variety)
    if figure is None or figure.number is None:
        raise Refused(
            _(
                "Nobody wrote down what a thousand seeds of %(species)s weigh. Count the seed, "
                "or weigh a counted hundred and give the weight of a thousand."
            )
            % {"species": variety.crop.species.local_name},
            field="thousand_seed_weight_g",
        )
    return figure.number, figure.source, figure.how


def _grams(value: Any, *, field: str) -> Decimal:
    try:
        grams = Decimal(str(value))
    except InvalidOperation:
        raise Refused(
            _("“%(value)s” is not a weight in grams.") % {"value": value}, field=field
        ) from None
    if not grams.is_finite() or not 0 < grams <= MOST_GRAMS:
        raise Refused(
            _("A weight is more than 0 and at most %(most)s grams.") % {"most": MOST_GRAMS},
            field=field,
        )
    return grams
