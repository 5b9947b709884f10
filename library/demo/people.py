"""The community, its members and gardens, who is waiting and who is invited."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from functools import partial
from typing import Any, NamedTuple

from django.utils import timezone

from accounts import services as accounts
from accounts.models import Garden, Member, Membership, MembershipEvent
from library.demo import source
from library.demo.world import World
from library.lending.models import Loan
from library.lending.services import change_lending_rules, close_loan

DOMAIN = "tarnhollow.example"
PASSWORD = "borrow-sow-give-back"  # noqa: S105 (printed for whoever tries the demo)
SIGN_INS = ("Sorrel", "Tansy", "Yarrow", "Hollin")
WAYS = 0.018  # degrees: gardens lie within about two kilometres of their village
FROST_DAYS = 4  # a garden's own corner, earlier or later than its village


class SignIn(NamedTuple):
    """Somebody whose password is known."""

    name: str
    email: str
    password: str
    role: str


def address(name: str) -> str:
    return f"{name.lower().replace(' ', '-')}@{DOMAIN}"


def settle(world: World) -> None:
    """Everybody who ever joined, before the first day: a diary cannot ask who is not there."""
    told = source.people()
    _found(told["community"])
    for entry in told["members"]:
        _join(world, entry)
    for entry in told["left"]:
        _join(world, entry)
        day = world.day(entry["leaves"], 1, 8)
        world.diary.on(day, partial(_leave, world, entry["name"], day))


def _found(community: dict[str, Any]) -> None:
    rules = {"exchange_notice"}
    accounts.save_community(by=None, **{k: v for k, v in community.items() if k not in rules})


def set_rules(world: World) -> None:
    """What may be lent and what is said about exchange."""
    notice = source.people()["community"]["exchange_notice"]
    change_lending_rules(by=world.coordinator, exchange_notice=notice)


def _join(world: World, entry: dict[str, Any]) -> None:
    name = entry["name"]
    member = accounts.make_member(
        email=address(name),
        display_name=name,
        role=entry.get("role", "member"),
        password=PASSWORD if name in SIGN_INS else None,
        at=_joined_at(world, entry["joined"]),
        by=world.people.get("Hollin"),
        introduction=entry["introduction"],
        wants_reminders=name in SIGN_INS,  # nobody reads the others' mail
    )
    world.people[name] = member
    world.villages[name] = entry["village"]
    world.joined[name] = entry["joined"]
    world.keen[name] = entry.get("keen", 2)
    village = source.people()["villages"][entry["village"]]
    world.gardens[name] = [
        _plant(world, member, village, garden) for garden in entry["gardens"]
    ]


def _joined_at(world: World, season: int) -> dt.datetime:
    if season < 0:
        day = world.between(world.day(-1, 9, 1), world.day(-1, 9, 28))
    else:
        day = world.between(world.day(season - 1, 10, 1), world.day(season - 1, 12, 20))
    return timezone.make_aware(dt.datetime.combine(day, dt.time(10 + day.day % 9)))


def _plant(
    world: World, member: Member, village: dict[str, Any], garden: dict[str, Any]
) -> Garden:
    frosts = {} if garden.get("frost_free") else _frosts(world, village)
    return accounts.add_garden(
        member=member,
        by=member,
        name=garden["name"],
        placed="exact" if garden.get("exact") else "grid",
        latitude=_near(world, village["latitude"]),
        longitude=_near(world, village["longitude"]),
        area_m2=Decimal(garden["area"]),
        **frosts,
    )


def _near(world: World, degrees: float) -> Decimal:
    return Decimal(str(round(degrees + world.rng.uniform(-WAYS, WAYS), 5)))


def _frosts(world: World, village: dict[str, Any]) -> dict[str, str]:
    kinder = dt.timedelta(days=world.rng.randint(-FROST_DAYS, FROST_DAYS))
    return {
        "last_spring_frost": _shifted(village["last_spring_frost"], -kinder),
        "first_autumn_frost": _shifted(village["first_autumn_frost"], kinder),
    }


def _shifted(month_day: str, by: dt.timedelta) -> str:
    return (dt.date.fromisoformat(f"2001-{month_day}") + by).strftime("%m-%d")


def _leave(world: World, name: str, on: dt.date) -> None:
    """What is still out is accounted for first."""
    member = world.people[name]
    for loan in Loan.objects.open().filter(borrower=member).order_by("pk"):
        close_loan(
            loan=loan,
            outcome=Loan.Outcome.NOTHING_TO_RETURN,
            note="Moving away. What was growing went to the school garden.",
            on=on,
            by=member,
        )
    accounts.leave(member=member, by=member, keep_name=True)
    del world.joined[name]
    world.gardens[name] = []


def ask_to_join(world: World) -> None:
    """Who waits for an answer today, who was declined, and who has an invitation."""
    told = source.people()
    for entry in told["waiting"]:
        _apply(world, entry, days=entry["days"])
    for entry in told["declined"]:
        member = _apply(world, entry, days=200)
        accounts.decline(member=member, by=world.coordinator, note=entry["note"])
        _long_ago(member, world.today - dt.timedelta(days=196))
    for entry in told["invited"]:
        accounts.invite(email=address(entry["email"]), role=entry["role"], by=world.coordinator)


def _apply(world: World, entry: dict[str, Any], *, days: int) -> Member:
    day = world.today - dt.timedelta(days=days)
    return accounts.make_member(
        email=address(entry["name"]),
        display_name=entry["name"],
        membership=Membership.APPLIED,
        at=timezone.make_aware(dt.datetime.combine(day, dt.time(19, 20))),
        introduction=entry["introduction"],
    )


def _long_ago(member: Member, day: dt.date) -> None:
    at = timezone.make_aware(dt.datetime.combine(day, dt.time(9, 5)))
    Member.objects.filter(pk=member.pk).update(decided_at=at)
    MembershipEvent.objects.filter(member=member, kind=Membership.DECLINED).update(at=at)


def sign_ins(world: World) -> list[SignIn]:
    """The few whose password is printed, from a member to the administrator."""
    return [
        SignIn(name, world.people[name].email, PASSWORD, str(world.people[name].role))
        for name in SIGN_INS
    ]
