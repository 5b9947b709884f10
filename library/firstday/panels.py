"""What the first day adds to the home page: the offer, and the welcome."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from accounts.roles import ADMINISTER, COORDINATE, SERVE_DESK
from library.firstday import services
from library.firstday.models import WelcomeRead
from library.hooks import Panel, register_panel


@dataclass(frozen=True)
class Thing:
    """One of the three things that somebody can do here."""

    icon: str
    title: str | Promise
    words: str | Promise
    route: str

    @property
    def address(self) -> str:
        return reverse(self.route)


BORROW = Thing(
    "loan",
    _("Borrow"),
    _("Browse the varieties, choose a packet, and read how to grow it for seed."),
    "browse",
)
BRING = Thing(
    "plus",
    _("Bring seed"),
    _("Seed that you saved and can share: say what it is, and bring it to the desk."),
    "deposit-new",
)
GIVE_BACK = Thing(
    "return",
    _("Give back"),
    _("See what you have out and when its seed is due. A failed crop is no shame."),
    "my-seed",
)
DESK = Thing(
    "desk",
    _("Serve the desk"),
    _("Scan a packet; what can be done with it opens. Deposits and returns wait there too."),
    "desk",
)
TABLE = Thing(
    "people",
    _("Serve a swap table"),
    _("For a queue and a phone: lend and take back, without reception too."),
    "table",
)
BENCH = Thing(
    "bench",
    _("Watch over the seed"),
    _("What must be tested, what runs low, and who waits to be answered."),
    "bench",
)
PLAN = Thing(
    "garden",
    _("Plan grow-outs"),
    _("What is at risk of being lost, and who could grow it this season."),
    "growouts",
)
SETTINGS = Thing(
    "edit",
    _("Set the library up"),
    _("Its name, frosts and rules, and who may look in."),
    "community",
)


def register() -> None:
    register_panel("home", Panel("firstday/panel_offer.html", offer, order=1))
    register_panel("home", Panel("firstday/panel_welcome.html", welcome, order=2))


def offer(request: HttpRequest, subject: Any = None) -> dict | None:
    """To an administrator, while the library is empty or its setting up is unfinished."""
    if not request.user.has_perm(ADMINISTER) or not services.is_offered():
        return None
    known = services.standing()
    return {"left": sum(not state for state in known.values()), "count": len(known)}


def welcome(request: HttpRequest, subject: Any = None) -> dict | None:
    """To a member who has not put it away: three things to do, by their role."""
    user = request.user
    if not user.is_authenticated or not user.is_approved:
        return None
    if WelcomeRead.objects.filter(member=user).exists():
        return None
    return {"name": user.display_name, "things": things_for(user)}


def things_for(user) -> tuple[Thing, Thing, Thing]:
    if user.has_perm(ADMINISTER):
        return SETTINGS, BENCH, DESK
    if user.has_perm(COORDINATE):
        return BENCH, PLAN, DESK
    if user.has_perm(SERVE_DESK):
        return DESK, TABLE, BORROW
    return BORROW, GIVE_BACK, BRING
