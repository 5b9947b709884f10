"""Lots as a CSV file, a part at a time: the memory and the queries of a part are bounded."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from django.db.models import Prefetch

from accounts.models import Community
from library.exchange.mcpd.fields import BY_NAME, NAMES, Kind
from library.exchange.mcpd.rows import row_of
from library.stock.models import LotParent, Packet
from library.stock.places import PlaceTree
from library.stock.querysets import LotQuerySet

AT_ONCE = 500
# Text that a spreadsheet would take for a formula; the wide signs too, which some do.
FORMULA = tuple("=+-@\uff1d\uff0b\uff0d\uff20")
GUARD = "'"
_TEXTS = {Kind.TEXT, Kind.NAMES}


def csv_of(lots: LotQuerySet, *, community: Community) -> Iterator[str]:
    """The file's text, the header first, then the lots in the order in which they came in.

    Each part of ``AT_ONCE`` lots is read by its own few queries. Lots of other libraries are
    left out: they are not held here.
    """
    yield _lines([NAMES])
    tree, after = PlaceTree(), 0
    lots = _read_whole(lots.kept_here().order_by("pk"))
    while part := list(lots.filter(pk__gt=after)[:AT_ONCE]):
        rows = (row_of(lot, tree=tree, community=community) for lot in part)
        yield _lines([[guarded(name, row[name]) for name in NAMES] for row in rows])
        after = part[-1].pk


def guarded(name: str, value: str) -> str:
    """The value with an apostrophe before each part that a spreadsheet would calculate.

    Only text that people wrote can begin with such a sign; numbers, dates and codes are left as
    they are, and so the file keeps the format's rules. Each of several values is guarded, since
    a spreadsheet may take the semicolon for the border of a cell. Who reads the file with a
    program takes the apostrophe off where one of the signs follows.
    """
    if BY_NAME[name].kind not in _TEXTS:
        return value
    return ";".join(
        GUARD + each if each.startswith(FORMULA) else each for each in value.split(";")
    )


def _read_whole(lots: LotQuerySet) -> LotQuerySet:
    parents = LotParent.objects.select_related("parent__foreign")
    shelved = Packet.objects.on_shelf().only("lot_id", "storage_place_id").order_by("pk")
    return lots.with_variety().prefetch_related(
        "variety__names",
        Prefetch("parent_links", queryset=parents),
        Prefetch("packets", queryset=shelved),
    )


def _lines(rows: Iterable[Iterable[str]]) -> str:
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    return text.getvalue()
