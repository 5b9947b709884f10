"""Season notes: what a member saw of a variety, for the readers that member chose."""

from __future__ import annotations

import datetime as dt
from typing import cast

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Member
from accounts.roles import BORROW, COORDINATE
from library import hooks
from library import kept as keeping
from library.catalogue.checks import checked, tidy_text
from library.catalogue.models import SeasonNote, Variety
from library.errors import NotAllowed, Refused


@transaction.atomic
def write_note(
    *,
    variety: Variety,
    by: Member,
    year: int,
    text: str,
    on: dt.date,
    readers: str = SeasonNote.Readers.MEMBERS,
) -> SeasonNote:
    """Add a member's note about a season that has begun by the day ``on``."""
    if not by.has_perm(BORROW):
        raise NotAllowed(_("Season notes are written by members."))
    note = SeasonNote(variety=variety, author=by, readers=readers)
    return _write(note, year, text, on)


@transaction.atomic
def edit_note(
    *, note: SeasonNote, by: Member, on: dt.date, year: int, text: str, readers: str
) -> SeasonNote:
    """Change one's own note: nobody else's, whatever one's role."""
    if note.author_id != by.pk:
        raise NotAllowed(_("A season note is changed by the member who wrote it."))
    note.readers = readers
    return _write(note, year, text, on)


@transaction.atomic
def remove_note(*, note: SeasonNote, by: Member) -> None:
    """Remove one's own note; a coordinator may also remove a note that others read."""
    if not SeasonNote.objects.removable_by(by).filter(pk=note.pk).exists():
        raise NotAllowed(_("A season note is removed by its author or by a coordinator."))
    hooks.tell("season_note_goes", note=note)
    note.delete()


@transaction.atomic
def put_note_back(*, kept: str, by: Member) -> SeasonNote:
    """Write down again a note that ``library.kept.as_kept`` kept, as its author left it."""
    (note,) = cast(list[SeasonNote], keeping.rows_kept(kept))
    if note.author_id != by.pk and not by.has_perm(COORDINATE):
        raise NotAllowed(_("A season note is put back by its author or by a coordinator."))
    keeping.write_back([note])
    return note


def _write(note: SeasonNote, year: int, text: str, on: dt.date) -> SeasonNote:
    note.year, note.text = year, tidy_text(text, field="text")
    if not note.text:
        raise Refused(_("Write what you saw: the note is empty."), field="text")
    checked(note, exclude={"author", "variety"})
    if note.year > on.year:
        raise Refused(
            _("The season of %(year)s has not begun. Write of %(now)s or before.")
            % {"year": note.year, "now": on.year},
            field="year",
        )
    note.save()
    return note
