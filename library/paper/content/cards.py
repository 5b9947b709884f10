"""Variety cards for the box: what an index card holds, front and back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from accounts.models import Community, Member
from library.catalogue.models import Caution, SeasonNote, SpeciesFigure, Variety
from library.lending.services.reserve import Figures, figures_of, population_of
from library.paper import words
from library.paper.qr import square_code
from library.stock.models import Lot

SIZES_MM = {"6x4": (152.4, 101.6), "a6": (148.0, 105.0)}
MOST_LOTS = 7
MOST_NOTES = 4
Quantity = SpeciesFigure.Quantity


def variety_cards(
    varieties: Sequence[Variety],
    *,
    size: str,
    by: Member,
    on: dt.date,
    progress: Callable[[int], None] = lambda made: None,
) -> dict[str, Any]:
    """Two pages for each variety: the front, then the back. Varieties with their crops."""
    width, height = SIZES_MM[size]
    cards = []
    for number, variety in enumerate(varieties, start=1):
        cards.append(_card(variety, by))
        progress(number)
    name = Community.current().name
    return {
        "title": _("Variety cards of %(name)s") % {"name": name},
        "library": name,
        "printed": _("printed %(day)s") % {"day": date_format(on)},
        "width": width,
        "height": height,
        "words": {
            "lots": _("Lots here"),
            "notes": _("Seasons"),
            "more": _("More at the square code."),
            "room": _("Notes"),
            "lot": _("Lot"),
            "harvest": _("Harvest"),
            "left": _("Left"),
            "sprouts": _("Sprouts"),
            "no_lots": _("No seed of it is here now."),
        },
        "cards": cards,
    }


def _card(variety: Variety, by: Member) -> dict[str, Any]:
    figures = figures_of(variety)
    own = variety.own_caution.strip()
    told = words.short_cautions(Caution.objects.about_variety(variety))
    return {
        "name": words.named(variety.name),
        "crop": words.named(variety.crop.local_name),
        "botanical": variety.crop.species.botanical_name,
        "others": ", ".join(_other_names(variety)),
        "status": words.status_line(variety),
        "rare": _("rare") if variety.is_rare else "",
        "facts": [
            {"label": label, "value": value} for label, value in _facts(variety, figures)
        ],
        "description": variety.description.strip(),
        "story": variety.origin_story.strip(),
        "cautions": f"{own} {told}".strip(),
        "lots": _lots(variety),
        "notes": _notes(variety, by),
        "qr": square_code(variety.get_absolute_url()),
        "qr_alt": _("Square code of the card of %(name)s") % {"name": variety.name},
    }


def _other_names(variety: Variety) -> list[str]:
    return [row.name for row in variety.names.all() if row.is_synonym]


def _facts(variety: Variety, figures: Figures) -> list[tuple[str, str]]:
    species = variety.crop.species
    population = population_of(variety, figures)
    rows = [
        (_("Pollination"), species.get_pollination_display()),
        (_("Isolation"), words.isolation_to_keep(variety, figures)),
        (_("Plants to keep it"), number_format(population.plants)),
        (_("Life cycle"), variety.crop.get_life_cycle_display()),
    ]
    if variety.days_to_maturity:
        days = _("%(n)s days") % {"n": number_format(variety.days_to_maturity)}
        rows.append((_("To harvest for eating"), days))
    years = figures.get(Quantity.LONGEVITY_YEARS)
    if years is not None:
        kept = _("about %(n)s years, cool and dry") % {"n": number_format(round(years.number))}
        rows.append((_("Seed keeps"), kept))
    return rows


def _lots(variety: Variety) -> dict[str, Any]:
    rows = (
        Lot.objects.kept_here()
        .with_seed()
        .of_variety(variety)
        .select_related("estimate")
        .order_by("-harvest_year", "-pk")
    )
    shown, count = list(rows[:MOST_LOTS]), rows.count()
    more = _("and %(n)s more") % {"n": count - len(shown)} if count > len(shown) else ""
    return {"rows": [_lot(lot) for lot in shown], "more": more}


def _lot(lot: Lot) -> dict[str, str]:
    estimate = getattr(lot, "estimate", None)
    sprouts = ""
    if estimate is not None:
        sprouts = _("%(percent)s %%, %(month)s") % {
            "percent": round(100 * estimate.median),
            "month": date_format(estimate.on, "YEAR_MONTH_FORMAT"),
        }
    return {
        "number": lot.number,
        "harvest": str(lot.harvest_year or "–"),
        "left": f"{number_format(lot.balance, force_grouping=True)} {lot.unit}",
        "sprouts": sprouts or "–",
    }


def _notes(variety: Variety, by: Member) -> list[dict[str, str]]:
    """What others may read too: a card stands in the box for all to see."""
    readable = SeasonNote.objects.readable_by(by).exclude(readers="me")
    rows = readable.filter(variety=variety).select_related("author")[:MOST_NOTES]
    return [
        {"year": str(row.year), "who": row.author.display_name, "text": row.text.strip()}
        for row in rows
    ]
