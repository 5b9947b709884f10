"""The questions asked of the stock, in the trade's words."""

from __future__ import annotations

from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from accounts.access import may_browse

MOST_IN_A_LOT = 2_000_000_000  # what an integer column holds, with room to spare


class LotQuerySet(models.QuerySet):
    def on_shelf(self):
        """Lots with at least one packet that could be lent."""
        return self.filter(packed__gt=0)

    def off_shelf(self):
        """Lots of which no packet is on the shelf."""
        return self.filter(packed=0)

    def with_seed(self):
        """Lots of which anything is left, in the jar or in packets."""
        return self.filter(Q(loose__gt=0) | Q(packed__gt=0))

    def kept_here(self):
        """Lots of this library; not those that are only links of a chain from elsewhere."""
        return self.exclude(origin="elsewhere")

    def of_variety(self, variety):
        return self.filter(variety=variety)

    def with_variety(self):
        return self.select_related("variety__crop__species")

    def with_people(self):
        return self.select_related("custodian", "grower")

    def visible_to(self, member):
        """Every lot for who may browse the catalogue; else those that they keep at home."""
        if may_browse(member):
            return self
        if not member.is_authenticated:
            return self.none()  # a NULL key would match lots that the library keeps
        return self.filter(custodian=member)

    def awaiting_test(self):
        return self.filter(awaits_first_test=True)

    def lying_in(self, places):
        """Lots whose jar or whose packets on the shelf lie in one of the places."""
        from library.stock.models import Packet

        packets = Packet.objects.on_shelf().filter(lot=OuterRef("pk"))
        inside = packets.filter(storage_place__in=places)
        return self.filter(Q(storage_place__in=places) | Exists(inside))

    def add_seed(self, pk: int, *, loose: int = 0, packed: int = 0) -> bool:
        """Change a lot's seed in one conditional UPDATE; False when too little is there."""
        changes = {"loose": loose, "packed": packed}
        moved = {column: change for column, change in changes.items() if change}
        fits = self.filter(
            pk=pk,
            **{
                f"{column}__range": (-change, MOST_IN_A_LOT - max(change, 0))
                for column, change in moved.items()
            },
        )
        return fits.update(**{column: F(column) + by for column, by in moved.items()}) == 1


class PacketQuerySet(models.QuerySet):
    def on_shelf(self):
        return self.filter(state="on_shelf")

    def with_lot(self):
        return self.select_related("lot__variety__crop__species")

    def visible_to(self, member):
        """The packets of the lots that may be seen."""
        if may_browse(member):
            return self
        if not member.is_authenticated:
            return self.none()
        return self.filter(lot__custodian=member)

    def move(self, pk: int, *, from_state: str, to_state: str) -> bool:
        """Change a packet's state only if it is still as it was; False when it is not."""
        return self.filter(pk=pk, state=from_state).update(state=to_state) == 1


class MovementQuerySet(models.QuerySet):
    """The ledger is only ever added to."""

    def with_details(self):
        return self.select_related("packet", "recorded_by", "mended_by", "mends")

    def update(self, **changes):
        raise TypeError("Movements are never changed; add a contrary movement.")

    def delete(self):
        raise TypeError("Movements are never deleted; add a contrary movement.")
