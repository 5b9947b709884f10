"""Gathering what is due from every app that knows of something.

An app tells it in a module ``due`` with one function ``due_items(*, until)``, found by name.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from importlib.util import find_spec

from django.apps import apps

from accounts.models import Member
from accounts.roles import COORDINATE, SERVE_DESK
from library.hooks import DueItem, DueSource

# A reminder is wanted at most this long before the thing is due.
HORIZON = dt.timedelta(days=60)

PERMISSION_OF_ROLE = {"desk": SERVE_DESK, "coordinator": COORDINATE}


@cache
def sources() -> tuple[DueSource, ...]:
    names = [
        f"{app.name}.due" for app in apps.get_app_configs() if app.name != "library.reminders"
    ]
    return tuple(import_module(name).due_items for name in names if find_spec(name))


def all_items(*, until: dt.date) -> Iterator[DueItem]:
    """Everything that is due by ``until``, to whomever, in the active language."""
    for due_items in sources():
        yield from due_items(until=until)


def items_to_remind(*, on: dt.date) -> Iterator[DueItem]:
    """What a reminder is wanted for on ``on`` or was wanted for before: no night is missed."""
    return (item for item in all_items(until=on + HORIZON) if item.remind_on <= on)


def concerns(item: DueItem, member: Member) -> bool:
    """Whether the item is for this member, by name or by what their role answers for."""
    if item.recipient_id is not None:
        return item.recipient_id == member.pk
    return item.role is not None and member.has_perm(PERMISSION_OF_ROLE[item.role])
