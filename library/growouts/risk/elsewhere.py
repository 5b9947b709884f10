"""Whether a variety can still be had outside the library, as members recorded it."""

from __future__ import annotations

import datetime as dt

from library.growouts.models import Elsewhere

Ease = Elsewhere.Ease
# Common practice, no source.
CHANCE = {Ease.EASILY: 0.9, Ease.WITH_ASKING: 0.5, Ease.DOUBTFUL: 0.2, Ease.NOT_FOUND: 0.0}
OLD_AFTER = dt.timedelta(days=5 * 365)  # common practice, no source
OLD_COUNTS = 0.5


def chance_elsewhere(record: Elsewhere | None, *, on: dt.date) -> float:
    """The chance, 0 to 1, that a variety can be had again from outside; 0 where nobody said."""
    if record is None:
        return 0.0
    chance = CHANCE[Ease(record.ease)]
    return chance * OLD_COUNTS if is_old(record, on=on) else chance


def is_old(record: Elsewhere, *, on: dt.date) -> bool:
    """Whether what was recorded is so old that it counts half."""
    return on - record.known_on > OLD_AFTER


def newest_records(varieties, *, on: dt.date) -> dict[int, Elsewhere]:
    """By variety the newest that was recorded by a day; one query."""
    rows = Elsewhere.objects.filter(variety__in=varieties, known_on__lte=on)
    oldest_first = rows.select_related("recorded_by").order_by("known_on", "pk")
    return {row.variety_id: row for row in oldest_first}
