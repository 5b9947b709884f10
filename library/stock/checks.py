"""Whether the stock still adds up: every sum computed again from the ledger, the packets and
the chain, and what does not fit named by its lot.
"""

from __future__ import annotations

from collections.abc import Iterator

from django.db import connection
from django.db.models import F, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from library.stock import guards
from library.stock.models import Lot, LotParent, Movement, Origin, Packet


def problems() -> Iterator[str]:
    """A sentence for everything that does not add up; nothing when all does."""
    yield from _balances_against_the_ledger()
    yield from _packed_against_the_packets()
    yield from _parents()
    yield from _years()
    for guard in guards.missing(connection):
        yield _("The database's guard %(name)s is not up.") % {"name": guard.name}


def _balances_against_the_ledger() -> Iterator[str]:
    lines = Movement.objects.filter(lot=OuterRef("pk")).order_by().values("lot")
    lots = Lot.objects.annotate(
        by_ledger_loose=_sum_of(lines, "loose_change"),
        by_ledger_packed=_sum_of(lines, "packed_change"),
    )
    wrong = lots.exclude(loose=F("by_ledger_loose"), packed=F("by_ledger_packed"))
    for lot in wrong.order_by("pk"):
        yield _(
            "Lot %(lot)s says %(loose)s in the jar and %(packed)s in packets; its movements "
            "sum to %(by_loose)s and %(by_packed)s."
        ) % {
            "lot": lot.number,
            "loose": lot.loose,
            "packed": lot.packed,
            "by_loose": lot.by_ledger_loose,
            "by_packed": lot.by_ledger_packed,
        }


def _packed_against_the_packets() -> Iterator[str]:
    shelf = Packet.objects.on_shelf().filter(lot=OuterRef("pk")).order_by().values("lot")
    lots = Lot.objects.annotate(on_shelf_seeds=_sum_of(shelf, "seeds"))
    for lot in lots.exclude(packed=F("on_shelf_seeds")).order_by("pk"):
        yield _(
            "Lot %(lot)s says %(packed)s in packets; its packets on the shelf hold %(seeds)s."
        ) % {"lot": lot.number, "packed": lot.packed, "seeds": lot.on_shelf_seeds}


def _parents() -> Iterator[str]:
    links = LotParent.objects.filter(child=OuterRef("pk")).order_by().values("child")
    lots = Lot.objects.annotate(
        shares=Subquery(links.annotate(total=Sum("share")).values("total"))
    )
    start = Q(origin=Origin.DEPOSIT)
    wrong = (start & Q(shares__isnull=False)) | (~start & (Q(shares=None) | ~Q(shares=1)))
    for lot in lots.filter(wrong).order_by("pk"):
        yield _("Lot %(lot)s (%(origin)s): its parents' shares sum to %(shares)s.") % {
            "lot": lot.number,
            "origin": lot.get_origin_display(),
            "shares": lot.shares or 0,
        }


def _years() -> Iterator[str]:
    late = LotParent.objects.filter(parent__harvest_year__gt=F("child__harvest_year"))
    for link in late.select_related("parent", "child").order_by("pk"):
        yield _(
            "Lot %(child)s (%(year)s) was harvested before its parent %(parent)s (%(other)s)."
        ) % {
            "child": link.child.number,
            "year": link.child.harvest_year,
            "parent": link.parent.number,
            "other": link.parent.harvest_year,
        }


def _sum_of(rows, column: str) -> Coalesce:
    return Coalesce(Subquery(rows.annotate(total=Sum(column)).values("total")), 0)
