"""Bringing in a chain that another library sent: looked at, then received or left.

Each function is one transaction. Nothing of a chain is written to the stock before its seed is
received; then the lots of the other library are written down, parents first, and the seed that
came is a deposit that is part of the newest of them.
"""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Member
from library.errors import Conflict, Refused
from library.exchange.looking import ChainSeen, Fate, LotSeen, look_at
from library.exchange.models import ChainImport
from library.exchange.prov.reading import text_of
from library.lending.services import deposit_at_desk
from library.lending.services.checks import serves_desk
from library.stock.models import Lot, LotParent
from library.stock.services import record_lot_elsewhere

State = ChainImport.State


@transaction.atomic
def preview_chain(
    *, content: bytes | str, by: Member, on: dt.date, file_name: str = ""
) -> tuple[ChainImport, ChainSeen]:
    """Keep a file that was sent, and say what would become of each of its lots.

    The same file brought in again while it waits is the same import. Raises Unreadable, with
    the line of each thing that is wrong; then nothing is kept.
    """
    serves_desk(by)
    seen = look_at(content, on=on)
    text = text_of(content)
    waiting = ChainImport.objects.filter(state=State.PREVIEW, content=text).first()
    if waiting is None:
        waiting = ChainImport.objects.create(
            content=text, file_name=_tidy_name(file_name), brought_by=by
        )
    return waiting, seen


def seen_now(chain_import: ChainImport, *, on: dt.date) -> ChainSeen:
    """What would become of the lots today; a file that waits may read otherwise than before."""
    return look_at(chain_import.content, on=on)


@transaction.atomic
def receive_chain(
    *,
    chain_import: ChainImport,
    by: Member,
    on: dt.date,
    **received: Any,
) -> Lot:
    """Write down the chain's lots that are new here, and take in the seed that came with it.

    ``received`` is what ``deposit_at_desk`` asks: seeds or grams, packing, storage place,
    depositor or source name. Raises Conflict when the import was answered already, or when
    seed of this chain was received since the file was looked at.
    """
    serves_desk(by)
    row = _held(chain_import)
    seen = look_at(row.content, on=on)
    if seen.head.here is not None and not seen.head.here.is_elsewhere:
        _check_comes_home(seen.head.here)
    head = _written(seen)
    lot = deposit_at_desk(on=on, by=by, variety=head.variety, part_of=head, **received)
    # The deposit holds the series of lot numbers until the end: whoever was first is seen now.
    _check_first(row, head, lot)
    _decide(row, State.RECEIVED, by=by, lot=lot)
    chain_import.refresh_from_db()
    return lot


@transaction.atomic
def drop_chain(*, chain_import: ChainImport, by: Member) -> ChainImport:
    """Leave a chain that was looked at: no seed came with it, or it was not wanted."""
    serves_desk(by)
    row = _held(chain_import)
    _decide(row, State.DROPPED, by=by, lot=None)
    chain_import.refresh_from_db()
    return chain_import


def _held(chain_import: ChainImport) -> ChainImport:
    row = ChainImport.objects.select_for_update(no_key=True, of=("self",)).get(
        pk=chain_import.pk
    )
    if not row.is_waiting:
        raise Conflict(
            _("This chain was answered already: it is %(state)s.")
            % {"state": row.get_state_display()},
            field="chain_import",
        )
    return row


def _written(seen: ChainSeen) -> Lot:
    """The head's row here, after every lot that is new was written down, parents first."""
    rows: dict[uuid.UUID, Lot] = {
        key: each.here for key, each in seen.lots.items() if each.here is not None
    }
    for key, each in seen.lots.items():
        if each.fate == Fate.NEW:
            rows[key] = _write_down(each, rows)
    return rows[seen.chain.head]


def _write_down(seen: LotSeen, rows: dict[uuid.UUID, Lot]) -> Lot:
    told = seen.told
    return record_lot_elsewhere(
        identifier=told.identifier,
        library=told.library,
        number=told.number,
        place=told.place,
        grower_name=told.grower_name,
        variety=seen.variety,
        origin_there=told.origin,
        on=told.received_on,
        harvest_year=told.harvest_year,
        parents=[(rows[link.parent], link.share) for link in told.parents],
        origin_region=told.region,
        origin_story=told.story,
        growing=told.growing or None,
    )


def _check_comes_home(lot: Lot) -> None:
    """Seed of our own lot came back unsown: a part of it, as any other deposit."""
    if lot.withheld_reason:
        raise Refused(
            _("Lot %(lot)s is ours and withheld; release it before more of it comes in.")
            % {"lot": lot.number}
        )


def _check_first(row: ChainImport, head: Lot, lot: Lot) -> None:
    others = LotParent.objects.filter(
        parent=head, child__came_with_chain__decided_at__gte=row.brought_at
    ).exclude(child=lot)
    other = others.select_related("child").first()
    if other is not None:
        raise Conflict(
            _(
                "Seed of this chain was received meanwhile, as lot %(lot)s. If more came, "
                "bring the file in again."
            )
            % {"lot": other.child.number},
            field="chain_import",
        )


def _decide(row: ChainImport, state: str, *, by: Member, lot: Lot | None) -> None:
    row.state, row.decided_by, row.lot = state, by, lot
    row.decided_at = timezone.now()
    row.save(update_fields=["state", "decided_by", "decided_at", "lot"])


def _tidy_name(name: str) -> str:
    """A file's name as it may be shown: printable, its beginning where it is long."""
    return "".join(char for char in str(name) if char.isprintable()).strip()[:200]
