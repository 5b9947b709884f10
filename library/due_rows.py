"""What is due as rows of one query, for kinds of which a library may have very many at once.

The words are put together where the rows are, out of the same translated sentence that the
items use: ``told(_("Seed of %(variety)s is due"), variety=F("…"))``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from django.db.models import CharField, Expression, F, Model, QuerySet, TextField, Value
from django.db.models.functions import Cast, Concat
from django.urls import reverse

_PLACE = re.compile(r"%\((\w+)\)s")


@dataclass(frozen=True)
class DueRows:
    """All that is due of one kind and is to be told on a day: a row of ``rows`` for each thing.

    The other fields are expressions over ``rows``, for what a ``DueItem`` holds under the same
    name. ``recipient`` is the path to the member's key and ``name`` to their chosen name; or
    ``role`` tells who answers for all of it.
    """

    kind: str
    rows: QuerySet
    subject: Expression
    due_on: Expression | F
    title: Expression
    url: Expression
    recipient: str = ""
    name: str = ""
    role: str = ""


def told(sentence: Any, **columns: Expression | F) -> Expression:
    """The sentence with each ``%(place)s`` filled from a column, as text."""
    pieces = _PLACE.split(str(sentence))
    parts: list[Expression | F] = [
        columns[piece] if number % 2 else Value(piece.replace("%%", "%"))
        for number, piece in enumerate(pieces)
    ]
    return _joined(parts)


def subject_of(model: type[Model], key: str = "pk") -> Expression:
    """``"app.Model:pk"`` of the row that ``key`` leads to."""
    return _joined([Value(f"{model._meta.label}:"), Cast(F(key), CharField())])


def address(route: str, stand_in: Any, column: str) -> Expression:
    """The route's path with the column in it. ``stand_in`` is a value the route accepts and
    that stands nowhere else in its path.
    """
    before, after = reverse(route, args=[stand_in]).split(str(stand_in))
    return _joined([Value(before), Cast(F(column), CharField()), Value(after)])


def _joined(parts: list[Expression | F]) -> Expression:
    # Concat wants two at least.
    return Concat(*parts, Value(""), Value(""), output_field=TextField())
