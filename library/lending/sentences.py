"""Why a day is what it is, in the reader's language, from the rule and inputs kept with it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

EXTENDED = "extended"

SENTENCES = {
    "due_annual": gettext_lazy(
        "Lent on {lent_on} and sown about {sown_on}, this annual has ripe seed about "
        "{seed_ripe_on}; {grace_days} days more are for drying and cleaning."
    ),
    "due_biennial": gettext_lazy(
        "Lent on {lent_on} and sown about {sown_on}, this biennial gives seed in its second "
        "year, about {seed_ripe_on}; {grace_days} days more are for drying and cleaning."
    ),
    "due_perennial": gettext_lazy(
        "Lent on {lent_on} and sown about {sown_on}, this perennial gives its first seed in "
        "its second year, about {seed_ripe_on}; {grace_days} days more are for drying and "
        "cleaning."
    ),
    "due_clonal": gettext_lazy(
        "Lent on {lent_on} and planted about {sown_on}, this crop is lifted about "
        "{seed_ripe_on}; {grace_days} days more are for curing."
    ),
    "due_annual_garden_unknown": gettext_lazy(
        "The garden's frost dates are not known. An annual lent on {lent_on} has ripe seed "
        "within a year, by {seed_ripe_on}; {grace_days} days more are for drying and cleaning."
    ),
    "due_biennial_garden_unknown": gettext_lazy(
        "The garden's frost dates are not known. A biennial lent on {lent_on} has ripe seed "
        "within two years, by {seed_ripe_on}; {grace_days} days more are for drying and "
        "cleaning."
    ),
    "due_perennial_garden_unknown": gettext_lazy(
        "The garden's frost dates are not known. A perennial lent on {lent_on} has its first "
        "seed within two years, by {seed_ripe_on}; {grace_days} days more are for drying and "
        "cleaning."
    ),
    "due_clonal_garden_unknown": gettext_lazy(
        "The garden's frost dates are not known. Tubers, cloves or slips lent on {lent_on} are "
        "lifted within a year, by {seed_ripe_on}; {grace_days} days more are for curing."
    ),
    "due_growout": gettext_lazy(
        "Promised as a grow-out: seed is ripe about {ripe_on} and brought in {days} days later."
    ),
    EXTENDED: gettext_lazy("It was due on {was_due_on}; the desk gave more time: {reason}"),
    "sow_any_time": gettext_lazy("No frost sets the time here; sow as rain and heat allow."),
    "sow_around_last_frost": gettext_lazy(
        "Counted from the last spring frost, about {last_frost}. None of our sources says how "
        "hardy this crop is: a hardy one goes in weeks earlier, a tender one waits until the "
        "soil is warm. Ask somebody who has grown it."
    ),
    "sow_to_ripen_before_frost": gettext_lazy(
        "Counted from the last spring frost, about {last_frost}, and early enough for seed to "
        "ripen before the first autumn frost, about {first_frost}. None of our sources says "
        "how hardy this crop is: a hardy one goes in weeks earlier, a tender one waits until "
        "the soil is warm. Ask somebody who has grown it."
    ),
    "plant_in_autumn": gettext_lazy(
        "Planted from the first autumn frost, about {first_frost}, before the ground freezes; "
        "it stands over winter and is lifted in summer. Common practice: none of our sources "
        "says when."
    ),
    "plant_in_spring": gettext_lazy(
        "The autumn in which it is usually planted is past: as soon as the ground can be "
        "worked, and by the last spring frost, about {last_frost}. Common practice: none of "
        "our sources says when."
    ),
    "ripe_after_days": gettext_lazy("Sown on {sown_on}, seed needs {days_needed} days."),
    "ripe_by_frost": gettext_lazy(
        "Sown on {sown_on}, seed needs {days_needed} days, but frost comes first, about "
        "{first_frost}: start it under cover, or ask for an earlier variety."
    ),
    "ripe_after_winter": gettext_lazy(
        "Planted on {sown_on}, it needs {days_needed} days; it is not lifted before the last "
        "spring frost, about {last_frost}."
    ),
    "ripe_biennial": gettext_lazy(
        "A biennial sown on {sown_on} gives seed in its second year, about {ripe_on}."
    ),
    "ripe_perennial": gettext_lazy(
        "A perennial sown on {sown_on} gives its first seed in its second year, about "
        "{ripe_on}."
    ),
}

INPUTS = {
    "lent_on": gettext_lazy("lent on"),
    "sown_on": gettext_lazy("sown about"),
    "seed_ripe_on": gettext_lazy("seed ripe about"),
    "ripe_on": gettext_lazy("seed ripe about"),
    "days_needed": gettext_lazy("days the crop needs"),
    "grace_days": gettext_lazy("days for drying and cleaning"),
    "due_on": gettext_lazy("due on"),
    "days_assumed": gettext_lazy("days to maturity were assumed"),
    "was_due_on": gettext_lazy("was due on"),
    "reason": gettext_lazy("reason"),
    "last_frost": gettext_lazy("last spring frost, about"),
    "first_frost": gettext_lazy("first autumn frost, about"),
    "garden": gettext_lazy("frost dates from"),
}
HIDDEN = {"source"}


def sentence(rule: str, inputs: Mapping[str, Any]) -> str:
    """The rule in one sentence; empty for a rule that is not known any more."""
    template = SENTENCES.get(rule)
    if template is None:
        return ""
    told = {name: readable(value) for name, value in inputs.items()}
    return str(template).format(**told)


def input_rows(inputs: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What went into a rule, as rows for a table."""
    return [
        (str(INPUTS.get(name, name)), readable(value))
        for name, value in inputs.items()
        if name not in HIDDEN
    ]


def readable(value: Any) -> str:
    """A date as the reader writes it, a truth as a word, anything else as it is."""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if value is None:
        return _("not known")
    if isinstance(value, str):
        try:
            value = dt.date.fromisoformat(value)
        except ValueError:
            return value
    if isinstance(value, dt.date):
        return date_format(value, "DATE_FORMAT")
    return str(value)
