"""Long facts in the few words that paper has room for."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from library.catalogue.models import (
    BreedingStatus,
    Caution,
    Pollination,
    SpeciesFigure,
    Variety,
)
from library.lending.services.reserve import Figures
from library.stock.models import Growing, Isolation

# The cautions of fixtures/reference/cautions.csv, which has their sources, each in a breath.
SHORT_CAUTIONS = {
    "bitter-cucurbits": gettext_lazy("Taste each fruit first: a bitter one is poison."),
    "crossed-squash-seed": gettext_lazy("Save no seed near gourds unless hand-pollinated."),
    "raw-beans": gettext_lazy("Never eat the beans raw: boil them well."),
    "umbellifer-sap": gettext_lazy("Its sap can blister skin in sunlight."),
    "poisonous-lookalikes": gettext_lazy(
        "Wild look-alikes can kill: save only what you sowed."
    ),
    "green-potatoes": gettext_lazy("Green tubers and berries are poisonous."),
    "seed-potatoes": gettext_lazy("Tubers may be under local rules: ask first."),
    "sweet-potato-quarantine": gettext_lazy("Slips may be under quarantine: ask first."),
    "garlic-disease": gettext_lazy("Discard soft or mouldy cloves and bulbs."),
    "seed-borne-disease": gettext_lazy("Save no seed from sick plants."),
    "ergot": gettext_lazy("Pick out every black ergot: it is poisonous."),
    "morning-glory-seed": gettext_lazy("The seeds are poisonous."),
    "moonflower-name": gettext_lazy("Go by the botanical name: another moonflower is deadly."),
    "sweet-pea-seed": gettext_lazy("The seeds are poisonous, and look like peas."),
    "f1-hybrid": gettext_lazy("Seed saved from it does not come true."),
}
FOR_SOWING = gettext_lazy("For sowing, not for food or sprouts.")


def named(text: str) -> dict[str, Any]:
    """A name with the direction it is written in."""
    return {"text": text, "rtl": runs_leftward(text)}


def runs_leftward(text: str) -> bool:
    """Whether the first letter that has a direction runs from right to left."""
    ways = (unicodedata.bidirectional(sign) for sign in text)
    return next((way != "L" for way in ways if way in ("L", "R", "AL")), False)


def short_cautions(rows: Iterable[Caution]) -> str:
    """What can hurt, in a breath each; one without short words keeps its first sentence."""
    told = [
        str(SHORT_CAUTIONS.get(row.topic) or row.local_text.split(". ")[0].rstrip(".") + ".")
        for row in rows
        if not row.for_everything
    ]
    return " ".join([*told, str(FOR_SOWING)])


def isolation_to_keep(variety: Variety, figures: Figures) -> str:
    """How far from what it must stand to stay itself, in one line."""
    species = variety.crop.species
    if species.pollination == Pollination.CLONAL:
        return _("Stays itself: it is not grown from seed.")
    figure = figures.get(SpeciesFigure.Quantity.ISOLATION_HOME_M)
    if figure is None:
        return _("Keep it from other %(species)s while it flowers.") % {
            "species": species.botanical_name
        }
    told = {"metres": number_format(round(figure.number)), "species": species.botanical_name}
    if species.pollination == Pollination.WIND:
        return (
            _("Keep it %(metres)s m from other %(species)s, or bag and hand-pollinate.") % told
        )
    if species.pollination == Pollination.INSECT:
        return (
            _("Keep it %(metres)s m from other %(species)s, or cage or hand-pollinate.") % told
        )
    return _("Keep it %(metres)s m from other %(species)s.") % told


def how_it_grew(growing: Growing | None) -> str:
    """Of how many plants the lot is and what kept it from crossing; empty if nobody said."""
    if growing is None:
        return ""
    parts = []
    if growing.plants_gave_seed:
        parts.append(_("from %(n)s plants") % {"n": number_format(growing.plants_gave_seed)})
    if growing.isolation == Isolation.DISTANCE and growing.isolation_distance_m:
        metres = number_format(growing.isolation_distance_m)
        parts.append(_("isolated by %(metres)s m") % {"metres": metres})
    elif growing.isolation == Isolation.NONE:
        parts.append(_("not isolated"))
    elif growing.isolation != Isolation.UNKNOWN:
        parts.append(_("kept apart: %(how)s") % {"how": growing.get_isolation_display()})
    return ", ".join(parts)


def status_line(variety: Variety) -> str:
    """What a borrower must know of how it breeds; the law calls a hybrid a hybrid."""
    if variety.breeding_status == BreedingStatus.F1:
        return _("F1 hybrid: will not breed true")
    return variety.breeding_label
