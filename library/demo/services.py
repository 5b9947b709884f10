"""The demo community, made by living through its years with the services that people use."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from django.db import connection, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Community, Member
from library.catalogue.models import Variety
from library.catalogue.services import load_reference
from library.demo import (
    chains,
    clones,
    dates,
    deposits,
    keeping,
    loans,
    people,
    places,
    seasons,
    sill,
    stories,
)
from library.demo import (
    today as last_day,
)
from library.demo.people import SignIn
from library.demo.world import World
from library.errors import Refused
from library.germination.dates import as_of
from library.germination.recompute import recompute
from library.outbox.models import Message
from library.reminders.services import plan_reminders
from library.stock.models import Lot

__all__ = ["SignIn", "fill"]

# What fell due before was said at the time; the first evening begins with a few mails, not with
# eight years of them.
REMINDED_UNTIL = dt.timedelta(days=3)

Progress = Callable[[str], None]


def fill(*, today: dt.date | None = None, progress: Progress | None = None) -> list[SignIn]:
    """Make Tarn Hollow Seed Library in an empty database, and say who can sign in.

    Eight seasons end with the year before ``today``; the same ``today`` makes the same
    community. It is one transaction: killed half-way, the database is as empty as before.
    ``progress`` is told in words what is being done.
    """
    tell = progress or (lambda _sentence: None)
    today = today or timezone.localdate()
    if today > timezone.localdate():
        raise Refused(_("The demo ends today or earlier, not on %(day)s.") % {"day": today})
    with transaction.atomic():
        _refuse_if_lived_in()
        tell(_("Reading the reference data"))
        load_reference()
        world = World(today)
        tell(_("Settling the valley"))
        _begin(world)
        world.diary.live(_look_up(world, tell))
        tell(_("Laying out what is open today"))
        recompute(on=today)
        with as_of(today):
            last_day.arrange(world)
        people.ask_to_join(world)
        dates.tell_when(world)
        let_the_planner_look()
        plan_reminders(on=today - REMINDED_UNTIL)
        _keep_mail_in()
    return people.sign_ins(world)


def _refuse_if_lived_in() -> None:
    """Nobody and nothing may be here; of two who fill at once, the second finds the first."""
    Community.current()
    Community.objects.select_for_update().get(pk=1)
    if Member.objects.exists() or Lot.objects.exists() or Variety.objects.exists():
        raise Refused(
            _(
                "There are members or seed in this database already, and the demo community "
                "would mix with them. Start it on an empty database."
            )
        )


def _begin(world: World) -> None:
    people.settle(world)
    people.set_rules(world)
    places.furnish(world)
    deposits.plan(world)
    stories.plan(world)
    chains.plan(world)
    clones.plan(world)
    keeping.plan(world)
    sill.plan(world)
    last_day.plan(world)
    seasons.plan(world)
    for season in loans.seasons():
        loans.plan_season(world, season)


def _look_up(world: World, tell: Progress) -> Callable[[dt.date], None]:
    """Say which year it has become, once for each."""
    seen: set[int] = set()

    def look_up(day: dt.date) -> None:
        if day.year not in seen:
            seen.add(day.year)
            let_the_planner_look()
            tell(_("Living through %(year)s") % {"year": day.year})

    return look_up


def let_the_planner_look() -> None:
    """PostgreSQL gathers statistics between transactions; within this long one it must be told,
    or it plans for empty tables. Only our tables: the server's own are shared with every other
    database, and who looks at them in a long transaction keeps everybody else waiting.
    """
    if connection.vendor == "postgresql":
        quoted = map(connection.ops.quote_name, connection.introspection.django_table_names())
        with connection.cursor() as cursor:
            cursor.execute(f"ANALYZE {', '.join(quoted)}")


def _keep_mail_in() -> None:
    """What the services would have written to people who do not exist is not sent."""
    letters = Message.objects.waiting().filter(to__endswith=f"@{people.DOMAIN}")
    letters.update(dropped_at=timezone.now(), text="", html="")
