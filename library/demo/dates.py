"""When it was that people did what they did.

The services write down the moment at which they are called, beside the day that is meant. Of
the demo's years that moment is the evening on which it was made; where a page shows it, it is
set to the day that was meant. The ledger's own moments stay: nobody can change those.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from django.db.models import Model
from django.utils import timezone

from library.catalogue.models import SeasonNote, Variety, VarietyEdit
from library.demo.world import World
from library.exchange.models import ChainImport
from library.germination.models import ShelfDecision
from library.stock.models import StockTake


def tell_when(world: World) -> None:
    written, noted = world.cards_written, world.notes_written
    edited, counted = world.edited_on, world.counted_on
    _set(Variety.objects.all(), lambda card: {"added_at": at(written[card.pk], 11)})
    _set(SeasonNote.objects.all(), lambda note: {"written_at": at(noted[note.pk], 20)})
    _set(VarietyEdit.objects.all(), lambda edit: {"edited_at": at(edited[edit.pk], 21)})
    decided = world.decided_on
    _set(ShelfDecision.objects.all(), lambda said: {"decided_at": at(decided[said.pk], 20)})
    _set(ChainImport.objects.select_related("lot"), lambda came: _brought(came.lot.received_on))
    _set(StockTake.objects.all(), lambda take: _counted(counted[take.pk]))


def at(day: dt.date, hour: int) -> dt.datetime:
    """A time of that day, not later than now."""
    moment = timezone.make_aware(dt.datetime.combine(day, dt.time(hour, 15)))
    return min(moment, timezone.now())


def _set(rows: Any, facts: Callable[[Any], dict[str, dt.datetime]]) -> None:
    changed: list[Model] = list(rows)
    if not changed:
        return
    names: set[str] = set()
    for row in changed:
        for name, value in facts(row).items():
            setattr(row, name, value)
            names.add(name)
    type(changed[0])._default_manager.bulk_update(changed, sorted(names), batch_size=300)


def _brought(day: dt.date) -> dict[str, dt.datetime]:
    return {"brought_at": at(day, 10), "decided_at": at(day, 11)}


def _counted(day: dt.date) -> dict[str, dt.datetime]:
    return {"started_at": at(day, 10), "closed_at": at(day, 15)}
