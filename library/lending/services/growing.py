"""What was told of how seed was grown: checked once, for deposits and returns alike."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from library.errors import Refused
from library.lending.services.checks import fits, maybe_whole
from library.stock.models import Isolation

COUNTS = {
    "plants_sown": 1_000_000,
    "plants_stood": 1_000_000,
    "plants_gave_seed": 1_000_000,
    "pollen_plants": 1_000_000,
    "isolation_distance_m": 100_000,
}
TEXTS = {"crossing_neighbour": 120, "selection": 2000, "roguing": 2000, "notes": 4000}
FACTS = (*COUNTS, *TEXTS, "isolation")


def growing_facts(told: dict[str, Any] | None) -> dict[str, Any]:
    """The facts of ``told`` that say something; raises Refused for what cannot be."""
    told = told or {}
    for name in told:
        if name not in FACTS:
            raise Refused(
                _("There is no growing fact called “%(name)s”.") % {"name": name},
                field="growing",
            )
    facts: dict[str, Any] = {
        name: maybe_whole(told.get(name), field=name, most=most)
        for name, most in COUNTS.items()
    }
    facts |= {name: fits(told.get(name), field=name, most=most) for name, most in TEXTS.items()}
    facts["isolation"] = _isolation(told.get("isolation"))
    _no_more_gave_seed_than_stood(facts)
    return {name: fact for name, fact in facts.items() if fact not in (None, "")}


def _isolation(technique: Any) -> str | None:
    if technique in (None, "", Isolation.UNKNOWN):
        return None
    if technique not in Isolation.values:
        raise Refused(
            _("“%(technique)s” is no way of isolating; choose one of: %(known)s.")
            % {"technique": technique, "known": ", ".join(Isolation.values)},
            field="isolation",
        )
    return str(technique)


def _no_more_gave_seed_than_stood(facts: dict[str, Any]) -> None:
    stood, gave = facts["plants_stood"], facts["plants_gave_seed"]
    if stood is not None and gave is not None and gave > stood:
        raise Refused(
            _("%(gave)s plants gave seed, but only %(stood)s stood; mend one of the two.")
            % {"gave": gave, "stood": stood},
            field="plants_gave_seed",
        )
