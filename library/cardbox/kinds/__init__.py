"""What can be brought in: for each kind its fields, how a row is judged, written and undone."""

from __future__ import annotations

import datetime as dt

from library.cardbox.kinds.base import Field, KindOfCard, Option
from library.cardbox.kinds.loans import Loans
from library.cardbox.kinds.lots import Lots
from library.cardbox.kinds.members import Members
from library.cardbox.kinds.varieties import Varieties
from library.cardbox.models import CardImport

__all__ = ["KINDS", "Field", "KindOfCard", "Option", "kind_for"]

KINDS: dict[str, type[KindOfCard]] = {
    each.kind: each for each in (Varieties, Lots, Members, Loans)
}


def kind_for(card_import: CardImport, *, on: dt.date) -> KindOfCard:
    """Ready to judge and write rows of the import: what is known here is read once."""
    return KINDS[card_import.kind](card_import, on=on)
