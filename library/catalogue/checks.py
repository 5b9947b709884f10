"""Checks of what people type, which say in one sentence what is wrong."""

from __future__ import annotations

from collections.abc import Collection

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.core.validators import MaxLengthValidator
from django.db import models
from django.utils.translation import gettext as _

from library.errors import Refused


def tidy_line(text: str, *, field: str, longest: int | None = None) -> str:
    """The text on one line, its spaces single; Refused when nothing is left, or too much."""
    line = " ".join(_printable(text, field).split())
    if not line:
        raise Refused(_("Give a name: it is empty."), field=field)
    if longest is not None and len(line) > longest:
        raise Refused(
            _("A name has at most %(longest)s characters; this one has %(length)s.")
            % {"longest": longest, "length": len(line)},
            field=field,
        )
    return line


def tidy_text(text: str, *, field: str) -> str:
    """The text with its paragraphs kept and its line ends alike."""
    return _printable(text, field).replace("\r\n", "\n").replace("\r", "\n").strip()


def checked(row: models.Model, *, exclude: Collection[str] = ()) -> None:
    """The model's own validation as a refusal; the database's constraints stand behind it."""
    try:
        _check_text_lengths(row)
        row.full_clean(exclude=set(exclude))
    except ValidationError as error:
        field, messages = next(iter(error.message_dict.items()))
        raise Refused(messages[0], field=None if field == NON_FIELD_ERRORS else field) from None


def _check_text_lengths(row: models.Model) -> None:
    """Django keeps a TextField's length in forms only; the services are asked by others too."""
    for field in row._meta.concrete_fields:
        if isinstance(field, models.TextField) and field.max_length:
            try:
                MaxLengthValidator(field.max_length)(getattr(row, field.name))
            except ValidationError as error:
                raise ValidationError({field.name: error.messages}) from None


def _printable(text: str, field: str) -> str:
    # Neither of these can be stored: PostgreSQL refuses the one, UTF-8 the other.
    if "\x00" in text or any("\ud800" <= char <= "\udfff" for char in text):
        raise Refused(_("The text holds a character that cannot be kept."), field=field)
    return text
