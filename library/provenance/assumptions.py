"""What was taken for granted when a chain was measured, in words a page can show.

Lots of which the same was assumed share one sentence.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from library.science.reasons import Reason

MOST_NAMED = 12

SENTENCES = {
    "chain_plants_assumed": gettext_lazy(
        "How many plants gave seed was not noted for {lot}: {plants} are assumed, the lesser "
        "of the two usual rules (20 for a crop that pollinates itself, 100 for one that "
        "crosses)."
    ),
    "chain_plants_as_stood": gettext_lazy(
        "How many plants gave seed was not noted for {lot}: all {plants} that stood are taken "
        "to have."
    ),
    "chain_males_assumed": gettext_lazy(
        "How many male plants shed pollen was not noted for {lot}: {males} are assumed beside "
        "{females} females."
    ),
    "chain_pollen_plants_assumed": gettext_lazy(
        "How many plants gave pollen was not noted for {lot}: {males} are assumed, as many as "
        "gave seed."
    ),
    "chain_lone_plant": gettext_lazy(
        "A single plant gave the seed of {lot}: it is taken to have pollinated itself."
    ),
    "chain_shares_equal": gettext_lazy(
        "How much of each of {lots} lots went into {lot} was not noted: equal parts are "
        "assumed."
    ),
    "chain_deposit_inbred": gettext_lazy(
        "Of {lot}, as deposited, {selfing_percent} % of the seeds are taken to come from own "
        "pollen, year after year: that makes it {inbreeding_percent} % inbred to begin with."
    ),
    "chain_deposit_f1": gettext_lazy(
        "The seeds of {lot}, an F1 hybrid, are taken to be children of two pure lines, all "
        "alike."
    ),
    "chain_deposit_segregating": gettext_lazy(
        "Of {lot}, F{generation} by the variety's card, all seeds are taken to descend from "
        "one F1, with nothing lost until it was brought."
    ),
    "chain_deposit_clone": gettext_lazy(
        "All plants of {lot}, a clone, are taken to carry the same genes: none is lost however "
        "few are planted."
    ),
    "chain_selfing_rate": gettext_lazy(
        "This crop pollinates itself: {selfing_percent} % of its seeds are taken to come from "
        "a plant's own pollen. In truth a few in a hundred may be crossed."
    ),
    "chain_selfing_rate_mostly": gettext_lazy(
        "This crop mostly pollinates itself: {selfing_percent} % of its seeds are taken to "
        "come from a plant's own pollen. That varies much with place and weather."
    ),
    "chain_cross_sides": gettext_lazy(
        "Which parent was the mother of {lot}, a cross, was not noted: {mother} is taken to "
        "be. It matters only where one side had fewer plants."
    ),
    "chain_cross_half_known": gettext_lazy(
        "One parent of {lot}, a cross, is not in the chain: what it brought is not counted."
    ),
    "chain_deposits_unrelated": gettext_lazy(
        "Deposits made independently are taken to be unrelated, as nothing is known of what "
        "came before them."
    ),
}


def assumptions(reasons: Iterable[Reason]) -> tuple[str, ...]:
    """Each thing that was assumed as one sentence that names the lots it was assumed of."""
    lots: dict[tuple[str, tuple[tuple[str, Any], ...]], list[str]] = {}
    for reason in reasons:
        inputs = dict(reason.inputs)
        named = inputs.pop("lot", None)
        same = lots.setdefault((reason.key, tuple(sorted(inputs.items()))), [])
        if named is not None:
            same.append(str(named))
    return tuple(
        str(SENTENCES[key]).format(lot=listed(named), **{k: _shown(v) for k, v in inputs})
        for (key, inputs), named in lots.items()
    )


def listed(numbers: list[str]) -> str:
    """Lot numbers as a sentence lists them, the first of many."""
    if len(numbers) > MOST_NAMED:
        shown = ", ".join(numbers[:MOST_NAMED])
        return _("%(lots)s and %(n)s more lots") % {
            "lots": shown,
            "n": len(numbers) - MOST_NAMED,
        }
    if len(numbers) > 1:
        first, last = ", ".join(numbers[:-1]), numbers[-1]
        return _("%(lots)s and %(last)s") % {"lots": first, "last": last}
    return "".join(numbers)


def _shown(value: Any) -> str:
    if isinstance(value, float):
        value = Decimal(f"{value:.3g}").normalize()
    return str(number_format(value)) if isinstance(value, int | Decimal) else str(value)
