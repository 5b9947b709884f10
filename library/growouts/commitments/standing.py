"""What a grower is told of an offer or a promise, as it is known on a day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.db.models import QuerySet

from accounts.models import Garden
from library.catalogue.models import Variety
from library.growouts.commitments.telling import Told, tell
from library.growouts.models import Commitment, CommitmentLoan, Season
from library.lending.services.growouts import lots_to_sow
from library.lending.services.reserve import figures_of, population_of


def told_of(
    commitment: Commitment, *, on: dt.date, links: Iterable[CommitmentLoan] | None = None
) -> Told:
    """What the grower is told, as it is known today; of a promise with the packets lent, which
    ``links`` are, if somebody has read them already.
    """
    lent = None
    if not commitment.is_offered:
        lent = [link.loan.packet for link in (lent_for(commitment) if links is None else links)]
    return told_for(
        commitment.season,
        commitment.variety,
        commitment.garden,
        commitment.technique,
        commitment.plants,
        on,
        wanted=commitment.told.get("seeds"),
        lent=lent,
    )


def told_for(
    season: Season,
    variety: Variety,
    garden: Garden | None,
    technique: str,
    plants: int | None,
    on: dt.date,
    **bound: Any,
) -> Told:
    """What is told of growing a variety somewhere; as many plants as keep it, unless told."""
    if plants is None:
        plants = population_of(variety, figures_of(variety)).plants
    return tell(
        variety=variety,
        garden=garden,
        season=season,
        technique=technique,
        plants=plants,
        lots=lots_to_sow(variety),
        on=on,
        **bound,
    )


def letter_of(commitment: Commitment, on: dt.date) -> dict[str, Any]:
    """Put into words anew: the grower's language may be another than the coordinator's."""
    card = commitment.variety.description.strip().split("\n")[0]
    return {"card": card, **told_of(commitment, on=on).letter}


def lent_for(commitment: Commitment) -> QuerySet[CommitmentLoan]:
    """The packets lent for it, with their lots."""
    return commitment.lent.select_related("loan__packet__lot__estimate").order_by("pk")
