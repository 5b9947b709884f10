"""Whether the stock still adds up: every sum computed again from the ledger, the packets and
the chain, and what does not fit named by its lot.
"""

from __future__ import annotations

from collections.abc import Iterator

from django.db import connection
from django.db.models import Count, F, FloatField, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Cast, Coalesce
from django.utils.translation import gettext as _

from library.stock import guards
from library.stock.models import Lot, LotParent, Movement, Origin, Packet

_HALF_A_MILLIONTH = 0.5e-6  # shares are kept in millionths


def problems() -> Iterator[str]:
    """A sentence for everything that does not add up; nothing when all does."""
    yield from _balances_against_the_ledger()
    yield from _packed_against_the_packets()
    yield from _parents()
    yield from _links_to_newer_rows()
    yield from _elsewhere()
    yield from _years()
    yield from _years_across_unknown()
    yield from _years_of_receipt()
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
    total = Subquery(links.annotate(total=Sum("share")).values("total"))
    # SQLite adds decimals as floats: three parts of a third come out beside 1 there.
    lots = Lot.objects.annotate(shares=Cast(total, FloatField()))
    off = Q(shares__lt=1 - _HALF_A_MILLIONTH) | Q(shares__gt=1 + _HALF_A_MILLIONTH)
    # A deposit has no parent, or is a part of one lot that is known.
    start = Q(origin=Origin.DEPOSIT) | Q(foreign__origin_there=Origin.DEPOSIT)
    wrong = off | (~start & Q(shares=None))
    for lot in lots.filter(wrong).order_by("pk"):
        yield _("Lot %(lot)s (%(origin)s): its parents' shares sum to %(shares)s.") % {
            "lot": lot.number,
            "origin": lot.get_origin_display(),
            "shares": f"{lot.shares or 0:.6g}",
        }
    several = lots.filter(start).annotate(n=Count("parent_links")).filter(n__gt=1)
    for lot in several.order_by("pk"):
        yield _("Lot %(lot)s is a deposit and has %(n)s parents.") % {
            "lot": lot.number,
            "n": lot.n,
        }


def _elsewhere() -> Iterator[str]:
    """A lot of another library says whose it was; no other lot does."""
    there = Q(origin=Origin.ELSEWHERE)
    wrong = (there & Q(foreign=None)) | (~there & Q(foreign__isnull=False))
    for lot in Lot.objects.filter(wrong).order_by("pk"):
        yield _("Lot %(lot)s (%(origin)s): which library kept it does not fit.") % {
            "lot": lot.number,
            "origin": lot.get_origin_display(),
        }


def _links_to_newer_rows() -> Iterator[str]:
    """Rows that a constraint refuses; found here where somebody lifted it."""
    turned = LotParent.objects.filter(parent__gte=F("child"))
    for link in turned.select_related("parent", "child").order_by("pk"):
        yield _("Lot %(child)s has as its parent %(parent)s, which is not an older row.") % {
            "child": link.child.number,
            "parent": link.parent.number,
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


def _years_across_unknown() -> Iterator[str]:
    """The same over lots whose year nobody knows: the latest year known above each."""
    unknown = Q(parent__harvest_year=None) | Q(child__harvest_year=None)
    links = (
        LotParent.objects.filter(unknown)
        .order_by("child_id", "parent_id")
        .values_list(
            "parent_id",
            "child_id",
            "parent__harvest_year",
            "child__harvest_year",
            "child__number",
        )
    )
    latest: dict[int, int] = {}
    for parent, child, parent_year, year, number in links.iterator():
        above = latest.get(parent) if parent_year is None else parent_year
        if above is None:
            continue
        if year is None:
            latest[child] = max(above, latest.get(child, above))
        elif above > year:
            yield _(
                "Lot %(child)s (%(year)s) was harvested before a lot that it goes back to "
                "(%(other)s)."
            ) % {"child": number, "year": year, "other": above}


def _years_of_receipt() -> Iterator[str]:
    late = Lot.objects.filter(harvest_year__gt=F("received_on__year"))
    for lot in late.order_by("pk"):
        yield _("Lot %(lot)s (%(year)s) was received before it was harvested.") % {
            "lot": lot.number,
            "year": lot.harvest_year,
        }


def _sum_of(rows, column: str) -> Coalesce:
    return Coalesce(Subquery(rows.annotate(total=Sum(column)).values("total")), 0)
