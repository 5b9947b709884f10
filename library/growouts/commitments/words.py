"""Why a step is expected on its day, and what causes and steps are called."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext_lazy

from library.growouts.models import Milestone

Kind = Milestone.Kind

SENTENCES = {
    "milestone_sown": gettext_lazy(
        "Sown two weeks after the last spring frost, about {last_frost}, or earlier where seed "
        "would not ripen before the autumn."
    ),
    "milestone_sown_first_year": gettext_lazy(
        "Seed comes in the second year: sown so that it grows 90 days before its first winter; "
        "the last spring frost is about {last_frost}."
    ),
    "milestone_sown_any_time": gettext_lazy(
        "No frost sets the time: sown 90 days into the year."
    ),
    "milestone_sown_unknown": gettext_lazy(
        "Nobody said when it freezes there: sown by the end of June."
    ),
    "milestone_sown_autumn": gettext_lazy(
        "It stands over winter: planted about two weeks after the first frost of the autumn "
        "before, about {first_frost}."
    ),
    "milestone_sown_autumn_unknown": gettext_lazy(
        "It stands over winter, and nobody said when it freezes there: planted by the end of "
        "October of the year before."
    ),
    "milestone_sown_spring": gettext_lazy(
        "Promised on {promised_on}, after the autumn in which it is usually planted: planted "
        "as soon as the ground can be worked, by the last spring frost, about {last_frost}."
    ),
    "milestone_sown_late": gettext_lazy(
        "Promised on {promised_on}: sown within two weeks of that."
    ),
    "milestone_stand": gettext_lazy("{days} days after sowing what came up can be counted."),
    "milestone_stand_spring": gettext_lazy(
        "It was planted before the winter: what came up can be counted once the last spring "
        "frost, about {last_frost}, is past."
    ),
    "milestone_rogued": gettext_lazy(
        "Off-types go before they shed pollen: {days} days before flowering, about "
        "{flowering_on}."
    ),
    "milestone_isolated": gettext_lazy(
        "It flowers about {days} days before its seed is ripe, about {ripe_on}: bags, cage or "
        "distance must be there by then."
    ),
    "milestone_harvested": gettext_lazy(
        "Sown about {sown_on}, its seed is ripe about {ripe_on}."
    ),
    "milestone_cleaned": gettext_lazy("{days} days after harvest to dry, thresh and clean."),
    "milestone_returned": gettext_lazy("{days} days after harvest to bring it in."),
    "milestone_moved": gettext_lazy("It was {was_due_on}; the desk gave more time: {why}"),
}
# What the number of a report counts.
NUMBERS = {
    Kind.SOWN: gettext_lazy("seeds or plants set out"),
    Kind.STAND: gettext_lazy("plants that stand"),
    Kind.ROGUED: gettext_lazy("plants taken out"),
    Kind.ISOLATED: gettext_lazy("plants in flower"),
    Kind.HARVESTED: gettext_lazy("plants that gave seed"),
    Kind.CLEANED: gettext_lazy("seeds, about"),
    Kind.RETURNED: gettext_lazy("seeds, about"),
}
# What a reminder asks for.
TO_DO = {
    Kind.SOWN: gettext_lazy("Sow %(variety)s"),
    Kind.STAND: gettext_lazy("Count what stands of %(variety)s"),
    Kind.ROGUED: gettext_lazy("Rogue %(variety)s"),
    Kind.ISOLATED: gettext_lazy("Isolate the flowers of %(variety)s"),
    Kind.HARVESTED: gettext_lazy("Harvest seed of %(variety)s"),
    Kind.CLEANED: gettext_lazy("Clean the seed of %(variety)s"),
    Kind.RETURNED: gettext_lazy("Bring in seed of %(variety)s"),
}


def sentence(rule: str, inputs: Mapping[str, Any]) -> str:
    """Why a step is expected on its day, in the active language; empty for an unknown rule."""
    told = {name: _shown(value) for name, value in inputs.items()}
    words = SENTENCES.get(rule)
    try:
        return str(words).format_map(told) if words else ""
    except KeyError:  # kept by a version that noted other things
        return ""


def _shown(value: Any) -> Any:
    """A day that was kept as ISO 8601 text as a date; a whole number as one."""
    if isinstance(value, str):
        try:
            return date_format(dt.date.fromisoformat(value))
        except ValueError:
            return value
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value
