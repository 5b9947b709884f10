"""Gathering what is due from every app that knows of something.

An app tells it in a module ``due``, found by name: ``KINDS`` (what there is to be reminded of)
and ``due_items(*, until, only=None)``. What stays undone for long is told to the coordinators.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from typing import Any

from django.apps import apps
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Member
from accounts.roles import COORDINATE, SERVE_DESK
from library.hooks import DueItem, DueKind, DueSource

# A reminder is wanted at most this long before the thing is due.
HORIZON = dt.timedelta(days=60)
PERMISSION_OF_ROLE = {"desk": SERVE_DESK, "coordinator": COORDINATE}
LATE = ":late"  # ends the kind of what is told to coordinators because it was not done


@cache
def modules() -> tuple[Any, ...]:
    names = [
        f"{app.name}.due" for app in apps.get_app_configs() if app.name != "library.reminders"
    ]
    return tuple(import_module(name) for name in names if find_spec(name))


def sources() -> tuple[DueSource, ...]:
    return tuple(module.due_items for module in modules())


def kinds() -> dict[str, DueKind]:
    """Every declared kind by its name, in the order of the apps."""
    return {kind.name: kind for module in modules() for kind in module.KINDS}


def kind_of(name: str) -> DueKind:
    """The kind; of an escalation, the one that escalated. A name unknown is its own label."""
    base = name.removesuffix(LATE)
    return kinds().get(base) or DueKind(base, base)


def all_items(
    *, until: dt.date, only: str | None = None, on: dt.date | None = None
) -> Iterator[DueItem]:
    """Everything that is due by ``until``, to whomever, in the active language; or of one
    subject. What is long overdue ``on`` a day (today) is there again, for the coordinators.
    """
    on = on or timezone.localdate()
    known = kinds()
    name_of = _names()
    for due_items in sources():
        asked: Callable[..., Iterable[DueItem]] = due_items
        for item in asked(until=until) if only is None else asked(until=until, only=only):
            yield item
            kind = known.get(item.kind)
            late = kind and kind.escalates_after
            if late and item.role != "coordinator" and item.due_on + late <= on:
                yield _escalated(item, late, name_of)


def _escalated(item: DueItem, late: dt.timedelta, name_of: Callable[[int], str]) -> DueItem:
    on = item.due_on + late
    told = _("Long overdue: %(title)s") % {"title": item.title}
    if item.recipient_id is not None:
        told = _("Long overdue with %(name)s: %(title)s") % {
            "name": name_of(item.recipient_id),
            "title": item.title,
        }
    return replace(
        item,
        kind=item.kind + LATE,
        due_on=on,
        remind_on=on,
        title=told,
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


def items_to_remind(*, on: dt.date) -> Iterator[DueItem]:
    """What a reminder is wanted for on ``on`` or was wanted for before: no night is missed."""
    return (item for item in all_items(until=on + HORIZON, on=on) if item.remind_on <= on)


def concerns(item: DueItem, member: Member) -> bool:
    """Whether the item is for this member, by name or by what their role answers for."""
    if item.recipient_id is not None:
        return item.recipient_id == member.pk
    return item.role is not None and member.has_perm(PERMISSION_OF_ROLE[item.role])


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
