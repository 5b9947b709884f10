"""Reports of off-types, and the lots to which they are carried.

A report goes to everything grown from its lot. Where a descendant was cleared, it goes no
further on the ways through that descendant; the other ways still carry it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.db.models import Q
from django.db.models.expressions import RawSQL

from library.provenance import warning_words
from library.provenance.chain import Chain
from library.provenance.models import OffTypeClearance, OffTypeReport
from library.provenance.walking import Link
from library.stock.models import Lot

Reports = Mapping[int, OffTypeReport]  # by their keys
# What each lot carries: the reports by their keys, and by how much of it each came.
Carried = Mapping[int, Mapping[int, float]]

# The links above several lots at once; see ``walking`` for those above one.
_LINKS_ABOVE = """
WITH RECURSIVE walked(child, parent, share) AS (
    SELECT child_id, parent_id, share FROM stock_lotparent WHERE child_id IN ({lots})
    UNION
    SELECT link.child_id, link.parent_id, link.share
    FROM stock_lotparent link JOIN walked ON link.child_id = walked.parent
)
SELECT child, parent, share FROM walked
"""
_LOTS_ABOVE = """
WITH RECURSIVE walked(lot) AS (
    SELECT parent_id FROM stock_lotparent WHERE child_id IN ({lots})
    UNION
    SELECT link.parent_id FROM stock_lotparent link JOIN walked ON link.child_id = walked.lot
)
SELECT lot FROM walked
"""


@dataclass(frozen=True)
class CarriedWarning:
    """A standing report about a lot itself (``own``) or carried to it from an ancestor.

    ``share`` is the part of the lot, 0 to 1, that came from the reported one by ways that
    nobody cleared.
    """

    report: OffTypeReport
    share: float
    own: bool

    @property
    def sentence(self) -> str:
        """In words, for the pages and for whoever borrows the lot."""
        return warning_words.sentence(self)


def warnings_of(lot: Lot) -> list[CarriedWarning]:
    """The reports that stand against the lot or are carried to it: its own first, then those
    of the greatest share.

    One query, and two more where there are reports.
    """
    return warnings_of_lots([lot]).get(lot.pk, [])


def warnings_of_lots(lots: Collection[Lot]) -> dict[int, list[CarriedWarning]]:
    """The same for several lots at once, in as many queries; lots without any are left out."""
    keys = [lot.pk for lot in lots]
    reports = _standing_above(keys)
    if not reports:
        return {}
    carried = _carried(_links_above(keys), reports)
    told = {lot.pk: _told(lot, reports, carried) for lot in lots}
    return {pk: warnings for pk, warnings in told.items() if warnings}


def warnings_in(chain: Chain) -> Mapping[int, list[OffTypeReport]]:
    """Which lots of a chain carry which standing reports, by the lots' keys.

    Three queries at most; of a chain of descendants also those from lots outside it.
    """
    links: Iterable[Link] = chain.walk.links
    if links and chain.lot.pk == max(chain.lots):  # a chain of ancestors is whole
        reports = _standing(lot__in=list(chain.lots))
    else:
        reports = _standing_above(list(chain.lots))
        links = _links_above(list(chain.lots)) if reports else ()
    carried = _carried(links, reports) if reports else {}
    return {
        pk: [reports[key] for key in sorted(carried[pk])]
        for pk in chain.lots
        if carried.get(pk)
    }


def _told(lot: Lot, reports: Reports, carried: Carried) -> list[CarriedWarning]:
    warnings = [
        CarriedWarning(reports[key], min(share, 1.0), own=reports[key].lot_id == lot.pk)
        for key, share in carried.get(lot.pk, {}).items()
    ]
    return sorted(warnings, key=lambda w: (not w.own, -w.share, w.report.pk))


def _standing(*wanted: Q, **where: Any) -> Reports:
    rows = OffTypeReport.objects.standing().with_people().select_related("lot")
    return {report.pk: report for report in rows.filter(*wanted, **where)}


def _standing_above(keys: Sequence[int]) -> Reports:
    """The reports that stand against the lots or against what went into them."""
    if not keys:
        return {}
    above = RawSQL(_LOTS_ABOVE.format(lots=_marks(keys)), keys)  # noqa: S611
    return _standing(Q(lot__in=keys) | Q(lot__in=above))


def _links_above(keys: Sequence[int]) -> tuple[Link, ...]:
    with connection.cursor() as cursor:
        cursor.execute(_LINKS_ABOVE.format(lots=_marks(keys)), keys)
        return tuple(Link(child, parent, float(share)) for child, parent, share in cursor)


def _marks(keys: Sequence[int]) -> str:
    return ", ".join(["%s"] * len(keys))


def _carried(links: Iterable[Link], reports: Reports) -> Carried:
    """What every lot carries of the reports, along the links; one query."""
    cleared = set(
        OffTypeClearance.objects.filter(report__in=reports).values_list("report", "lot")
    )
    carried: dict[int, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    for report in reports.values():
        carried[report.lot_id][report.pk] = 1.0
    # A parent is always an older row: what a lot carries is whole when its first child comes.
    for link in sorted(links, key=lambda link: link.parent):
        for key, share in carried.get(link.parent, {}).items():
            if (key, link.child) not in cleared:
                carried[link.child][key] += share * link.share
    return carried
