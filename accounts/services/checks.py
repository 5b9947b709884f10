"""Checks that several services share."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import models
from django.utils.translation import gettext as _

from accounts import names
from accounts.frosts import FrostDates
from accounts.models import Member
from library.errors import NotAllowed, Refused


def must_hold(by: Member, permission: str) -> None:
    if not by.has_perm(permission):
        raise NotAllowed(_("Your role does not allow this. Ask a coordinator."))


def clean(row: models.Model, *, but: tuple[str, ...] = ()) -> None:
    """The model's own field rules, said as a refusal; ``but`` names fields left alone."""
    try:
        row.clean_fields(exclude=set(but))
    except ValidationError as error:
        refuse(error)


def frosts_agree(place: FrostDates) -> None:
    """What is said of the frosts at a garden or of the community fits together."""
    try:
        place.clean_frosts()
    except ValidationError as error:
        refuse(error)


def refuse(error: ValidationError) -> None:
    """The first thing that is wrong, as a refusal that knows its field."""
    if hasattr(error, "error_dict"):
        field, messages = next(iter(error.message_dict.items()))
        raise Refused(messages[0], field=field) from error
    raise Refused(error.messages[0]) from error


def free_name(name: str, *, member: Member | None = None) -> str:
    """The tidy display name, if it may be used and nobody else has it."""
    name = names.tidy(name)
    others = Member.objects.exclude(pk=member.pk) if member else Member.objects.all()
    if others.filter(display_name_key=names.name_key(name)).exists():
        raise Refused(
            _("Somebody here is already shown as “%(name)s”. Choose another name.")
            % {"name": name},
            field="display_name",
        )
    return name


def tidy_email(email: str) -> str:
    email = email.strip().lower()
    try:
        validate_email(email)
    except ValidationError as error:
        raise Refused(
            _("“%(email)s” is not an email address. Write one such as ada@example.org.")
            % {"email": email[:100]},
            field="email",
        ) from error
    return email


def checked_note(note: str) -> str:
    note = note.strip()
    if len(note) > 2000:
        raise Refused(_("The note may have at most 2000 characters."), field="note")
    return note
