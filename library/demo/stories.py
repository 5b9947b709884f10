"""The varieties whose history everybody in the valley can tell.

Each story writes its own pages of the diary; what happens to these varieties besides is left to
chance like everything else.
"""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Any

from library.catalogue.models import BreedingStatus, SeasonNote, Variety
from library.catalogue.services import edit_variety, write_note
from library.demo import bench, chains, deposits, loans, returns
from library.demo.world import World
from library.lending import services as lending
from library.lending.models import Loan
from library.stock import services as stock
from library.stock.models import Lot

TRUE_FROM = 7  # an F7 is taken as stable
EVERYONE, MEMBERS = SeasonNote.Readers.EVERYONE, SeasonNote.Readers.MEMBERS
ONLY_ME = SeasonNote.Readers.ME


def plan(world: World) -> None:
    for story in (bottleneck, nearly_lost, hybrid, crossed, goat, yearly_cross):
        story(world)


def note(world: World, key: str, name: str, on: dt.date, text: str, readers: str) -> None:
    who = world.people[name]
    written = write_note(
        variety=world.card(key), by=who, year=on.year, text=text, on=on, readers=readers
    )
    world.notes_written[written.pk] = on


def keep_apart(world: World, key: str, first: dt.date, last: dt.date) -> None:
    """Between two days nobody takes the variety home but who does so in its story."""
    world.diary.on(first, lambda: world.kept_apart.add(world.card(key).pk))
    world.diary.on(last, lambda: world.kept_apart.discard(world.card(key).pk))


def lend_to(world: World, name: str, key: str, on: dt.date, **how: Any) -> Loan:
    """A loan that the story needs; it fails loudly if the shelf cannot give it."""
    variety = world.card(key)
    if loans.packet_of(variety) is None:
        _fill_packet(world, variety, on)
    loan = loans.lend(world, variety, loans.borrower(world, name), on, **how)
    if loan is None:
        raise RuntimeError(f"{variety.name} had no packet to lend to {name} on {on}")
    return loan


def _fill_packet(world: World, variety: Variety, on: dt.date) -> None:
    """One more packet from the fullest jar, if there is none on the shelf."""
    jars = Lot.objects.with_seed().filter(
        variety=variety, awaits_first_test=False, withheld_reason=""
    )
    seeds = world.habit(variety).packet
    jar = jars.filter(loose__gte=seeds).order_by("-loose", "pk").first()
    if jar is not None:
        stock.pack(lot=jar, packets=1, seeds_each=seeds, on=on, by=world.coordinator)


def bring_for(world: World, key: str, name: str, seeds: int, on: dt.date) -> None:
    """Somebody brings good seed in the autumn before the story."""
    giver = world.people[name]
    deposits.bring(world, world.card(key), on, giver=giver, seeds=seeds, initial=0.95)


# Two plants -------------------------------------------------------------------------------
def bottleneck(world: World) -> None:
    """A broad bean comes through one wet spring on two plants."""
    brought = world.day(1, 11, 2)
    world.diary.on(brought, partial(bring_for, world, "bottleneck", "Old Wether", 160, brought))
    keep_apart(world, "bottleneck", world.day(2, 1, 1), world.day(3, 4, 1))
    lent = world.day(2, 3, 12)
    world.diary.on(lent, partial(_lend_fold_wall, world, lent))


def _lend_fold_wall(world: World, on: dt.date) -> None:
    loan = lend_to(world, "Old Wether", "bottleneck", on, ending=loans.IN_A_STORY)
    back = world.day(2, 9, 26)
    world.diary.on(back, partial(_two_plants, world, loan.pk, back))


def _two_plants(world: World, pk: int, on: dt.date) -> None:
    lot = returns.bring_back(
        world,
        returns.loan_of(pk),
        on,
        initial=0.96,
        seeds=88,
        plants_stood=2,
        plants_gave_seed=2,
        isolation="cage",
        isolation_distance_m=None,
        selection="two plants leave nothing to choose from",
        roguing="",
        notes="Nine weeks of rain. Two stood, on the bank above the water. I put a lambing "
        "hurdle with netting over them and kept every bean.",
    )
    text = (
        "Two plants. I have never had two plants before. Everything from here on is their "
        "children, so look out for weak ones."
    )
    note(world, "bottleneck", "Old Wether", on, text, EVERYONE)
    older = Lot.objects.with_seed().filter(variety=world.card("bottleneck")).exclude(pk=lot.pk)
    for each in older.order_by("pk"):
        stock.discard_rest(
            lot=each, on=on, by=world.bench, reason="mouldy: the flood reached the lowest shelf"
        )
    small = world.day(3, 3, 1)
    world.diary.on(small, partial(_small_packet, world, lot.pk, small))
    for name, day in (("Old Wether", 2), ("Merle", 9)):
        spring = world.day(3, 3, day)
        deed = partial(lend_to, world, name, "bottleneck", spring, ending="returned")
        world.diary.on(spring, deed)


def _small_packet(world: World, pk: int, on: dt.date) -> None:
    """Enough for a second garden, and the reserve stays whole."""
    stock.pack(lot=bench.fresh(pk), packets=1, seeds_each=14, on=on, by=world.coordinator)


