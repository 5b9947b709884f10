"""What a change in the stock means for the bench: the lot's estimate and its test day are set
anew.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

from django.db import transaction
from django.db.models import Q
from django.utils.translation import ngettext

from library import hooks
from library.germination.dates import settle
from library.stock.models import Lot

MOST_AT_ONCE = 50  # about a second; the daily job sees to more


def follow_the_stock() -> None:
    """Called once, when the app is ready."""
    hooks.follow("lot_kept_elsewhere", resettle)
    hooks.follow("lot_amended", resettle)
    hooks.follow("lots_bulked", resettle)
    hooks.follow("storage_climate_changed", resettle_places)


def resettle(*, lot: Lot) -> None:
    """A lot was moved or made by bulking, or its age or moisture amended: in the transaction
    that did it.
    """
    settle(lot)


def resettle_places(*, places: Iterable[int]) -> str | None:
    """The climate of places was changed: after that is kept, a few lots at once, more by the
    daily job. Says which.
    """
    lay_there = Q(storage_place__in=places) | Q(keepings__storage_place__in=places)
    lots = Lot.objects.with_seed().filter(lay_there).order_by("pk").distinct()
    keys = list(lots.values_list("pk", flat=True)[: MOST_AT_ONCE + 1])
    if not keys:
        return None
    if len(keys) > MOST_AT_ONCE:
        return ngettext(
            "%(n)s lot lay there: its estimate and its test day follow within a day.",
            "%(n)s lots lay there: their estimates and test days follow within a day.",
            count := lots.count(),
        ) % {"n": count}
    # What fails here is set right by the daily job; the new climate is kept already.
    transaction.on_commit(partial(_each, keys), robust=True)
    return ngettext(
        "The estimate and the test day of %(n)s lot are made anew.",
        "The estimates and the test days of %(n)s lots are made anew.",
        len(keys),
    ) % {"n": len(keys)}


def _each(keys: list[int]) -> None:
    for lot in Lot.objects.filter(pk__in=keys).order_by("pk"):
        with transaction.atomic():
            settle(lot)
