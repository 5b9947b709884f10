"""Why a lot is tested on that day, and what is assumed of it, in words a page can show."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from library.science.reasons import Reason
from library.stock.models import StoragePlace

SENTENCES = {
    # the day of a test
    "first_test": gettext_lazy(
        "Received on {received_on}; a new lot is tested within {within_days}."
    ),
    "retest_chance": gettext_lazy(
        "Stored as it is, its chance that {standard_percent} % or more of it is alive falls "
        "under {level_percent} % on {falls_on}: it is tested by then."
    ),
    "retest_third_of_prediction": gettext_lazy(
        "It is expected to fall to 85 % of its first viability in {predicted_years}: it is "
        "tested again after a third of that."
    ),
    "retest_no_prediction": gettext_lazy(
        "Nothing that is published predicts how long it keeps: it is tested again after no "
        "more than {years}."
    ),
    "retest_longest": gettext_lazy(
        "It is expected to keep very long, but no lot goes untested for more than {years}."
    ),
    "retest_before_sowing": gettext_lazy(
        "It is wanted for sowing on {sowing_on}, and what is known of it is not sure enough to "
        "say how much to sow: it is tested in time for that."
    ),
    "retest_not_sooner": gettext_lazy(
        "Its viability is not sure, but every test costs seed and it was tested on "
        "{tested_on}: {wait_days} lie between two tests."
    ),
    "retest_below_standard": gettext_lazy(
        "The chance that {standard_percent} % or more of it is alive is "
        "{chance_percent} %: it should be regrown, not lent; what is kept is tested again."
    ),
    "replicates_disagree": gettext_lazy(
        "The dishes counted on {tested_on} lie {range_percent} points apart; "
        "{tolerated_percent} are tolerated. The test says nothing sure and is done again."
    ),
    "clonal_season": gettext_lazy(
        "Tubers, cloves and slips keep one season and are planted again: what is still there a "
        "year after harvest is looked at again."
    ),
    "clonal_overdue": gettext_lazy(
        "Tubers, cloves and slips keep one season, and that is over: plant them now; what is "
        "still kept is looked at again."
    ),
    "not_orthodox": gettext_lazy(
        "Seed of this species is {storage_behaviour}: it does not keep dry and cold, and "
        "nothing here can predict it. Sow it soon; what is kept is tested again."
    ),
    # whether to regrow
    "regrow_below_standard": gettext_lazy(
        "The chance that {standard_percent} % or more of it is alive is "
        "{chance_percent} %: regrow it while some of it lives."
    ),
    "regrow_below_initial": gettext_lazy(
        "About {median_percent} % of it is alive, less than 85 % of the {initial_percent} % "
        "with which it began: regrow it."
    ),
    # how long the species keeps
    "longevity_constants": gettext_lazy("How fast it dies is published for this species."),
    "longevity_class": gettext_lazy(
        "No rate is published for this species; kept cool and dry it is said to last about "
        "{longevity_years}."
    ),
    "longevity_unknown": gettext_lazy(
        "Nobody wrote down how long this species keeps; {longevity_years}, cool and dry, are "
        "assumed."
    ),
    # where it lay
    "age_from_harvest": gettext_lazy(
        "Harvested in {harvest_year}: its age is counted from about {stored_on}."
    ),
    "age_from_receipt": gettext_lazy(
        "Nobody knows when it was harvested: its age is counted from the day it came, "
        "{stored_on}, and it may be older."
    ),
    "storage_before_receipt": gettext_lazy(
        "Where it lay until {received_on} was not noted: an ordinary room of {temperature_c} "
        "°C and {humidity_percent} % humidity is assumed."
    ),
    "storage_of_bulk": gettext_lazy(
        "Bulked on {received_on}: until then it is taken to have lain where the largest of its "
        "parts lay."
    ),
    "storage_place_unknown": gettext_lazy(
        "Nobody noted where it lay from {since_on}: an ordinary room of {temperature_c} °C and "
        "{humidity_percent} % humidity is assumed."
    ),
    "storage_at_home": gettext_lazy(
        "A member kept it from {since_on}: an ordinary room of {temperature_c} °C and "
        "{humidity_percent} % humidity is assumed."
    ),
    "temperature_assumed": gettext_lazy(
        "Nobody measured how warm it was where it lay from {since_on} ({kind}): "
        "{temperature_c} °C is assumed."
    ),
    # how moist it is
    "moisture_measured": gettext_lazy("The seed was measured to hold {percent} % moisture."),
    "moisture_from_humidity": gettext_lazy(
        "Seed in air of {humidity_percent} % humidity at {temperature_c} °C comes to about "
        "{percent} % moisture."
    ),
    "moisture_beyond_isotherm": gettext_lazy(
        "Seed in air of {humidity_percent} % humidity at {temperature_c} °C is taken to hold "
        "{percent} % moisture; such air is outside what was published, so measure the seed."
    ),
    "moisture_assumed": gettext_lazy(
        "Nobody measured the humidity: the seed is taken to have been closed up in a room of "
        "{humidity_percent} %, which leaves it at {percent} % moisture."
    ),
    "moisture_sealed_in": gettext_lazy(
        "Cold from {since_on}, in air that nobody measured: sealed up, the seed keeps the "
        "{percent} % moisture that it had."
    ),
    # what nothing can predict
    "unpredicted_clonal": gettext_lazy(
        "Counted in tubers, cloves or slips, which keep one season: the equation for dry seed "
        "says nothing of them."
    ),
    "unpredicted_behaviour": gettext_lazy(
        "Seed of this species is {storage_behaviour}: it does not keep dry and cold, and the "
        "equation for dry seed does not hold for it."
    ),
}

LABELS = {
    "received_on": gettext_lazy("Received on"),
    "within_days": gettext_lazy("Days until a first test"),
    "tested_on": gettext_lazy("Tested on"),
    "median_percent": gettext_lazy("Alive, about, %"),
    "low_percent": gettext_lazy("Alive, at least (19 in 20), %"),
    "high_percent": gettext_lazy("Alive, at most (19 in 20), %"),
    "chance_percent": gettext_lazy("Chance of being above the standard, %"),
    "standard_percent": gettext_lazy("The library's standard, %"),
    "level_percent": gettext_lazy("Chance that is wanted, %"),
    "falls_on": gettext_lazy("The chance falls to that on"),
    "predicted_years": gettext_lazy("Expected years until 85 % of its first viability"),
    "initial_percent": gettext_lazy("Alive at harvest, about, %"),
    "sowing_on": gettext_lazy("Wanted for sowing on"),
    "wait_days": gettext_lazy("Least days between two tests"),
    "range_percent": gettext_lazy("Dishes apart, points"),
    "tolerated_percent": gettext_lazy("Tolerated, points"),
    "longevity": gettext_lazy("How long it keeps is known from"),
    "longevity_years": gettext_lazy("Keeps cool and dry, years"),
    "longevity_source": gettext_lazy("Where that is from"),
    "harvest_year": gettext_lazy("Harvest year"),
    "stored_on": gettext_lazy("Age counted from"),
    "since_on": gettext_lazy("From"),
    "kind": gettext_lazy("Kept in"),
    "percent": gettext_lazy("Moisture, %"),
    "humidity_percent": gettext_lazy("Humidity of the air, %"),
    "temperature_c": gettext_lazy("Temperature, °C"),
    "oil_percent": gettext_lazy("Oil in the seed, %"),
    "storage_behaviour": gettext_lazy("Storage behaviour"),
}
# Shown elsewhere, or only for the rule that names it: the day itself, the test's own page.
HIDDEN = {"due_on", "test", "regenerate", "source", "years"}

_WORDS = {
    "constants": gettext_lazy("its own constants"),
    "class": gettext_lazy("the years it is said to keep"),
    "nothing": gettext_lazy("nothing published"),
    "recalcitrant": gettext_lazy("recalcitrant"),
    "intermediate": gettext_lazy("intermediate"),
    **dict(StoragePlace.Kind.choices),
}


@dataclass(frozen=True)
class Told:
    """A reason as a page shows it: a sentence, what went in as labelled rows, its source."""

    sentence: str
    rows: list[tuple[str, str]]
    source: str


def told(reason: Reason) -> Told:
    """A reason of the science in the reader's language."""
    inputs = dict(reason.inputs)
    return Told(sentence_for(reason.key, inputs), rows_for(inputs), reason.source)


