"""Reports of off-types, and the lots to which they are carried.

A report goes to everything grown from its lot. Where a descendant was cleared, it goes no
further on the ways through that descendant; the other ways still carry it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db import connection

from library.provenance import warning_words
from library.provenance.chain import Chain
from library.provenance.models import OffTypeClearance, OffTypeReport
from library.provenance.walking import Link, ancestors_of
from library.stock.models import Lot

# What each lot carries: the reports by their keys, and by how much of it each came.
Carried = Mapping[int, Mapping[int, float]]

# The links above several lots at once; see ``walking`` for those above one.
_ABOVE = """
WITH RECURSIVE walked(child, parent, share) AS (
    SELECT child_id, parent_id, share FROM stock_lotparent WHERE child_id IN ({lots})
    UNION
    SELECT link.child_id, link.parent_id, link.share
    FROM stock_lotparent link JOIN walked ON link.child_id = walked.parent
)
SELECT child, parent, share FROM walked
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
    """The reports that stand against the lot or are carried to it, the largest share first.

    Two queries, and a third where there are reports.
    """
    links = ancestors_of(lot).links
    return _told(lot, *_carried(links, {lot.pk}))


def warnings_of_lots(lots: Collection[Lot]) -> Mapping[int, list[CarriedWarning]]:
    """The same for several lots at once, in as many queries; lots without any are left out."""
    links = _links_above([lot.pk for lot in lots])
    reports, carried = _carried(links, {lot.pk for lot in lots})
    told = {lot.pk: _told(lot, reports, carried) for lot in lots}
    return {pk: warnings for pk, warnings in told.items() if warnings}


def warnings_in(chain: Chain) -> Mapping[int, list[OffTypeReport]]:
    """Which lots of a chain carry which standing reports, by the lots' keys.

    Three queries at most; of a chain of descendants also those from lots outside it.
    """
    links = chain.walk.links
    if not links or chain.lot.pk != max(chain.lots):  # a chain of ancestors is whole
        links = _links_above(chain.lots)
    reports, carried = _carried(links, set(chain.lots))
    return {
        pk: [reports[key] for key in sorted(carried[pk])]
        for pk in chain.lots
        if carried.get(pk)
    }


def _told(
    lot: Lot, reports: Mapping[int, OffTypeReport], carried: Carried
) -> list[CarriedWarning]:
    warnings = [
        CarriedWarning(reports[key], min(share, 1.0), own=reports[key].lot_id == lot.pk)
        for key, share in carried.get(lot.pk, {}).items()
    ]
    return sorted(warnings, key=lambda w: (not w.own, -w.share, w.report.pk))


def _carried(
    links: Iterable[Link], lots: set[int]
) -> tuple[Mapping[int, OffTypeReport], Carried]:
    """The standing reports along the links, and what every lot carries of them."""
    links = sorted(links, key=lambda link: (link.parent, link.child))
    keys = lots | {link.parent for link in links}
    rows = OffTypeReport.objects.standing().with_people().select_related("lot")
    reports = {report.pk: report for report in rows.filter(lot__in=keys)}
    if not reports:
        return {}, {}
    cleared = set(
        OffTypeClearance.objects.filter(report__in=reports).values_list("report", "lot")
    )
    carried: dict[int, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    for report in reports.values():
        carried[report.lot_id][report.pk] = 1.0
    # A parent is always an older row: what a lot carries is whole when its first child comes.
    for link in links:
        for key, share in carried.get(link.parent, {}).items():
            if (key, link.child) not in cleared:
                carried[link.child][key] += share * link.share
    return reports, carried


def _links_above(lots: Iterable[int]) -> tuple[Link, ...]:
    keys = list(lots)
    if not keys:
        return ()
    statement = _ABOVE.format(lots=", ".join(["%s"] * len(keys)))
    with connection.cursor() as cursor:
        cursor.execute(statement, keys)
        return tuple(Link(child, parent, float(share)) for child, parent, share in cursor)
