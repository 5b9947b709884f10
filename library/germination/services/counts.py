"""What can have been counted in a dish."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from library.errors import Refused
from library.germination.models import Replicate
from library.stock.services.checks import whole

COUNTS = ("normal", "abnormal", "hard", "fresh", "dead")
BY_DAY = ("normal", "abnormal", "dead")
MOST_IN_A_REPLICATE = 1000


def final_counts(dish: Replicate, given: Mapping[str, Any]) -> dict[str, int]:
    """The five counts of a dish when it is done: what is not given stays, dead is the rest."""
    _check_shape(dish, given)
    counts = {name: given.get(name, getattr(dish, name)) for name in COUNTS}
    if "dead" not in given:
        counts["dead"] = max(0, dish.seeds - sum(counts.values()) + counts["dead"])
    total = sum(counts.values())
    check_total(dish, total)
    if total < dish.seeds:
        raise _refused(
            dish,
            _(
                "Dish %(number)s was sown with %(seeds)s, and its counts add up to %(total)s; "
                "leave the dead out to have the rest counted as dead."
            ),
            total=total,
        )
    return counts


def check_total(dish: Replicate, total: int) -> None:
    """Refuse more counted than sown."""
    if total > dish.seeds:
        raise _refused(
            dish,
            _("Dish %(number)s was sown with %(seeds)s, but %(total)s were counted."),
            total=total,
        )


def check_by_day(dish: Replicate, counts: Mapping[str, int]) -> None:
    """Refuse a last count under the sum of the days, which a dish holds until it is done."""
    for name in BY_DAY:
        by_day = getattr(dish, name)
        about: Any = Replicate._meta.get_field(name)
        if counts[name] < by_day:
            raise _refused(
                dish,
                _(
                    "Dish %(number)s: %(by_day)s %(name)s were counted day by day, so there "
                    "cannot be %(count)s in all. Correct the day that is wrong."
                ),
                by_day=by_day,
                name=about.verbose_name,
                count=counts[name],
            )


def _check_shape(dish: Replicate, given: Mapping[str, Any]) -> None:
    if unknown := set(given) - {"seeds", *COUNTS}:
        raise _refused(dish, _("A dish has no count called %(name)s."), name=min(unknown))
    for count in given.values():
        whole(count, field="replicates", least=0, most=MOST_IN_A_REPLICATE)
    if given.get("seeds", dish.seeds) != dish.seeds:
        raise _refused(
            dish,
            _("Dish %(number)s was sown with %(seeds)s, not %(said)s."),
            said=given["seeds"],
        )


def _refused(dish: Replicate, sentence: str, **words: Any) -> Refused:
    about = {"number": dish.number, "seeds": dish.seeds} | words
    return Refused(sentence % about, field="replicates")
