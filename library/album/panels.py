"""The photos on the pages of varieties, lots and season notes."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from library.album.models import AttachedPhoto
from library.album.services import may_add_photo
from library.catalogue.models import SeasonNote, Variety
from library.hooks import Panel, register_panel
from library.stock.models import Lot


def register() -> None:
    register_panel("variety", Panel("album/panel.html", photos_of_variety, order=60))
    register_panel("lot", Panel("album/panel.html", photos_of_lot, order=60))
    register_panel("season_note", Panel("album/note_panel.html", photos_of_note))


def photos_of_variety(request: HttpRequest, variety: Variety) -> dict[str, Any] | None:
    return _shown(request, variety, list(_photos(request).filter(variety=variety)))


def photos_of_lot(request: HttpRequest, lot: Lot) -> dict[str, Any] | None:
    return _shown(request, lot, list(_photos(request).filter(lot=lot)))


def photos_of_note(request: HttpRequest, note: SeasonNote) -> dict[str, Any] | None:
    """All notes of a variety are asked for at once: a page shows many."""
    held: dict[int, list[AttachedPhoto]] | None = getattr(request, "photos_of_notes", None)
    if held is None:
        held = {}
        for each in _photos(request).filter(note__variety=note.variety_id):
            held.setdefault(each.note_id or 0, []).append(each)
        request.photos_of_notes = held  # type: ignore[attr-defined]
    return _shown(request, note, held.get(note.pk, []))


def _photos(request: HttpRequest) -> Any:
    return AttachedPhoto.objects.visible_to(request.user).with_details()


def _shown(request: HttpRequest, subject: Any, photos: list[Any]) -> dict[str, Any] | None:
    may_add = may_add_photo(subject=subject, by=request.user)
    if not photos and not may_add:
        return None
    user: Any = request.user
    for each in photos:
        each.may_go = user.is_authenticated and (
            each.photo.added_by_id == user.pk
            or user.has_perm("accounts.coordinate")
            or (each.note is not None and each.note.author_id == user.pk)
        )
    return {"photos": photos, "may_add": may_add, "subject": subject, "add_to": add_to(subject)}


def add_to(subject: Any) -> str:
    from django.urls import reverse

    if isinstance(subject, Lot):
        return reverse("album-add-lot", args=[subject.pk])
    if isinstance(subject, Variety):
        return reverse("album-add-variety", args=[subject.pk])
    return reverse("album-add-note", args=[subject.pk])