# Nine seeds -------------------------------------------------------------------------------
def nearly_lost(world: World) -> None:
    """A soup pea of which one jar was left, and nine seeds in the packet came up."""
    found = world.day(1, 1, 22)
    keep_apart(world, "nearly_lost", found, world.day(2, 4, 1))
    world.diary.on(found, partial(_the_last_jar, world, found))


def _the_last_jar(world: World, on: dt.date) -> None:
    lot = deposits.bring(
        world,
        world.card("nearly_lost"),
        on,
        source_name="a kitchen window in Cragwither",
        story="A preserving jar on a window sill, in the sun, with a paper that says “soup, "
        "brown” and no year. The house was being cleared.",
        seeds=118,
        harvest_year=world.year(1) - 9,
        initial=0.7,
        tested=False,
    )
    packet = stock.pack(
        lot=lot, packets=1, seeds_each=40, on=on, by=world.coordinator,
        storage_place=lot.storage_place,
    )[0]  # fmt: skip
    bench.first_test(world, lot, world.day(1, 11, 8), since=on)
    spring = world.day(1, 3, 6)
    world.diary.on(spring, partial(_sow_the_jar, world, packet.pk, spring))


def _sow_the_jar(world: World, pk: int, on: dt.date) -> None:
    who = loans.borrower(world, "Ouzel")
    loan = lending.lend_packet(
        packet=loans.packet_by_key(pk),
        borrower=who.member,
        garden=who.garden,
        on=on,
        by=world.coordinator,
        override_reason="the last jar there is; it will not get better by waiting for a test",
    )
    back = world.day(1, 9, 18)
    world.diary.on(back, partial(_nine_plants, world, loan.pk, back))


def _nine_plants(world: World, pk: int, on: dt.date) -> None:
    returns.bring_back(
        world,
        returns.loan_of(pk),
        on,
        seeds=212,
        initial=0.95,
        plants_sown=40,
        plants_stood=9,
        plants_gave_seed=9,
        isolation="distance",
        isolation_distance_m=220,
        selection="none; all nine",
        roguing="",
        notes="Sown in a tray on the stove shelf, forty of them, one to a cell. Nine came up "
        "over three weeks. All nine lived.",
    )
    text = "Nine of forty. I counted them every morning. Their seed is all in one envelope."
    note(world, "nearly_lost", "Ouzel", on, text, EVERYONE)
    for name, day in (("Ouzel", 1), ("Bracken", 4)):
        spring = world.day(2, 3, day)
        deed = partial(lend_to, world, name, "nearly_lost", spring, ending="returned")
        world.diary.on(spring, deed)


# Seven summers ----------------------------------------------------------------------------
WHAT_WAS_CHOSEN = {
    2: "every plant different; kept seed of eleven, egg-shaped and amber or nearly",
    3: "six families sown apart; three kept, for colour and for setting fruit outdoors",
    4: "half came green-shouldered; kept the four plants that did not",
    5: "compact plants only, from two families",
    6: "one family left; its plants are alike but for two, and those two are out",
    7: "nothing to choose: thirty plants, thirty alike",
}


def hybrid(world: World) -> None:
    """A cross made once by hand, grown on and chosen until it came true."""
    first = world.day(-1, 12, 15)
    keep_apart(world, "hybrid", first, world.day(0, 4, 1))
    world.diary.on(first, partial(_bring_cross, world, first))
    for generation, chosen in WHAT_WAS_CHOSEN.items():
        lent = world.day(generation - 2, 3, 20)
        world.diary.on(lent, partial(_sow_generation, world, generation, chosen, lent))


def _bring_cross(world: World, on: dt.date) -> None:
    deposits.bring(
        world,
        world.card("hybrid"),
        on,
        giver=world.people["Campion"],
        story="Scullery Copper by an early orange, one truss, red thread.",
        seeds=70,
        harvest_year=on.year,
    )


def _sow_generation(world: World, generation: int, chosen: str, on: dt.date) -> None:
    key = "hybrid" if generation == 2 else "line"
    loan = lend_to(world, "Campion", key, on, ending=loans.IN_A_STORY)
    back = world.day(generation - 2, 9, 20)
    world.diary.on(back, partial(_next_generation, world, loan.pk, generation, chosen, back))


def _next_generation(world: World, pk: int, generation: int, chosen: str, on: dt.date) -> None:
    line = world.card("line")
    returns.bring_back(
        world,
        returns.loan_of(pk),
        on,
        line=line if generation == 2 else None,
        initial=0.95,
        selection=chosen,
        notes=f"F{generation} seed, from F{generation - 1} plants.",
    )
    if generation > 2:
        _edit_line(world, {"generation": generation}, on)
    readers = EVERYONE if generation in (4, TRUE_FROM) else MEMBERS
    note(world, "line", "Campion", on, f"F{generation}: {chosen}.", readers)
    if generation == TRUE_FROM:
        settled = world.day(6, 1, 14)
        world.diary.on(settled, partial(_call_it_stable, world, settled))


