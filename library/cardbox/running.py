"""The background work of an import: who does it, for how long, and what if they die.

All that is done is in the rows; whoever takes an import up goes on where they stand. A worker
says every batch that it lives; one that has been silent is taken to be dead.
"""

from __future__ import annotations

import datetime as dt
import logging
import threading
import time
import uuid
from collections.abc import Collection, Iterator
from typing import Any

from django.db import connection, connections
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import override

from accounts.models import Member
from library.cardbox import looking, writing
from library.cardbox.kinds import kind_for
from library.cardbox.models import CardImport
from library.errors import Refused
from library.outbox import worker as this_process

log = logging.getLogger(__name__)

SILENT_FOR = dt.timedelta(seconds=60)
MOST_TRIES = 5
# Between two batches, so that others who write get their turn. PostgreSQL lets them wait in a
# queue; who waits for SQLite asks again every tenth of a second and would miss a shorter one.
BREATH_S = {"sqlite": 0.11}
A_MOMENT_S = 1.5  # somebody waits for the page
State = CardImport.State


class _Over(Exception):
    """This process works on the import no longer."""


def claim_next(*, worker: str, here: Collection[int] = ()) -> CardImport | None:
    """Take an import that has work to do; of any number who ask, one gets it.

    ``here`` are those that this process works on already.
    """
    ready = CardImport.objects.at_work().exclude(pk__in=here).filter(_free(worker))
    for pk in ready.order_by("pk").values_list("pk", flat=True)[:20]:
        if claimed := claim(pk, worker=worker):
            return claimed
    return None


def claim(pk: int, *, worker: str) -> CardImport | None:
    """Take this import, if it has work to do and nobody is at it."""
    mine = CardImport.objects.at_work().filter(_free(worker), pk=pk)
    if not mine.update(worker=worker, heard_at=timezone.now()):
        return None
    card_import = CardImport.objects.defer("content", "sample").get(pk=pk)
    tries = card_import.trouble.get("tries", 0) + 1
    if tries > MOST_TRIES:
        _end(card_import, State.FAILED, trouble={"failed": _("Its worker died several times.")})
        return None
    CardImport.objects.filter(pk=pk).update(trouble={"tries": tries})
    return card_import


def _free(worker: str) -> Q:
    """Nobody's, or somebody's who died. What this very worker claimed and is not at is its own
    from before it was killed: only the embedded runner keeps its name.
    """
    return Q(heard_at=None) | Q(heard_at__lt=timezone.now() - SILENT_FOR) | Q(worker=worker)


def work_on(card_import: CardImport, *, seconds: float | None = None) -> bool:
    """Do the import's work, all of it or as much as fits; True when it is done.

    Never call it in a transaction.
    """
    until = None if seconds is None else time.monotonic() + seconds
    try:
        with override(_language(card_import)):
            _Work(card_import, until).run()
    except _Over:
        return False
    except Refused as refusal:
        _end(card_import, State.FAILED, trouble={"failed": str(refusal)})
    except Exception as error:
        log.exception("The card import %s failed.", card_import.pk)
        _hand_back(card_import, f"{type(error).__name__}: {error}"[:500])
        return False
    return True


def _language(card_import: CardImport) -> str | None:
    who = card_import.brought_by
    return (who.language if who else "") or None


def work_at_once(card_import: CardImport) -> None:
    """Do what fits into a moment, before the page is shown: all of it for a small file."""
    claimed = claim(card_import.pk, worker=f"page-{uuid.uuid4().hex}")
    if claimed is not None:
        work_on(claimed, seconds=A_MOMENT_S)


_here: set[int] = set()


def begin_in_background(*, worker: str) -> bool:
    """Claim an import and work on it in a thread; False when none waits."""
    card_import = claim_next(worker=worker, here=_here)
    if card_import is None:
        return False
    _here.add(card_import.pk)
    threading.Thread(
        target=_in_thread, args=[card_import], name="card box", daemon=False
    ).start()
    return True


def _in_thread(card_import: CardImport) -> None:
    try:
        work_on(card_import)
    finally:
        _here.discard(card_import.pk)
        connections.close_all()


class _Work:
    def __init__(self, card_import: CardImport, until: float | None) -> None:
        self.card_import = card_import
        self.until = until
        self.on = looking.today_of(card_import)

    def run(self) -> None:
        match self.card_import.state:
            case State.LOOKING:
                self._look()
            case State.WRITING:
                self._write()
            case State.UNDOING:
                self._undo()

    def _look(self) -> None:
        card = self.card_import
        if card.rows.count() < card.rows_in_file:
            self._follow(looking.read_rows(card))
        self._follow(looking.judge_rows(card, kind_for(card, on=self.on)))
        _end(card, State.READY)

    def _write(self) -> None:
        card = self.card_import
        by = Member.objects.get(pk=card.confirmed_by_id)
        self._follow(writing.write_rows(card, kind_for(card, on=self.on), by=by))
        _end(card, State.WRITTEN, finished_at=timezone.now(), content=None, sample=[])

    def _undo(self) -> None:
        card = self.card_import
        by = Member.objects.get(pk=card.undone_by_id)
        on = card.undone_on or timezone.localdate()
        self._follow(writing.undo_rows(card, kind_for(card, on=self.on), by=by, on=on))
        _end(card, State.UNDONE, finished_at=timezone.now())

    def _follow(self, batches: Iterator[int]) -> None:
        """Batch after batch, while nobody asks to stop and the time lasts."""
        self._check()
        for _done in batches:
            self._check(lived=True)
            time.sleep(BREATH_S.get(connection.vendor, 0.01))

    def _check(self, *, lived: bool = False) -> None:
        card = self.card_import
        ending = this_process.stopping.is_set() or not threading.main_thread().is_alive()
        if ending or (self.until is not None and time.monotonic() > self.until):
            _hand_back(card)
            raise _Over
        mine = CardImport.objects.filter(pk=card.pk, worker=card.worker, state=card.state)
        stopped = mine.filter(stop_asked_at__isnull=False)
        if stopped.exists():
            self._stop()
            raise _Over
        # A batch that went well shows that the worker does not die of this import.
        forgotten: dict[str, Any] = {"trouble": {}} if lived else {}
        if not mine.update(heard_at=timezone.now(), **forgotten):
            raise _Over  # somebody else took it, since we were silent too long

    def _stop(self) -> None:
        card = self.card_import
        if card.state != State.LOOKING:
            return _end(card, State.STOPPED, stop_asked_at=None)
        _end(card, State.LEFT, stop_asked_at=None, content=None, sample=[])
        card.rows.all().delete()
        card.questions.all().delete()
        return None


def _end(card_import: CardImport, state: str, **facts: Any) -> None:
    """Nothing more to do, if it is still ours to say so."""
    mine = CardImport.objects.filter(
        pk=card_import.pk, state=card_import.state, worker=card_import.worker
    )
    facts = {"heard_at": None, "worker": "", "trouble": {}} | facts
    mine.update(state=state, **facts)


def _hand_back(card_import: CardImport, why: str = "") -> None:
    """Another goes on with it; after something broke, a minute later."""
    mine = CardImport.objects.filter(pk=card_import.pk, worker=card_import.worker)
    if not why:
        mine.update(heard_at=None, worker="", trouble={})
        return
    mine.update(heard_at=timezone.now(), worker="", trouble={**_tries(mine), "why": why})


def _tries(rows: Any) -> dict[str, Any]:
    return dict(rows.values_list("trouble", flat=True).first() or {})
