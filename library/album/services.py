"""Putting photos to a variety, a lot or a season note, and taking them away.

The desk keeps the photos of varieties; those of lots too, and whoever grew or keeps a lot adds
to it; a season note's are its author's.
"""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Member
from accounts.roles import BORROW, SERVE_DESK
from library.album.models import AttachedPhoto
from library.catalogue.models import SeasonNote, Variety
from library.errors import Conflict, NotAllowed, NotEnough
from library.photos.models import Photo
from library.photos.services import keep_photo, picture_of
from library.stock.models import Lot

MOST_PHOTOS = 12
Subject = Variety | Lot | SeasonNote
FIELDS: dict[type, str] = {Variety: "variety", Lot: "lot", SeasonNote: "note"}


def may_add_photo(*, subject: Subject, by: Any) -> bool:
    if not by.is_authenticated or not by.has_perm(BORROW):
        return False
    if isinstance(subject, SeasonNote):
        return subject.author_id == by.pk
    if by.has_perm(SERVE_DESK):
        return True
    return isinstance(subject, Lot) and by.pk in (subject.grower_id, subject.custodian_id)


def attach_photo(
    *, subject: Subject, upload: Any, by: Member, caption: str = ""
) -> AttachedPhoto:
    """Keep a photo of the subject, written anew from its pixels. Raises Refused for what is no
    picture or too large, NotEnough where there are photos enough.

    The picture is drawn before anything is locked: that takes up to a second.
    """
    _may_add(subject, by)
    picture = picture_of(upload)
    with transaction.atomic():
        model, field = type(subject), FIELDS[type(subject)]
        # Its row orders two who add at the same moment.
        model._default_manager.select_for_update(of=("self",), no_key=True).get(pk=subject.pk)
        shown = AttachedPhoto.objects.filter(**{field: subject})
        if shown.count() >= MOST_PHOTOS:
            raise NotEnough(
                _("There are %(most)s photos already; remove one first.")
                % {"most": MOST_PHOTOS},
                field="photo",
            )
        photo = keep_photo(picture=picture, by=by, caption=caption)
        return AttachedPhoto.objects.create(photo=photo, **{field: subject})


def _may_add(subject: Subject, by: Member) -> None:
    if may_add_photo(subject=subject, by=by):
        return
    if isinstance(subject, SeasonNote):
        raise NotAllowed(_("Photos are put to a season note by the member who wrote it."))
    raise NotAllowed(
        _("Photos are added at the desk; those of a lot also by who grew or keeps it.")
    )


@transaction.atomic
def remove_photo(*, attached: AttachedPhoto, by: Member) -> None:
    """Take a photo away for good."""
    if not AttachedPhoto.objects.removable_by(by).filter(pk=attached.pk).exists():
        raise NotAllowed(_("A photo is removed by who added it or by a coordinator."))
    gone, _each = Photo.objects.filter(pk=attached.photo_id).delete()
    if not gone:
        raise Conflict(_("This photo was removed a moment ago."))


def goes_with_note(*, note: SeasonNote) -> str:
    """Said of a note that is about to be removed, if it has photos: they do not come back."""
    many = AttachedPhoto.objects.filter(note=note).count()
    if not many:
        return ""
    return ngettext(
        "Its photo goes with it and cannot be put back.",
        "Its %(many)s photos go with it and cannot be put back.",
        many,
    ) % {"many": many}


def note_goes(*, note: SeasonNote) -> None:
    """A season note is removed, in its own transaction: its photos go with it."""
    Photo.objects.filter(attached__note=note).delete()
