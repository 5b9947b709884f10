"""Gathering what is due from every app that knows of something.

An app tells it in a module ``due``, found by name: ``KINDS`` (what there is to be reminded of)
and ``due_items(*, until, only=None)``. What stays undone for long is told to the coordinators.
A kind that tells all of its things as rows of one query is planned by that query; its module's
``due_items`` can leave it out (``without``), or tell only what is one member's own (``of``).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cache, partial
from importlib import import_module
from importlib.util import find_spec
from typing import Any

from django.apps import apps
from django.db.models import DateField, DateTimeField, ExpressionWrapper, F, Value
from django.db.models.functions import Cast
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.models import Member
from accounts.roles import COORDINATE, SERVE_DESK
from library.due_rows import DueRows, told
from library.hooks import DueItem, DueKind, DueSource

# A reminder is wanted at most this long before the thing is due.
HORIZON = dt.timedelta(days=60)
PERMISSION_OF_ROLE = {"desk": SERVE_DESK, "coordinator": COORDINATE}
OVERDUE = gettext_lazy("Long overdue: %(title)s")
OVERDUE_WITH = gettext_lazy("Long overdue with %(name)s: %(title)s")
LATE = ":late"  # ends the kind of what is told to coordinators because it was not done


@cache
def modules() -> tuple[Any, ...]:
    names = [
        f"{app.name}.due" for app in apps.get_app_configs() if app.name != "library.reminders"
    ]
    return tuple(import_module(name) for name in names if find_spec(name))


def sources(
    *, without_rows: bool = False, member: Member | None = None
) -> tuple[DueSource, ...]:
    """Each app's ``due_items``. Of the kinds that may be very many, which are those that can be
    told as rows, none is told ``without_rows``, or no more than concerns ``member``.
    """
    choice: dict[str, Any] = {}
    if without_rows:
        choice = {"without": frozenset(kind.name for kind in row_kinds())}
    elif member is not None and not member.has_perm(COORDINATE):
        # Coordinators hear of what is long overdue with whomever.
        of_others = {kind.name for kind in row_kinds() if not _told_to(kind, member)}
        choice = {"without": frozenset(of_others), "of": member.pk}
    return tuple(_choosing(module, choice) for module in modules())


def _choosing(module: Any, choice: dict[str, Any]) -> DueSource:
    many = any(kind.rows for kind in module.KINDS)
    return partial(module.due_items, **choice) if many and choice else module.due_items


def row_kinds() -> tuple[DueKind, ...]:
    """The kinds that tell all that is due as rows of one query."""
    return tuple(kind for module in modules() for kind in module.KINDS if kind.rows)


def kinds() -> dict[str, DueKind]:
    """Every declared kind by its name, in the order of the apps."""
    return {kind.name: kind for module in modules() for kind in module.KINDS}


def kind_of(name: str) -> DueKind:
    """The kind; of an escalation, the one that escalated. A name unknown is its own label."""
    base = name.removesuffix(LATE)
    return kinds().get(base) or DueKind(base, base)


def all_items(
    *,
    until: dt.date,
    only: str | None = None,
    on: dt.date | None = None,
    without_rows: bool = False,
    member: Member | None = None,
) -> Iterator[DueItem]:
    """Everything that is due by ``until``, to whomever, in the active language; or of one
    subject. What is long overdue ``on`` a day (today) is there again, for the coordinators.

    With ``member`` all that concerns them is there, and not everything that does not.
    """
    on = on or timezone.localdate()
    known = kinds()
    name_of = _names()
    for due_items in sources(without_rows=without_rows, member=member):
        asked: Callable[..., Iterable[DueItem]] = due_items
        for item in asked(until=until) if only is None else asked(until=until, only=only):
            yield item
            kind = known.get(item.kind)
            late = kind and kind.escalates_after
            if late and item.role != "coordinator" and item.due_on + late <= on:
                yield _escalated(item, late, name_of)


def _escalated(item: DueItem, late: dt.timedelta, name_of: Callable[[int], str]) -> DueItem:
    on = item.due_on + late
    title = str(OVERDUE) % {"title": item.title}
    if item.recipient_id is not None:
        title = str(OVERDUE_WITH) % {"name": name_of(item.recipient_id), "title": item.title}
    return replace(
        item,
        kind=item.kind + LATE,
        due_on=on,
        remind_on=on,
        title=title,
        recipient_id=None,
        role="coordinator",
        detail=_("Ask how it stands, or close it."),
    )


def _names() -> Callable[[int], str]:
    """The chosen name of a member by key; all are read when the first is asked for."""
    known: dict[int, str] = {}

    def name_of(key: int) -> str:
        if not known:
            known.update(Member.objects.values_list("pk", "display_name"))
        return known.get(key, "")

    return name_of


def items_to_remind(*, on: dt.date, without_rows: bool = False) -> Iterator[DueItem]:
    """What a reminder is wanted for on ``on`` or was wanted for before: no night is missed."""
    items = all_items(until=on + HORIZON, on=on, without_rows=without_rows)
    return (item for item in items if item.remind_on <= on)


def rows_to_remind(*, on: dt.date) -> Iterator[DueRows]:
    """The same of the kinds that tell it as rows, and what of them is long overdue."""
    for kind in row_kinds():
        assert kind.rows is not None  # noqa: S101 (for the type checker)
        due = kind.rows(on=on)
        yield due
        if kind.escalates_after and due.role != "coordinator":
            yield _long_overdue(due, kind.escalates_after, on)


def _long_overdue(due: DueRows, late: dt.timedelta, on: dt.date) -> DueRows:
    day = Cast(ExpressionWrapper(due.due_on + Value(late), DateTimeField()), DateField())
    title = (
        told(OVERDUE_WITH, name=F(due.name), title=due.title)
        if due.recipient
        else told(OVERDUE, title=due.title)
    )
    return replace(
        due,
        kind=due.kind + LATE,
        rows=due.rows.alias(told_on=due.due_on).filter(told_on__lte=on - late),
        due_on=day,
        title=title,
        recipient="",
        role="coordinator",
    )


def concerns(item: DueItem, member: Member) -> bool:
    """Whether the item is for this member, by name or by what their role answers for."""
    if item.recipient_id is not None:
        return item.recipient_id == member.pk
    return item.role is not None and member.has_perm(PERMISSION_OF_ROLE[item.role])


def may_mute(member: Member, kind: DueKind) -> bool:
    """Whether it is a kind that they are told of and did not promise."""
    return _told_to(kind, member) and not kind.promised


def _told_to(kind: DueKind, member: Member) -> bool:
    return not kind.role or member.has_perm(PERMISSION_OF_ROLE[kind.role])


def item_now(
    *, kind: str, subject: str, due_on: dt.date, member: Member, on: dt.date
) -> DueItem | None:
    """The item as it is today, in the active language; None when it was done, moved, or is
    somebody else's. Only its subject is asked for.
    """
    until = max(due_on, on) + HORIZON
    return next(
        (
            item
            for item in all_items(until=until, only=subject, on=max(due_on, on))
            if (item.kind, item.subject, item.due_on) == (kind, subject, due_on)
            and concerns(item, member)
        ),
        None,
    )