def sentence_for(rule: str, inputs: Mapping[str, Any]) -> str:
    """The rule in words, with its numbers and days as the reader writes them."""
    shown = {name: _in_sentence(name, value) for name, value in inputs.items()}
    return str(SENTENCES[rule]).format(**shown)


def rows_for(inputs: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The inputs as labelled rows, those that say something."""
    return [
        (str(label), _shown(name, inputs[name]))
        for name, label in LABELS.items()
        if inputs.get(name) is not None
    ]


def _in_sentence(name: str, value: Any) -> str:
    if value is not None and name.endswith("years"):
        words = ngettext("%(n)s year", "%(n)s years", 1 if value == 1 else 2)
    elif value is not None and name.endswith("_days"):
        words = ngettext("%(n)s day", "%(n)s days", 1 if value == 1 else 2)
    else:
        return _shown(name, value)
    return words % {"n": _shown(name, value)}


def nearly_certain(chance: float) -> str:
    """Words for a chance, in percent, that is not to sound certain; empty for any other."""
    if 0.5 <= chance <= 99.5:
        return ""
    return _("less than 1") if chance < 50 else _("more than 99")


def _shown(name: str, value: Any) -> str:
    if value is None:
        return _("not known")
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if name == "harvest_year":  # a name, not an amount
        return str(value)
    if name == "chance_percent" and (words := nearly_certain(value)):
        return words
    if isinstance(value, int | float):
        return number_format(Decimal(f"{value:.6g}").normalize())
    if name.endswith("_on"):
        return date_format(dt.date.fromisoformat(value), "DATE_FORMAT")
    return str(_WORDS.get(value, value))
