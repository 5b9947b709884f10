"""One small library with one of everything that an address can name.

It is built once, through the services, inside a transaction that is never committed; every
case runs in a savepoint of its own, so that each finds it fresh.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from types import SimpleNamespace

from allauth.account.models import EmailAddress
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from accounts import services as people
from accounts.models import Community, Invitation, Member, Membership
from accounts.roles import Role
from library.album.services import attach_photo
from library.calendars.services import bring_up_to_date, make_feed
from library.cardbox.models import NotedPerson
from library.catalogue.models import Crop, SeasonNote
from library.catalogue.services import add_variety, load_reference, write_note
from library.config.health import LATE_AFTER
from library.exchange.services import preview_chain
from library.germination import services as bench
from library.germination.models import BenchRules
from library.growouts.models import GrowOutRules
from library.lending import services as lending
from library.lending.models import LendingRules
from library.outbox.models import Message, Periodic
from library.paper import services as paper
from library.provenance.services import report_off_types
from library.reminders.models import Reminder
from library.stock import services as stock
from library.stock.models import Lot, Movement
from tests.exchange.files import File
from tests.permissions.album import plant_photo
from tests.permissions.cardbox import files_in_every_state
from tests.permissions.growouts import plan_a_season
from tests.permissions.household import plan_a_household

NOW = dt.datetime(2026, 10, 10, 9, tzinfo=dt.UTC)
TODAY = NOW.date()
SPRING = dt.date(2026, 4, 15)
LAST_YEAR = dt.date(2025, 10, 1)

# The columns of the table. "other" is a member who has nothing to do with the thing asked for;
# "owner" is the member whose garden, note, loan, return or deposit it is.
ACTORS = ["anonymous", "applicant", "other", "owner", "desk", "coordinator", "administrator"]


@dataclass
class World:
    """Who is there, what is there, and who is signed in."""

    members: dict[str, Member | None]
    things: SimpleNamespace
    sessions: dict[str, str] = field(default_factory=dict)
    before: dict[str, list] = field(default_factory=dict)

    def __getattr__(self, name: str):
        return getattr(self.things, name)

    def client(self, who: str) -> Client:
        client = Client()
        if who in self.sessions:
            client.cookies[settings.SESSION_COOKIE_NAME] = self.sessions[who]
        return client


def build() -> World:
    load_reference()
    for rules in (Community, BenchRules, LendingRules, GrowOutRules):
        rules.current()  # the one row, which is otherwise written when first asked for
    members = _members()
    things = SimpleNamespace(community=Community.current())
    _people(things, members)
    _cards(things, members)
    _stock(things, members)
    _bench(things, members)
    _few_seeds(things, members)
    _regrow(things, members)
    _desk(things, members)
    _reminded(things, members)
    _off_types(things, members)
    _chains(things, members)
    _card_box(things, members)
    plan_a_season(things, members, TODAY)
    plan_a_household(things, members)
    _paper(things, members)
    return World(members, things, {who: _signed_in(m) for who, m in members.items() if m})


def _paper(things: SimpleNamespace, members: dict) -> None:
    desk = members["desk"]
    things.label_sheet = paper.save_sheet(
        by=desk,
        name="Swap sheet",
        page_width=200,
        page_height=100,
        label_width=60,
        label_height=30,
    )
    asked = paper.prepared(
        kind="labels", keys=[things.lot.number], by=desk, on=TODAY, sheet=things.label_sheet
    )
    things.print_job = paper.ask_print(asked, by=desk)


def _card_box(things: SimpleNamespace, members: dict) -> None:
    files_in_every_state(things, members, TODAY)
    _photos(things, members)
    things.noted = NotedPerson.objects.create(name="Sorrel Pike", folded="sorrel pike")


def _photos(things: SimpleNamespace, members: dict) -> None:
    notes = {note.readers: note for note in things.variety.season_notes.all()}
    subjects = {
        "variety_photo": (things.variety, members["desk"]),
        "note_photo": (notes["members"], members["owner"]),
        "private_photo": (notes["me"], members["owner"]),
    }
    for name, (subject, by) in subjects.items():
        photo = attach_photo(subject=subject, upload=plant_photo(), by=by)
        setattr(things, name, photo)


def _signed_in(member: Member) -> str:
    client = Client()
    client.force_login(member)
    return client.session.session_key


def _person(name: str, role: str = Role.MEMBER, membership: str = Membership.APPROVED):
    person = Member.objects.create_user(
        f"{name}@example.org", None, display_name=name, role=role, membership=membership
    )
    EmailAddress.objects.create(user=person, email=person.email, primary=True, verified=True)
    return person


def _members() -> dict[str, Member | None]:
    _person("spare", Role.ADMINISTRATOR)  # so that the administrator is not the last one
    return {
        "anonymous": None,
        "applicant": _person("fledgling", membership=Membership.APPLIED),
        "other": _person("rook"),
        "owner": _person("wren"),
        "desk": _person("heron", Role.DESK),
        "coordinator": _person("owl", Role.COORDINATOR),
        "administrator": _person("swan", Role.ADMINISTRATOR),
    }


def _people(things: SimpleNamespace, members: dict) -> None:
    owner = members["owner"]
    things.hopeful = _person("hopeful", membership=Membership.APPLIED)
    things.parting = _person("parting")
    things.second_coordinator = _person("kite", Role.COORDINATOR)
    things.garden = people.add_garden(member=owner, by=owner, name="Mill Lane plot")
    things.second_garden = people.add_garden(member=owner, by=owner, name="Behind the church")
    things.token, things.secret = people.make_token(member=owner, name="harvest sheet")
    for name in LATE_AFTER:  # the background work is done, so that the server is well
        Periodic.objects.create(name=name, last_run_at=NOW, last_finished_at=NOW)
    feed, things.calendar_secret = make_feed(member=owner)
    bring_up_to_date(feed=feed, now=timezone.now())
    things.invitation = people.invite(
        email="newcomer@example.org", role=Role.MEMBER, by=members["coordinator"]
    )
    things.for_applicant = Invitation.objects.create(
        email=members["applicant"].email,
        invited_by=members["coordinator"],
        expires_at=NOW + dt.timedelta(days=7),
    )


def _cards(things: SimpleNamespace, members: dict) -> None:
    things.crop = Crop.objects.get(name="drying bean")
    things.variety = _variety(things.crop, "Crag Runner", members)
    for readers in SeasonNote.Readers.values:
        note = write_note(
            variety=things.variety,
            by=members["owner"],
            on=TODAY,
            year=2026,
            text=f"Set well in spite of the rain; for {readers}.",
            readers=readers,
        )
        setattr(things, f"note_{readers}", note)


def _variety(crop: Crop, name: str, members: dict):
    return add_variety(
        crop=crop, name=name, breeding_status="open-pollinated", by=members["desk"]
    )


def _lot(variety, members: dict, *, packets: int = 0, **facts) -> Lot:
    desk = members["desk"]
    facts = {"origin": "deposit", "on": LAST_YEAR, "by": desk, "seeds": 2000} | facts
    lot = stock.receive_lot(variety=variety, **facts)
    if packets:
        stock.pack(lot=lot, packets=packets, seeds_each=20, on=LAST_YEAR, by=desk)
    lot.refresh_from_db()
    return lot


def _stock(things: SimpleNamespace, members: dict) -> None:
    desk = members["desk"]
    things.place = stock.add_storage_place(name="Cellar", kind="room", by=desk)
    things.empty_place = stock.add_storage_place(name="Attic", kind="room", by=desk)
    things.lot = _lot(things.variety, members, packets=3, storage_place=things.place)
    things.kept_at_home = _lot(things.variety, members, custodian=members["owner"])
    things.second_lot = _lot(things.variety, members)
    things.withheld = _lot(things.variety, members)
    stock.withhold(lot=things.withheld, reason="looks crossed", by=desk)
    things.packet, things.second_packet, _third = things.lot.packets.order_by("pk")
    stock.discard(lot=things.lot, seeds=5, on=SPRING, by=desk, reason="weevils")
    things.movement = Movement.objects.get(kind=Movement.Kind.DISCARDED)
    things.stock_take = stock.start_stock_take(storage_place=things.place, by=desk)
    stock.count_lot(
        stock_take=things.stock_take, lot=things.lot, loose=things.lot.loose - 9, by=desk
    )


def _bench(things: SimpleNamespace, members: dict) -> None:
    desk = members["desk"]
    bench.expect_first_test(lot=things.withheld, on=LAST_YEAR)
    things.running = bench.start_test(
        lot=things.lot, replicates=2, seeds_each=25, on=SPRING, by=desk
    )
    things.closed = bench.record_test(
        lot=things.kept_at_home,
        replicates=[{"seeds": 50, "normal": 46, "dead": 4}],
        started_on=SPRING,
        closed_on=SPRING + dt.timedelta(days=9),
        by=desk,
    )


def _few_seeds(things: SimpleNamespace, members: dict) -> None:
    """A test that is only planned, one whose first group lies open, one that asks for more."""
    desk, few = members["desk"], {"kind": "sequential", "on": SPRING, "by": members["desk"]}
    things.planned = bench.plan_test(lot=things.second_lot, on=SPRING, by=desk)
    things.group_open = bench.start_test(lot=things.second_lot, **few)
    things.asks_for_more = bench.start_test(lot=things.second_lot, **few)
    group = things.asks_for_more.replicates.get()
    bench.count_dish(dish=group, on=SPRING, normal=7, by=desk)
    bench.finish_group(test=things.asks_for_more, on=SPRING, by=desk)


def _regrow(things: SimpleNamespace, members: dict) -> None:
    """A lot of which too little sprouts, and one that somebody counts on."""
    desk = members["desk"]
    things.poor = _lot(things.variety, members)
    bench.record_test(
        lot=things.poor,
        replicates=[{"seeds": 50, "normal": 19}],
        started_on=SPRING,
        closed_on=SPRING + dt.timedelta(days=9),
        by=desk,
    )
    things.sowing = bench.expect_sowing(
        lot=things.lot, on=TODAY + dt.timedelta(days=190), what_for="the mill", by=desk
    )


def _reminded(things: SimpleNamespace, members: dict) -> None:
    owner = members["owner"]
    message = Message.objects.create(
        message_key="a reminder", to=owner.email, subject="Seed is due", text="", sent_at=NOW
    )
    things.reminder = Reminder.objects.create(
        recipient=owner,
        kind="collect",
        subject="lending.Loan:0",
        due_on=TODAY,
        title="Your packet waits",
        url="/my-seed/",
        queued_at=NOW,
        message=message,
    )


def _desk(things: SimpleNamespace, members: dict) -> None:
    owner, desk = members["owner"], members["desk"]
    tomato = Crop.objects.get(name="tomato")

    def lend(name: str, by: Member):
        packet = _lot(_variety(tomato, name, members), members, packets=1).packets.get()
        return lending.lend_packet(
            packet=packet, borrower=owner, on=SPRING, by=by, garden=things.garden
        )

    things.loan = lend("Scar Red", desk)
    things.chosen = lend("Fell Plum", owner)
    things.answered = lend("Beck Cherry", desk)
    things.announced = lending.announce_return(
        member=owner, loans=[things.answered], on=TODAY, by=owner, harvest_year=2026, seeds=90
    )
    things.deposit = lending.propose_deposit(
        depositor=owner, on=TODAY, variety=things.variety, seeds=300
    )


def _off_types(things: SimpleNamespace, members: dict) -> None:
    """A lot in which off-types were seen, and one that was grown from it."""
    doubtful = _lot(things.variety, members, on=dt.date(2024, 10, 1))
    things.grown_of_doubtful = _lot(
        things.variety, members, origin="return", parents=[(doubtful, 1)]
    )
    things.off_types = report_off_types(
        lot=doubtful,
        seen_on=LAST_YEAR,
        what="pods of two colours",
        by=members["owner"],
        on=TODAY,
    )


def _chains(things: SimpleNamespace, members: dict) -> None:
    """A chain of another library that was looked at and waits."""
    things.chain_import, _seen = preview_chain(
        content=chain_file(things.variety, "F-1").read(), by=members["desk"], on=TODAY
    )


def chain_file(variety, number: str) -> SimpleUploadedFile:
    """What another library would send of a lot of the variety."""
    crop = variety.crop
    file = File(variety.name, crop.name, crop.species.botanical_name)
    file.lot(number, year=2024)
    return SimpleUploadedFile("chain.json", file.text().encode())