def _call_it_stable(world: World, on: dt.date) -> None:
    changes = {"breeding_status": BreedingStatus.STABILISED, "generation": None}
    _edit_line(world, changes, on)
    world.kept_apart.discard(world.card("line").pk)


def _edit_line(world: World, changes: dict[str, Any], on: dt.date) -> None:
    line = world.card("line")
    edit_variety(variety=line, by=world.coordinator, changes=changes)
    for edit in line.edits.exclude(pk__in=world.edited_on):
        world.edited_on[edit.pk] = on


# Over the wall ----------------------------------------------------------------------------
def crossed(world: World) -> None:
    """A courgette that a pumpkin got at; its lot is kept, and not lent."""
    brought = world.day(3, 10, 20)
    world.diary.on(brought, partial(bring_for, world, "crossed", "Linnet", 150, brought))
    keep_apart(world, "crossed", world.day(4, 1, 1), world.day(5, 4, 1))
    lent = world.day(4, 3, 14)
    world.diary.on(lent, partial(_lend_tallow_dip, world, lent))


def _lend_tallow_dip(world: World, on: dt.date) -> None:
    loan = lend_to(world, "Linnet", "crossed", on, ending=loans.IN_A_STORY)
    back = world.day(4, 10, 8)
    world.diary.on(back, partial(_beside_a_pumpkin, world, loan.pk, back))


def _beside_a_pumpkin(world: World, pk: int, on: dt.date) -> None:
    lot = returns.bring_back(
        world,
        returns.loan_of(pk),
        on,
        seeds=148,
        initial=0.95,
        plants_stood=6,
        plants_gave_seed=4,
        isolation="none",
        isolation_distance_m=35,
        crossing_neighbour="Netherfold Lamp pumpkin, over the wall",
        notes="I did not know about the pumpkin until it came over the wall in September.",
    )
    spring = world.day(5, 3, 21)
    world.diary.on(spring, partial(_lend_crossed, world, lot.pk, spring))


def _lend_crossed(world: World, pk: int, on: dt.date) -> None:
    packet = bench.fresh(pk).packets.on_shelf().with_lot().order_by("pk").first()
    loan = lend_to(world, "Betony", "crossed", on, packet=packet, ending=loans.IN_A_STORY)
    seen = world.day(5, 8, 3)
    world.diary.on(seen, partial(_off_types, world, loan.pk, pk, seen))


def _off_types(world: World, loan_pk: int, lot_pk: int, on: dt.date) -> None:
    loan, lot = returns.loan_of(loan_pk), bench.fresh(lot_pk)
    lending.close_loan(
        loan=loan,
        outcome=Loan.Outcome.NOTHING_TO_RETURN,
        note="Three of eight came striped and round, one of them bitter. I pulled all eight "
        "and saved nothing.",
        on=on,
        by=loan.borrower,
    )
    stock.withhold(
        lot=lot,
        reason="Crossed with a pumpkin: off-types, one bitter. Kept for the record; do not sow "
        "for eating.",
        by=world.coordinator,
    )
    chains.tell_of_bitter_fruit(world, lot, on)
    text = (
        f"Lot {lot.number} is crossed. Three of eight plants had striped round fruit and one "
        "was so bitter that I spat it out, which is the right thing to do with a bitter "
        "courgette. Do not eat it, and do not save from it."
    )
    note(world, "crossed", "Betony", on, text, EVERYONE)


# And a goat -------------------------------------------------------------------------------
def goat(world: World) -> None:
    brought = world.day(2, 11, 9)
    world.diary.on(brought, partial(bring_for, world, "goat", "Gale", 1200, brought))
    keep_apart(world, "goat", world.day(3, 1, 1), world.day(3, 5, 1))
    lent = world.day(3, 4, 3)
    world.diary.on(lent, partial(_lend_to_whin, world, lent))


def _lend_to_whin(world: World, on: dt.date) -> None:
    loan = lend_to(world, "Whin", "goat", on, ending=loans.IN_A_STORY)
    eaten = world.day(3, 8, 17)
    world.diary.on(eaten, partial(_eaten, world, loan.pk, eaten))


def _eaten(world: World, pk: int, on: dt.date) -> None:
    loan = returns.loan_of(pk)
    lending.close_loan(
        loan=loan,
        outcome=Loan.Outcome.CROP_FAILED,
        note="The goat. She opened the gate herself. Forty plants down to the ground before "
        "breakfast, and she looked pleased.",
        on=on,
        by=loan.borrower,
    )
    text = "Build the wall higher than you think. Then ask yourself about the gate."
    note(world, "goat", "Whin", on, text, EVERYONE)


def yearly_cross(world: World) -> None:
    """An F1 that is made afresh each winter, since its seed would not be it."""
    for season in (6, 7):
        day = world.day(season, 1, 18)
        world.diary.on(day, partial(_cross_again, world, day))


def _cross_again(world: World, on: dt.date) -> None:
    deposits.bring(
        world,
        world.card("yearly_cross"),
        on,
        giver=world.people["Merle"],
        seeds=90,
        harvest_year=on.year - 1,
    )
