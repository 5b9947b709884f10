"""What a person does with a file of the card box; each function one transaction.

Files of seed are a coordinator's, files of people an administrator's. What takes long is done
by ``running``; here it is asked for.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Member
from accounts.roles import ADMINISTER, COORDINATE
from library.cardbox import columns as guessing
from library.cardbox import writing
from library.cardbox.kinds import KINDS, kind_for
from library.cardbox.models import CardImport, CardRow, Kind, NotedPerson, Question, Shape
from library.cardbox.reading import form_of, look_over, open_table
from library.cardbox.reading.safety import MOST_BYTES, checked_name, checked_size
from library.errors import Conflict, NotAllowed, Refused
from library.stock.services.checks import in_words

State, Fate = CardImport.State, CardRow.Fate
SAMPLE = 200
GIVEN_UP = (State.LEFT, State.FAILED, State.UNDONE)


def may_bring(by: Member, kind: str) -> bool:
    return by.has_perm(ADMINISTER if kind == Kind.MEMBERS else COORDINATE)


def bring_in(*, kind: str, file_name: Any, content: bytes, by: Member) -> CardImport:
    """Keep a file that was sent, and guess what its columns are. Raises Refused (NotATable)
    with a sentence for what is not taken; then nothing is kept.

    The file is read whole outside of any transaction.
    """
    if kind not in KINDS:
        raise Refused(
            _("“%(kind)s” cannot be brought in; choose one of %(known)s.")
            % {"kind": str(kind)[:40], "known": ", ".join(KINDS)},
            field="kind",
        )
    _may(by, kind)
    name = checked_name(file_name)
    table = open_table(content, form_of(name, content))
    headings, rows, count = look_over(table, sample=SAMPLE)
    sample = [[cell[:200] for cell in cells] for _number, cells in rows]
    columns = guessing.guess(kind, headings, sample)
    with transaction.atomic():
        digest = hashlib.sha256(content).hexdigest()
        _refuse_twice(kind, digest)
        return CardImport.objects.create(
            kind=kind,
            file_name=name,
            digest=digest,
            content=content,
            told=table.told,
            headings=headings,
            sample=sample,
            columns=columns,
            rows_in_file=count,
            brought_by=by,
        )


def content_of(upload: Any) -> bytes:
    """The bytes of an uploaded file, if they are not too many."""
    checked_size(upload.size)
    return upload.read(MOST_BYTES + 1)


class Twice(Conflict):
    """The same file, byte for byte, was brought in before."""

    def __init__(self, before: CardImport) -> None:
        self.before = before
        super().__init__(
            _("This very file was brought in on %(day)s and %(state)s. Go on there, or "
              "leave or undo that one first.")
            % {"day": in_words(before.brought_at.date()), "state": before.get_state_display()},
            field="file",
        )  # fmt: skip


def _refuse_twice(kind: str, digest: str) -> None:
    same = CardImport.objects.filter(kind=kind, digest=digest).exclude(state__in=GIVEN_UP)
    if before := same.first():
        raise Twice(before)


@transaction.atomic
def choose_columns(
    *,
    card_import: CardImport,
    by: Member,
    fields: Mapping[str, int],
    options: Mapping[str, bool] | None = None,
    day_first: bool | None = None,
    comma_is_decimal: bool | None = None,
) -> CardImport:
    """Say which column holds what, and how the file writes days and commas; then its rows are
    looked at. It is kept for the next file with the same headings.

    It may be said anew until the import is confirmed; what was decided of names is forgotten.
    """
    card = _held(card_import, by)
    _must_be(card, State.COLUMNS, State.READY)
    kind = KINDS[card.kind]
    known = {option.name for option in kind.options}
    chosen = {
        "fields": _checked_fields(card, fields),
        "options": {name: bool(v) for name, v in (options or {}).items() if name in known},
        "day_first": day_first,
        "comma_is_decimal": comma_is_decimal,
    }
    card.columns = {**chosen, "known": True}
    card.state, card.stop_asked_at = State.LOOKING, None
    card.save(update_fields=["columns", "state", "stop_asked_at"])
    card.questions.all().delete()
    card.rows.update(fate=Fate.UNSEEN)
    Shape.objects.update_or_create(
        kind=card.kind,
        fingerprint=guessing.fingerprint_of(card.headings),
        defaults={"columns": chosen, "saved_by": by, "saved_at": timezone.now()},
    )
    return card


def _checked_fields(card: CardImport, fields: Mapping[str, int]) -> dict[str, int]:
    kind = KINDS[card.kind]
    names = {field.name for field in kind.fields}
    chosen: dict[str, int] = {}
    for name, place in fields.items():
        if name not in names or place not in range(len(card.headings)):
            raise Refused(_("There is no such column in the file."), field=str(name)[:40])
        if place in chosen.values():
            raise Refused(
                _("The column “%(column)s” is chosen twice; each can hold one thing.")
                % {"column": card.headings[place]},
                field=name,
            )
        chosen[name] = place
    for field in kind.fields:
        if field.required and field.name not in chosen:
            raise Refused(
                _("Say which column holds this; without it no row can be taken in."),
                field=field.name,
            )
    return chosen


@transaction.atomic
def answer_questions(
    *, card_import: CardImport, answers: Mapping[int, str], by: Member
) -> CardImport:
    """Decide what was unclear, by question, for every row that asks it; those rows are looked
    at again. An answer may be changed until the import is confirmed.
    """
    card = _held(card_import, by)
    _must_be(card, State.READY)
    questions = list(card.questions.filter(pk__in=list(answers)))
    if len(questions) < len(answers):
        raise Refused(_("That is no question of this file."), field="answers")
    changed = any(question.answer for question in questions)
    for question in questions:
        if answers[question.pk] not in {value for value, _words in question.options}:
            raise Refused(
                _("“%(asked)s” Choose one of the answers.") % {"asked": question.asked},
                field="answers",
            )
        question.answer, question.answered_by = answers[question.pk], by
    Question.objects.bulk_update(questions, ["answer", "answered_by"])
    # A row that was decided before does not say by which question: then all are looked at.
    rows = card.rows.all() if changed else card.rows.filter(question__in=questions)
    if rows.update(fate=Fate.UNSEEN):
        card.state = State.LOOKING
        card.save(update_fields=["state"])
    return card


@transaction.atomic
def confirm(*, card_import: CardImport, by: Member, on: dt.date) -> CardImport:
    """Say yes: what is new is written in the background. Nothing was written before."""
    card = _held(card_import, by)
    _must_be(card, State.READY, State.STOPPED)
    fates = card.rows.by_fate()
    if unclear := fates.get(Fate.UNCLEAR):
        raise Refused(
            _("%(n)s rows are still unclear; decide them, or leave them out.") % {"n": unclear}
        )
    if not fates.get(Fate.NEW):
        raise Refused(_("No row of this file is new; there is nothing to write."))
    if card.confirmed_at is None:
        card.confirmed_by, card.confirmed_at, card.confirmed_on = by, timezone.now(), on
    card.state, card.stop_asked_at = State.WRITING, None
    card.save(
        update_fields=["state", "stop_asked_at", "confirmed_by", "confirmed_at", "confirmed_on"]
    )
    return card


@transaction.atomic
def stop(*, card_import: CardImport, by: Member) -> CardImport:
    """Leave a file of which nothing is written; stop one that is at work, after its batch.

    What a writing import wrote until then stays, and it can go on or be undone.
    """
    card = _held(card_import, by)
    _must_be(card, State.COLUMNS, State.LOOKING, State.READY, State.WRITING, State.UNDOING)
    if card.is_at_work and card.heard_at is not None:
        card.stop_asked_at = timezone.now()
        card.save(update_fields=["stop_asked_at"])
        return card
    if card.state in (State.WRITING, State.UNDOING):
        card.state = State.STOPPED
        card.save(update_fields=["state"])
        return card
    return _leave(card)


def _leave(card: CardImport) -> CardImport:
    card.state, card.content, card.sample = State.LEFT, None, []
    card.finished_at = timezone.now()
    card.save(update_fields=["state", "content", "sample", "finished_at"])
    card.rows.all().delete()
    card.questions.all().delete()
    return card


def undo(*, card_import: CardImport, by: Member, on: dt.date) -> CardImport:
    """Have all that the import wrote taken back in the background, by contrary movements where
    there is seed. Raises Conflict that names what was built on it; then nothing is undone.

    What is built between this look and the undoing of its row keeps that row.
    """
    _may(by, card_import.kind)
    if built := writing.what_rests_on(card_import, kind_for(card_import, on=on), most=5):
        raise Conflict(
            _("This import cannot be undone, since something was built on it. %(built)s")
            % {"built": "; ".join(built)}
        )
    with transaction.atomic():
        card = _held(card_import, by)
        _must_be(card, State.WRITTEN, State.STOPPED)
        card.state, card.undone_by, card.undone_on = State.UNDOING, by, on
        card.stop_asked_at = None
        card.save(update_fields=["state", "undone_by", "undone_on", "stop_asked_at"])
        return card


@transaction.atomic
def forget_noted(*, person: NotedPerson, by: Member) -> None:
    """Forget somebody who was noted without an account."""
    _may(by, Kind.MEMBERS)
    person.delete()


def _may(by: Member, kind: str) -> None:
    if not may_bring(by, kind):
        raise NotAllowed(_("People are brought in by administrators, seed by coordinators."))


def _held(card_import: CardImport, by: Member) -> CardImport:
    rows = CardImport.objects.select_for_update(of=("self",), no_key=True)
    card = rows.defer("content").get(pk=card_import.pk)
    _may(by, card.kind)
    return card


def _must_be(card: CardImport, *states: str) -> None:
    if card.state not in states:
        raise Conflict(
            _("This file %(state)s; that cannot be done now.")
            % {"state": card.get_state_display()}
        )
