"""Running numbers for lots and packets."""

from __future__ import annotations

from django.db.models import F

from library.science.codes import lot_number, packet_code
from library.stock.models import NumberSeries


def next_lot_number() -> str:
    return lot_number(_take("lot", 1))


def next_packet_codes(how_many: int) -> list[str]:
    last = _take("packet", how_many)
    return [packet_code(n) for n in range(last - how_many + 1, last + 1)]


def _take(name: str, how_many: int) -> int:
    """Take the next numbers of a series; the last one taken.

    The UPDATE holds the row until the transaction ends, so nobody else gets the same and the
    SELECT after it reads our own.
    """
    series = NumberSeries.objects.filter(name=name)
    if not series.update(last=F("last") + how_many):
        # Two first-comers may both try; the unique name leaves one row.
        NumberSeries.objects.bulk_create([NumberSeries(name=name)], ignore_conflicts=True)
        series.update(last=F("last") + how_many)
    return series.values_list("last", flat=True).get()
