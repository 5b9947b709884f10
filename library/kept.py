"""Rows that were taken away, kept as text so that they can come back as they were."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.core import serializers
from django.core.exceptions import ValidationError
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models, transaction
from django.utils.translation import gettext as _

from library.errors import Conflict


class ToTheMicrosecond(DjangoJSONEncoder):
    """Django's own cuts moments off at a thousandth of a second."""

    def default(self, o: Any) -> Any:
        return o.isoformat() if isinstance(o, dt.datetime) else super().default(o)


def as_kept(rows: Iterable[models.Model]) -> str:
    """The rows as text, what others hang on first."""
    return serializers.serialize("json", rows, cls=ToTheMicrosecond)


def rows_kept(kept: str) -> list[models.Model]:
    """What ``as_kept`` told, not written down yet."""
    return [row.object for row in serializers.deserialize("json", kept)]


@transaction.atomic
def write_back(rows: Iterable[models.Model]) -> None:
    """Write the rows down again with the same numbers, all or none.

    Raises Conflict where their place is taken by now, or what they name is gone. Who may do so
    is the caller's to say.
    """
    try:
        for row in rows:
            row.full_clean()
            row.save(force_insert=True)
    except ValidationError as error:
        raise Conflict(_("Its place is taken by now; it was not put back.")) from error
