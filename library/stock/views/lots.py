"""The page of a lot: what it is, where it came from, how much is left."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db.models import Count, F, Sum
from django.views.generic import DetailView

from accounts.access import CataloguePage
from accounts.roles import SERVE_DESK
from library.stock.models import Growing, Lot, LotAmendment, Movement, Packet
from library.stock.places import PlaceTree


class LotPage(CataloguePage, DetailView):
    template_name = "stock/lot.html"
    slug_field = slug_url_kwarg = "number"
    context_object_name = "lot"

    def get_queryset(self):
        lots = Lot.objects.visible_to(self.request.user).with_variety().with_people()
        return lots.select_related("growing", "foreign")

    def get_template_names(self) -> list[str]:
        return ["stock/lot_elsewhere.html" if self.object.is_elsewhere else self.template_name]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        lot = self.object
        context = super().get_context_data(
            growing=getattr(lot, "growing", None),
            parents=lot.parent_links.select_related("parent").order_by("parent_id"),
            children=lot.child_links.select_related("child").order_by("child_id"),
            **kwargs,
        )
        if lot.is_elsewhere:
            return context
        context["packets"] = packet_counts(lot)
        if self.request.user.has_perm(SERVE_DESK):
            return context | self._for_the_desk(lot)
        amendments = lot.amendments.exclude(field="withheld")  # why is for the desk
        return context | {
            "summary": ledger_summary(lot),
            "amendments": with_labels(amendments),
        }

    def _for_the_desk(self, lot: Lot) -> dict[str, Any]:
        tree = PlaceTree()
        return {
            "desk": True,
            "path": tree.path(lot.storage_place_id),
            "climate": tree.climate(lot.storage_place_id),
            "packet_list": _with_paths(lot.packets.order_by("state", "code"), tree),
            "movements": lot.movements.with_details(),
            "amendments": with_labels(lot.amendments.select_related("amended_by")),
        }


def _with_paths(packets, tree: PlaceTree) -> list[tuple[Packet, str]]:
    return [(packet, tree.path(packet.storage_place_id)) for packet in packets]


def packet_counts(lot: Lot) -> dict[str, int]:
    """Packets on the shelf and lent, and both, for the stock bar."""
    rows = lot.packets.order_by().values_list("state").annotate(n=Count("pk"))
    counts = dict(rows)
    on_shelf = counts.get(Packet.State.ON_SHELF, 0)
    lent = counts.get(Packet.State.LENT, 0)
    return {"on_shelf": on_shelf, "lent": lent, "total": on_shelf + lent}


def ledger_summary(lot: Lot) -> list[dict[str, Any]]:
    """What each kind of movement did in sum: no days, no names."""
    sums = lot.movements.order_by("kind").values("kind")
    rows = sums.annotate(change=Sum(F("loose_change") + F("packed_change")), lines=Count("pk"))
    return [row | {"label": Movement.Kind(row["kind"]).label} for row in rows]


def with_labels(amendments: Iterable[LotAmendment]) -> list[dict[str, Any]]:
    """What was corrected, oldest first, each with the field's own label."""
    return [{"amendment": a, "label": field_label(a.field)} for a in amendments]


def field_label(name: str) -> str:
    """The words for an amended field."""
    if name == "withheld":
        return str(Lot._meta.get_field("withheld_reason").verbose_name)
    model = Growing if name.startswith("growing.") else Lot
    field: Any = model._meta.get_field(name.removeprefix("growing."))
    return str(field.verbose_name)
