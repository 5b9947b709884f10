"""What is open on the last day: everything that a newcomer to the demo can act on."""

from __future__ import annotations

import datetime as dt
from functools import partial

from library.catalogue.models import Crop
from library.demo import deposits, loans, returns, sill
from library.demo.world import World
from library.lending import services as lending
from library.lending.models import Loan

# Brought so many days ago and not tested yet; a first test is due within ninety.
UNTESTED = (
    ("Tarnfoot Speckle", "Avens", 95),
    ("Rag Rug", "Crake", 84),
    ("Jetty Lights", "Kittiwake", 71),
)
# What Sorrel, whom a newcomer signs in as, has out: varieties that would do, days since, and
# for what was sown in two years in how many days from now it is due, and why.
PIGEONS = "sowed half and lost it to pigeons; will sow the other half next year"
LATE = "too late to sow this spring; will sow it next year"
SORRELS: tuple[tuple[tuple[str, ...], int, tuple[int, str] | None], ...] = (
    (("Tall Rennick", "Winter Hedge"), 215, None),
    (("Boathouse Slip", "Scullery Copper", "Ferry Rope"), 585, (9, LATE)),
    (("Ebbeth's Ladder", "Tarnfoot Speckle", "Mill Loft"), 610, (-5, PIGEONS)),
)
UNCOLLECTED = (
    ("Sorrel", ("Snow in May", "Curate's Collar", "Flagstone")),
    ("Moss", ("Rusty Hinge", "Beck Ribbon", "Dyehouse Red")),
)


def ago(world: World, days: int) -> dt.date:
    return world.today - dt.timedelta(days=days)


def plan(world: World) -> None:
    """What happened in the last months, written into the diary before the years are lived."""
    for variety, giver, days in UNTESTED:
        day = ago(world, days)
        world.diary.on(day, partial(_bring_untested, world, variety, giver, day))
    for names, days, later in SORRELS:
        day = ago(world, days)
        world.diary.on(day, partial(_lend_sorrel, world, names, day, later))


def _bring_untested(world: World, variety: str, giver: str, on: dt.date) -> None:
    deposits.bring(
        world,
        world.varieties[variety],
        on,
        giver=world.people[giver],
        harvest_year=on.year - 1,
        tested=False,
    )


def _lend_sorrel(
    world: World, names: tuple[str, ...], on: dt.date, later: tuple[int, str] | None
) -> None:
    who = loans.borrower(world, "Sorrel")
    for name in names:
        loan = loans.lend(world, world.varieties[name], who, on, ending=loans.IN_A_STORY)
        if loan is None:
            continue
        if later is not None:
            asked = loan.due_on - dt.timedelta(days=12)
            world.diary.on(asked, partial(_extend, world, loan.pk, asked, *later))
        return


def _extend(world: World, pk: int, on: dt.date, due_in: int, reason: str) -> None:
    due_on = world.today + dt.timedelta(days=due_in)
    loan = returns.loan_of(pk)
    if loan.due_on < due_on:
        lending.extend_loan(
            loan=loan, due_on=due_on, reason=reason, on=on, by=world.at_desk(on)
        )


def arrange(world: World) -> None:
    """What is under way today."""
    for deed in (sill.arrange, waiting_deposits, waiting_returns, uncollected):
        deed(world)


def waiting_deposits(world: World) -> None:
    """Three are offered, one was declined, and one taken back by who offered it."""
    crops = {crop.name: crop for crop in Crop.objects.all()}
    people, varieties = world.people, world.varieties
    lending.propose_deposit(
        depositor=people["Sorrel"],
        on=ago(world, 2),
        variety=varieties["Mill Loft"],
        seeds=180,
        harvest_year=ago(world, 2).year - 1,
        origin_region="the middle valley, Tarn Hollow",
        growing={"plants_gave_seed": 26, "isolation": "distance", "isolation_distance_m": 30},
        may_be_named=True,
    )
    lending.propose_deposit(
        depositor=people["Avens"],
        on=ago(world, 6),
        crop=crops["melon"],
        new_variety_name="Ferry Bell",
        seeds=60,
        origin_region="the coast",
        origin_story="Ripened once in thirty years, the summer I came home. I kept every seed.",
    )
    lending.propose_deposit(
        depositor=people["Fieldfare"],
        on=ago(world, 11),
        variety=varieties["Oven Gate"],
        grams="85",
        harvest_year=ago(world, 11).year - 1,
        origin_region="the middle valley, Tarn Hollow",
        growing={"plants_gave_seed": 300, "isolation": "distance", "isolation_distance_m": 20},
    )
    declined = lending.propose_deposit(
        depositor=people["Rushlight"],
        on=ago(world, 34),
        crop=crops["morning glory"],
        new_variety_name="Ditch Trumpet",
        seeds=40,
        origin_story="It is all down the lane. Help yourselves.",
    )
    lending.decline_deposit(
        deposit=declined,
        on=ago(world, 31),
        by=people["Tansy"],
        reason="Kindly meant. It seeds itself along the beck already and the seed is "
        "poisonous, so we would rather not spread it.",
    )
    taken_back = lending.propose_deposit(
        depositor=people["Pipit"],
        on=ago(world, 20),
        variety=varieties["Flagstone"],
        seeds=400,
    )
    lending.withdraw_deposit(deposit=taken_back, on=ago(world, 13), by=people["Pipit"])


def waiting_returns(world: World) -> None:
    """Two growers have said that seed is coming."""
    out = Loan.objects.open().filter(
        handed_over_on__isnull=False, lent_on__lte=ago(world, 90), return_links=None
    )
    out = out.exclude(borrower=world.people["Sorrel"]).filter(borrower__is_active=True)
    rows = out.select_related(
        "packet__lot__variety__crop__species", "borrower", "garden"
    ).order_by("due_on", "pk")
    seen: set[int] = set()
    for loan in rows:
        if loan.borrower_id in seen or loan.packet.lot.variety.breeding_status == "f1":
            continue
        seen.add(loan.borrower_id)
        facts = returns.growing_facts(world, loan, world.today)
        lending.announce_return(
            member=loan.borrower,
            loans=[loan],
            on=ago(world, 2 + len(seen)),
            by=loan.borrower,
            **facts,
        )
        if len(seen) == 2:
            return


def uncollected(world: World) -> None:
    """Chosen from home, waiting in the box at the desk."""
    for name, choices in UNCOLLECTED:
        who = loans.borrower(world, name)
        for choice in choices:
            packet = loans.packet_of(world.varieties[choice])
            if packet is not None and packet.sealed_on <= ago(world, 1):
                lending.lend_packet(
                    packet=packet, borrower=who.member, garden=who.garden,
                    on=ago(world, 1), by=who.member,
                )  # fmt: skip
                break
