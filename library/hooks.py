"""Where an upper app adds what it knows to a lower page, without being imported from below.

A lower page names a place (``"lot"``); an upper app registers a panel for it in its
``AppConfig.ready``. What is due is told the same way: each app has a module ``due`` with one
function ``due_items``, found by name. And a lower service that changes what an upper app has
computed from tells so (``tell``); the upper app follows (``follow``), in the same transaction.
And what an upper app keeps of a member is asked of it (``register_known``) when that member
wants a copy of all that is known of them.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from library.due_rows import DueRows

PanelContext = Callable[..., dict[str, Any] | None]


@dataclass(frozen=True)
class Panel:
    """A part of a page: ``template`` rendered with what ``context(request, subject)`` gives.

    A panel whose context is None is left out.
    """

    template: str
    context: PanelContext
    order: int = 100


_panels: dict[str, list[Panel]] = defaultdict(list)


def register_panel(place: str, panel: Panel) -> None:
    """Show ``panel`` at ``place``; registering it twice shows it once."""
    if panel not in _panels[place]:
        _panels[place].append(panel)


def panels_for(place: str) -> list[Panel]:
    return sorted(_panels[place], key=lambda panel: panel.order)


Follower = Callable[..., Any]

_followers: dict[str, list[Follower]] = defaultdict(list)


def follow(event: str, follower: Follower) -> None:
    """Call ``follower`` whenever a service tells of the event; registering twice calls once."""
    if follower not in _followers[event]:
        _followers[event].append(follower)


def tell(event: str, **facts: Any) -> list[str]:
    """Call whoever follows the event, at once and in the caller's transaction. What they answer
    is for the person who did it.
    """
    answers = [follower(**facts) for follower in _followers[event]]
    return [answer for answer in answers if answer]


def ask(question: str, **facts: Any) -> list[Any]:
    """What the apps above know of something; each answers through ``follow``."""
    answers = [follower(**facts) for follower in _followers[question]]
    return [answer for answer in answers if answer]


KnownOf = Callable[..., Any]

_known: dict[str, KnownOf] = {}


def register_known(name: str, known_of: KnownOf) -> None:
    """``known_of(member=…)`` is what an app keeps of a member, for that member's own copy."""
    _known[name] = known_of


def known_of_member(member: Any) -> dict[str, Any]:
    """By name what each app that registered keeps of the member."""
    return {name: known_of(member=member) for name, known_of in sorted(_known.items())}


@dataclass(frozen=True)
class DueItem:
    """One thing that is due: who should know, about what, by when, and where it can be done.

    ``recipient_id`` is a member's key, or None with ``role`` naming who answers for it
    (``"desk"`` or ``"coordinator"``). ``subject`` is ``"app.Model:pk"``.
    ``remind_on`` is the day from which a reminder is wanted (on or before ``due_on``).
    """

    kind: str
    subject: str
    due_on: dt.date
    remind_on: dt.date
    title: str
    url: str
    recipient_id: int | None = None
    role: str | None = None
    detail: str = ""


DueSource = Callable[..., Iterable[DueItem]]


@dataclass(frozen=True)
class DueKind:
    """A kind of thing that is due, declared by the app that knows of it in ``due.KINDS``.

    ``promised`` is what a member undertook: a reminder of it cannot be turned off alone. What
    is overdue for ``escalates_after`` is told to the coordinators once. ``role`` answers for it
    where it is no one person's (``"desk"``, ``"coordinator"``). ``rows(on=day)`` gives
    what is to be told on a day as rows of one query, where there may be very many of a kind;
    reminders are then planned by that, and ``due_items`` says the same of each.
    """

    name: str
    label: Any
    promised: bool = False
    escalates_after: dt.timedelta | None = None
    role: str = ""
    rows: Callable[..., DueRows] | None = None


def rows_asked(rows: Any, only: str | None) -> Any:
    """The rows that ``due_items(only="app.Model:pk")`` asks about; all where it is None."""
    if only is None:
        return rows
    label, _, key = only.partition(":")
    fits = label == rows.model._meta.label and key.isdecimal()
    return rows.filter(pk=int(key)) if fits else rows.none()
