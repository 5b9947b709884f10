"""The questions asked of the stock, in the trade's words."""

from __future__ import annotations

from django.db import models
from django.db.models import F


class LotQuerySet(models.QuerySet):
    def on_shelf(self):
        """Lots with at least one packet that could be lent."""
        return self.filter(packed__gt=0)

    def of_variety(self, variety):
        return self.filter(variety=variety)

    def add_seed(self, pk: int, *, loose: int = 0, packed: int = 0) -> bool:
        """Change a lot's seed in one conditional UPDATE; False when too little is there."""
        enough = self.filter(pk=pk, loose__gte=-loose, packed__gte=-packed)
        changed = enough.update(loose=F("loose") + loose, packed=F("packed") + packed)
        return changed == 1


class PacketQuerySet(models.QuerySet):
    def on_shelf(self):
        return self.filter(state="on_shelf")

    def move(self, pk: int, *, from_state: str, to_state: str) -> bool:
        """Change a packet's state only if it is still as it was; False when it is not."""
        return self.filter(pk=pk, state=from_state).update(state=to_state) == 1


class MovementQuerySet(models.QuerySet):
    """The ledger is only ever added to."""

    def update(self, **changes):
        raise TypeError("Movements are never changed; add a contrary movement.")

    def delete(self):
        raise TypeError("Movements are never deleted; add a contrary movement.")
