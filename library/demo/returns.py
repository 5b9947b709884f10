"""How loans end: seed brought back with what was told of it, or the honest other outcomes."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Any

from library.catalogue.models import LifeCycle, SeasonNote, Variety
from library.catalogue.services import write_note
from library.demo import bench
from library.demo.world import World
from library.lending import services as lending
from library.lending.models import Loan
from library.lending.services.growing import FACTS
from library.stock.models import Lot

PARTIAL = 0.06
ANNOUNCED = 0.55
NOTE = 0.4
NOTED = 0.4
OWN_NOTES = 0.15
Readers = SeasonNote.Readers


def end(world: World, pk: int, ending: str, on: dt.date) -> None:
    loan = loan_of(pk)
    if not loan.is_open:  # closed together with another loan
        return
    if ending in ("returned", "kept_waiting"):
        bring_back(world, loan, on)
    elif ending == "taken_back":
        said = world.say("taken_back")
        lending.take_back_unopened(loan=loan, on=on, by=world.at_desk(on), note=said)
    else:
        outcome, said = _other_outcome(world, ending, loan, on)
        lending.close_loan(loan=loan, outcome=outcome, note=said, on=on, by=loan.borrower)


def loan_of(pk: int) -> Loan:
    rows = Loan.objects.select_related(
        "packet__lot__variety__crop__species", "borrower", "garden"
    )
    return rows.get(pk=pk)


def _other_outcome(world: World, ending: str, loan: Loan, on: dt.date) -> tuple[str, str]:
    variety = loan.packet.lot.variety
    if ending == "failed":
        month = 12 * (on.year - loan.lent_on.year) + on.month
        return Loan.Outcome.CROP_FAILED, world.say("failures", variety, month)
    return Loan.Outcome.NOTHING_TO_RETURN, world.say("nothing", variety)


def bring_back(
    world: World,
    loan: Loan,
    on: dt.date,
    *,
    line: Variety | None = None,
    initial: float | None = None,
    **told: Any,
) -> Lot:
    """Seed comes back, all of it at once or some now and the rest later."""
    variety = loan.packet.lot.variety
    in_part = not told and world.rng.random() < PARTIAL and on.month < 12
    facts = growing_facts(world, loan, on)
    facts["growing"] |= {name: told.pop(name) for name in list(told) if name in FACTS}
    facts |= told
    if in_part:
        facts["seeds"] = max(10, facts["seeds"] // 3)
        rest = min(world.after(on, 14, 35), dt.date(on.year, 12, 31))
        world.diary.on(rest, partial(end, world, loan.pk, "returned", rest))
    loans = [loan, *_other_loans(world, loan, on)]
    lot = _receive(world, loans, facts | {"more_to_come": in_part}, on, line)
    lot.variety = line or variety
    world.remember(lot, initial=initial, harvest=on - dt.timedelta(days=30))
    bench.expect_first_test(world, lot, on)
    if not told:
        write_down(world, loan, on)
    return lot


def write_down(world: World, loan: Loan, on: dt.date) -> None:
    """Some growers write a season note, for whom they like."""
    chance = world.rng.random()
    if chance > NOTED:
        return
    own = chance < NOTED * OWN_NOTES
    readers = Readers.ME if own else world.rng.choice((Readers.MEMBERS, Readers.EVERYONE))
    written = write_note(
        variety=loan.packet.lot.variety,
        by=loan.borrower,
        year=on.year,
        text=world.say("own_notes" if own else "notes", loan.packet.lot.variety),
        on=on,
        readers=readers,
    )
    world.notes_written[written.pk] = on


def _receive(
    world: World, loans: list[Loan], seed: dict[str, Any], on: dt.date, line: Variety | None
) -> Lot:
    """Announced from home and received at the desk, or both at the desk."""
    variety = line or loans[0].packet.lot.variety
    received: dict[str, Any] = {
        "on": on,
        "by": world.at_desk(on),
        "variety": line,
        "storage_place": world.place_for(variety),
    }
    if world.rng.random() < ANNOUNCED:
        member = loans[0].borrower
        before = max(world.after(on, -8, 0), *(loan.lent_on for loan in loans))
        before = max(before, dt.date(seed["harvest_year"], 1, 1))
        announced = lending.announce_return(
            member=member, loans=loans, on=before, by=member, **seed
        )
        return lending.receive_return(seed_return=announced, **received)
    return lending.return_at_desk(loans=loans, **seed, **received)


def _other_loans(world: World, loan: Loan, on: dt.date) -> list[Loan]:
    """The same person's other packets of the same variety, grown in the same row."""
    others = Loan.objects.open().filter(
        borrower=loan.borrower, packet__lot__variety=loan.packet.lot.variety_id, lent_on__lt=on
    )
    together = others.exclude(pk__in={loan.pk, *world.in_stories}).select_related(
        "packet__lot__variety__crop__species"
    )
    return list(together.filter(lent_on__year=loan.lent_on.year))


def growing_facts(world: World, loan: Loan, on: dt.date) -> dict[str, Any]:
    """What the grower tells: plants, isolation, choosing; some tell little."""
    habit = world.habit(loan.packet.lot.variety)
    sown = loan.packet.seeds
    wanted = habit.plants.pick(world.rng)
    stood = max(2, min(wanted, round(sown * world.rng.uniform(0.55, 0.95))))
    gave = max(1, stood - world.rng.randint(0, stood // 4))
    way = world.rng.choice(habit.isolation)
    few = min(1.0, gave / habit.plants.low)
    growing: dict[str, Any] = {
        "plants_sown": sown,
        "plants_stood": stood,
        "plants_gave_seed": gave,
        "isolation": way.technique,
        "isolation_distance_m": way.metres.pick(world.rng) if way.metres else None,
    }
    for said in ("selection", "roguing"):
        if world.rng.random() < NOTE:
            growing[said] = world.say(said, loan.packet.lot.variety)
    return {
        "seeds": max(12, round(habit.returned.pick(world.rng) * few)),
        "harvest_year": _harvest_year(loan, on),
        "garden": loan.garden,
        "growing": growing,
    }


def _harvest_year(loan: Loan, on: dt.date) -> int:
    """The autumn before, for seed that is brought in the first half of a year."""
    early = on.month < 7 and loan.packet.lot.variety.crop.life_cycle != LifeCycle.PERENNIAL
    return max(loan.lent_on.year, on.year - (1 if early else 0))
