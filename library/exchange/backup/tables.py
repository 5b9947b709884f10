"""Which tables a backup holds, and a row of one as a line of JSON.

Rows are written by Django's own serializer with their keys, times to the microsecond and bytes
in base64, so that a row that is written, restored and written again is the same line.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.core import serializers
from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Model

AT_ONCE = 500

# Made anew by ``migrate``, by signing in, or of no use elsewhere.
NOT_KEPT = frozenset({"admin", "auth", "contenttypes", "sessions"})


class Exact(DjangoJSONEncoder):
    """Django's encoder cuts times to milliseconds."""

    def default(self, o: Any) -> Any:
        return o.isoformat() if hasattr(o, "isoformat") else super().default(o)


@dataclass(frozen=True)
class Digest:
    """How many rows a table has, and the SHA-256 of their lines in the order of their keys."""

    rows: int
    sha256: str


def kept_models() -> list[type[Model]]:
    """Every table of ours, those between two others too, in the order of their names."""
    models = apps.get_models(include_auto_created=True)
    kept = [m for m in models if m._meta.managed and not m._meta.proxy and _is_ours(m)]
    return sorted(kept, key=lambda model: model._meta.label_lower)


def _is_ours(model: type[Model]) -> bool:
    """Not of ``NOT_KEPT``, and not a link to one of those."""
    if model._meta.app_label in NOT_KEPT:
        return False
    targets = [
        field.related_model for field in model._meta.concrete_fields if field.is_relation
    ]
    return not any(
        target._meta.app_label in NOT_KEPT
        for target in targets
        if isinstance(target, type) and issubclass(target, Model)
    )


def lines_of(model: type[Model]) -> Iterator[str]:
    """Each row as a line, by key; ``AT_ONCE`` rows are in memory at a time."""
    fields = [field.name for field in model._meta.concrete_fields if not field.generated]
    rows = model._base_manager.order_by("pk").iterator(chunk_size=AT_ONCE)
    for row in rows:
        text = io.StringIO()
        serializers.serialize("jsonl", [row], stream=text, fields=fields, cls=Exact)
        yield text.getvalue()


def rows_from(model: type[Model], lines: Iterable[str]) -> Iterator[Model]:
    """The rows that the lines tell of, not saved.

    ValueError: a line is no row of this table.
    """
    try:
        for told in serializers.deserialize("jsonl", lines):
            if not isinstance(told.object, model):
                raise ValueError(f"a row of {told.object._meta.label}")
            yield told.object
    except serializers.base.DeserializationError as error:
        raise ValueError(str(error)) from error


def digest_of(lines: Iterable[str]) -> Digest:
    rows, sha256 = 0, hashlib.sha256()
    for line in lines:
        rows += 1
        sha256.update(line.encode())
    return Digest(rows, sha256.hexdigest())
