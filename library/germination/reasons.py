"""Why a lot is tested on that day, in words a page can show and translate."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop, ngettext

_SENTENCES = {
    "first_test": _(
        "Received on %(received_on)s; a new lot is tested within %(within_days)s days."
    ),
    "retest_third_of_longevity": _(
        "Tested at %(percent)s %% on %(tested_on)s. Kept cool and dry the species lasts about "
        "%(longevity_years)s years; a third of that stands in for a third of the predicted "
        "time: %(years)s."
    ),
    "retest_unknown": _(
        "Tested at %(percent)s %% on %(tested_on)s. Nobody wrote down how long this species "
        "keeps, so it is tested again after %(years)s."
    ),
    "retest_frozen": _(
        "Tested at %(percent)s %% on %(tested_on)s. Frozen seed that is short-lived, or of "
        "which nobody knows, is tested again after %(years)s."
    ),
    "retest_frozen_long_lived": _(
        "Tested at %(percent)s %% on %(tested_on)s. Frozen seed of a long-lived species is "
        "tested again after %(years)s."
    ),
    "retest_regenerate": _(
        "Tested at %(percent)s %% on %(tested_on)s, under %(threshold_percent)s %%, which is "
        "85 %% of its first result of %(initial_percent)s %%. Regrow it; what is kept is "
        "tested again after %(years)s."
    ),
    "retest_nothing_germinated": _(
        "Nothing germinated on %(tested_on)s. Test once more within %(days)s days before the "
        "lot is written off, and regrow the variety from another."
    ),
    "replicates_disagree": _(
        "The dishes counted on %(tested_on)s lie %(range_percent)s points apart; "
        "%(tolerated_percent)s are tolerated. The test says nothing sure and is done again."
    ),
}
DAYS_IN_YEAR = 365
_HALVED = _("The wait is halved, since the result is under 85 %%.")

_INPUTS = {
    "received_on": gettext_noop("Received on"),
    "within_days": gettext_noop("Days until a first test"),
    "tested_on": gettext_noop("Tested on"),
    "percent": gettext_noop("Germination, %"),
    "initial_percent": gettext_noop("First result, %"),
    "threshold_percent": gettext_noop("85 % of the first result, %"),
    "longevity_years": gettext_noop("Keeps cool and dry, years"),
    "longevity_source": gettext_noop("Where that is from"),
    "frozen": gettext_noop("Kept frozen"),
    "halved": gettext_noop("Wait halved"),
    "years": gettext_noop("Wait, years"),
    "range_percent": gettext_noop("Dishes apart, points"),
    "tolerated_percent": gettext_noop("Tolerated, points"),
}


def sentence_for(rule: str, inputs: dict[str, Any]) -> str:
    """The rule in words, with its numbers."""
    shown = {
        name: f"{value:g}" if isinstance(value, float) else value
        for name, value in inputs.items()
    }
    if "years" in inputs:
        wait = inputs["years"]
        shown["days"] = round(wait * DAYS_IN_YEAR)
        shown["years"] = ngettext("%(n)s year", "%(n)s years", 1 if wait == 1 else 2) % {
            "n": shown["years"]
        }
    sentence = _SENTENCES[rule] % shown
    halved = inputs.get("halved") and rule != "retest_nothing_germinated"
    return f"{sentence} {_HALVED % ()}" if halved else sentence


def rows_for(inputs: dict[str, Any]) -> list[tuple[str, Any]]:
    """The inputs as labelled rows, those that say something."""
    return [
        (str(_(label)), _shown(inputs[name]))
        for name, label in _INPUTS.items()
        if inputs.get(name) is not None
    ]


def _shown(value: Any) -> Any:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    return f"{value:g}" if isinstance(value, float) else value
