"""Where an upper app adds what it knows to a lower page, without being imported from below.

A lower page names a place (``"lot"``); an upper app registers a panel for it in its
``AppConfig.ready``. What is due is told the same way: each app has a module ``due`` with one
function ``due_items``, found by name.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

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
