"""Seed counted, or weighed and turned into a count."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from library.catalogue.models import Variety
from library.errors import Refused
from library.lending.services.checks import grams as checked_grams
from library.lending.services.checks import maybe_whole
from library.stock.services import seeds_from_weight

MOST_SEEDS = 10_000_000


@dataclass(frozen=True)
class Quantity:
    """So many seeds; the thousand-seed weight (g) only where this very seed was weighed."""

    seeds: int
    thousand_seed_weight_g: Decimal | None = None


def told_quantity(seeds: Any, grams: Any) -> tuple[int | None, Decimal | None]:
    """What somebody says they will bring: a count, a weight, both or neither."""
    count = maybe_whole(seeds, field="seeds", least=1, most=MOST_SEEDS)
    return count, checked_grams(grams)


def seeds_brought(
    *, variety: Variety, seeds: Any, grams: Any, thousand_seed_weight_g: Any = None
) -> Quantity:
    """How many seeds there are: the count if there is one, else the weight divided by the
    thousand-seed weight given (of this very seed) or the species' figure.
    """
    count, weight = told_quantity(seeds, grams)
    if count is not None:
        return Quantity(count, thousand_seed_weight_g)
    if weight is None:
        raise Refused(_("Count the seeds, or weigh them in grams."), field="seeds")
    converted = seeds_from_weight(
        grams=weight, variety=variety, thousand_seed_weight_g=thousand_seed_weight_g
    )
    return Quantity(
        converted.seeds, converted.thousand_seed_weight_g if converted.own else None
    )
