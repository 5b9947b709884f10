"""A member who probes: nothing that they are told depends on where another garden lies.

Within its coarse cell, that is: what the member could not read anyway from the grid.

The same library is read twice by the same person, once with the other's garden 60 m from the
prober's and once 3 km away, in the same cell of the grid. Whatever differs would tell which.
"""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal

import pytest
from django.db import connection, transaction

from accounts.models import Garden
from accounts.services import add_garden
from library.growouts.models import Commitment, OwnPlanting
from library.outbox.models import Message
from library.reminders.services import plan_reminders
from library.stock.models import Growing, Lot
from tests.permissions.asking import send
from tests.permissions.table import READING, WRITING, Row
from tests.permissions.world import TODAY, World

CELL = (Decimal("54.2"), Decimal("-2.9"))
NEAR = (Decimal("54.20054"), Decimal("-2.90000"))
FAR = (Decimal("54.22700"), Decimal("-2.90000"))
# What is another each time that it is made: tokens of forms, keys for scripts.
TOKEN = r'name="csrfmiddlewaretoken" value="[^"]*"'
CHANGES = re.compile(TOKEN + r"|[0-9a-f]{15,}|[0-9a-f]{6}…|/calendar/[\w-]{20,}")


@pytest.fixture
def prober(world) -> str:
    """Gardens round the middle of the cell, with plantings of whatever the owner grows."""
    member = world.members["other"]
    gardens = [
        add_garden(
            member=member,
            by=member,
            name=f"probe {step}",
            placed="exact",
            latitude=CELL[0] + Decimal(step) / 1000,
            longitude=CELL[1],
        )
        for step in range(5)
    ]
    grown = [world.variety, world.loan.packet.lot.variety]
    for garden in gardens:
        for variety in grown:
            OwnPlanting.objects.create(
                garden=garden,
                year=world.season.year,
                species=variety.crop.species,
                variety=variety,
            )
    _grow(member, gardens[0], world)
    return "other"


def _grow(member, garden: Garden, world: World) -> None:
    """A promise of the prober's for the season, and one for what the owner grows too."""
    Commitment.objects.create(
        season=world.season,
        variety=world.loan.packet.lot.variety,
        grower=member,
        garden=garden,
        plants=20,
        state="accepted",
        answered_on=TODAY,
        answer_by=TODAY + dt.timedelta(days=14),
        offered_by=world.members["coordinator"],
    )
    # The stands of last summer: the owner's and the prober's own, of one species.
    mine, theirs = Lot.objects.filter(variety=world.variety).order_by("pk")[:2]
    for lot, place in ((mine, garden), (theirs, world.garden)):
        Growing.objects.update_or_create(lot=lot, defaults={"garden": place})


def place(garden: Garden, where: tuple[Decimal, Decimal]) -> None:
    Garden.objects.filter(pk=garden.pk).update(
        placed="exact", latitude=where[0], longitude=where[1]
    )


def told(world: World, who: str) -> dict[str, str]:
    """Everything that this person reads, gets done, and is written, by address."""
    _number_anew()
    read = {str(row): _asked(world, row, who) for row in _open_to(who, READING)}
    done = {str(row): _asked(world, row, who) for row in _open_to(who, WRITING)}
    return read | done | {"mail": _mail(world, who)}


def _number_anew() -> None:
    """PostgreSQL does not take back the numbers of rows that were rolled back; SQLite does."""
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT setval(format('%I.%I', schemaname, sequencename)::regclass, 1000000)"
            " FROM pg_sequences WHERE schemaname = current_schema()"
        )


def _open_to(who: str, rows: list[Row]) -> list[Row]:
    return [row for row in rows if row.cell(who).strip("*=") not in ("in", "401", "403", "404")]


def _asked(world: World, row: Row, who: str) -> str:
    """The answer and, where it leads on, the page it leads to; what was done is undone."""
    client = world.client(who)
    with transaction.atomic():
        answer = send(client, row.method, row.address(world), row.sent(world, who))
        text = _body(answer.response)
        if answer.response.status_code == 302 and answer.location.startswith("/"):
            text += _body(client.get(answer.location))
        transaction.set_rollback(True)
    return f"{answer.word} {text}"


def _body(response) -> str:
    content = b"".join(response.streaming_content) if response.streaming else response.content
    return CHANGES.sub("", content.decode("utf-8", "replace"))


def _mail(world: World, who: str) -> str:
    with transaction.atomic():
        plan_reminders(on=TODAY)
        mails = Message.objects.filter(to=world.members[who].email).order_by("pk")
        text = "\n".join(f"{m.subject}\n{m.text}\n{m.html}" for m in mails)
        transaction.set_rollback(True)
    return text


def test_a_prober_reads_the_same_wherever_the_other_garden_lies(world, prober):
    place(world.garden, NEAR)
    near = told(world, prober)
    place(world.garden, FAR)
    far = told(world, prober)

    assert len(near) > 100
    assert [address for address in near if near[address] != far[address]] == []


def test_the_two_places_are_told_apart_by_who_may(world):
    """The control: a coordinator's pages do differ, so the comparison would notice."""
    place(world.garden, NEAR)
    rows = [row for row in READING if "map" in row.route or "garden" in row.route]
    near = [_asked(world, row, "coordinator") for row in rows]
    place(world.garden, FAR)

    assert [_asked(world, row, "coordinator") for row in rows] != near
