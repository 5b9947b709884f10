"""What the stock adds to the pages of the catalogue."""

from __future__ import annotations

from typing import Any

from accounts.roles import SERVE_DESK
from library.stock.models import Lot


def lots_of_variety(request, variety) -> dict[str, Any] | None:
    """A variety's lots: those with packets on the shelf, and those without."""
    lots = Lot.objects.visible_to(request.user).of_variety(variety).with_people()
    known = list(lots.select_related("foreign"))
    rows = [lot for lot in known if not lot.is_elsewhere]
    return {
        "variety": variety,
        "on_shelf": [lot for lot in rows if lot.packed],
        "off_shelf": [lot for lot in rows if not lot.packed],
        "elsewhere": [lot for lot in known if lot.is_elsewhere],
        "jars": sum(lot.loose > 0 for lot in rows),
        "desk": request.user.has_perm(SERVE_DESK),
    }


def stock_at_the_desk(request, person=None) -> dict[str, Any] | None:
    """The way to the storage places and to counting them; not while somebody is served."""
    return {} if person is None and request.user.has_perm(SERVE_DESK) else None
