"""A season's loans: who borrows what, and how each ends."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import partial

from accounts.models import Garden, Member
from library.catalogue.models import LifeCycle, Variety
from library.demo import returns
from library.demo.world import SEASONS, World
from library.errors import Refused
from library.lending import services as lending
from library.lending.models import Loan
from library.stock.models import Packet

TRIES = 5
STILL_OUT_DAYS = 120  # of what fell due since so long, some is still out
STILL_OUT = 0.12
SMALL_M2 = 40
MANY_PLANTS = 40
HIGH_AND_COLD = {"Cragwither"}
WARM_CROPS = {
    "tomato", "cherry tomato", "sweet pepper", "hot pepper", "aubergine", "tomatillo",
    "butternut squash", "sweetcorn", "flour maize", "basil", "ground cherry",
}  # fmt: skip

IN_A_STORY = "in a story"  # ``stories`` or ``today`` says how it ends
ENDINGS = {"returned": 66, "failed": 15, "nothing": 13, "taken_back": 3, "kept_waiting": 3}


@dataclass(frozen=True)
class Borrower:
    member: Member
    garden: Garden | None
    season_days: int
    high: bool


def plan_season(world: World, season: int) -> None:
    """Write down when everybody comes to the cupboard this year."""
    for name in world.present(season):
        for _packet in range(_wanted(world, name, season)):
            day = _borrowing_day(world, season)
            world.diary.on(day, partial(borrow, world, name, day))


def _wanted(world: World, name: str, season: int) -> int:
    """A member's usual number of packets, or fewer: most years leave less room than hoped."""
    usual = world.keen[name] - (1 if season < 1 else 0)
    return max(0, usual - world.rng.choice((0, 1, 1, 2)))


def _borrowing_day(world: World, season: int) -> dt.date:
    if world.rng.random() < 0.55:
        return world.swap_day(season)
    if world.rng.random() < 0.6:
        return world.first_saturday(season, world.rng.choice((3, 4, 5)))
    if world.rng.random() < 0.85:
        return world.between(world.day(season, 3, 1), world.day(season, 5, 24))
    return world.between(world.day(season, 9, 5), world.day(season, 10, 20))


def borrow(world: World, name: str, on: dt.date) -> Loan | None:
    """One packet that suits; somebody who finds none that may be lent goes home without."""
    if name not in world.joined:  # moved away since the year was planned
        return None
    who = borrower(world, name)
    varieties, weights = wishes(world, who, on)
    for _try in range(TRIES):
        variety = world.rng.choices(varieties, weights)[0]
        loan = lend(world, variety, who, on)
        if loan is not None:
            return loan
    return None


def borrower(world: World, name: str) -> Borrower:
    gardens = world.gardens.get(name, [])
    garden = world.rng.choice(gardens) if gardens else None
    return Borrower(world.people[name], garden, _season_days(garden), _is_high(world, name))


def _season_days(garden: Garden | None) -> int:
    if garden is None or not garden.last_spring_frost:
        return 160
    last, first = (
        dt.date.fromisoformat(f"2001-{day}")
        for day in (garden.last_spring_frost, garden.first_autumn_frost)
    )
    return (first - last).days


def _is_high(world: World, name: str) -> bool:
    return world.villages.get(name) in HIGH_AND_COLD


def wishes(world: World, who: Borrower, on: dt.date) -> tuple[list[Variety], list[float]]:
    """Every variety with how much this borrower would like it now."""
    varieties = list(world.varieties.values())
    return varieties, [_liking(world, variety, who, on) for variety in varieties]


def _liking(world: World, variety: Variety, who: Borrower, on: dt.date) -> float:
    if variety.pk in world.kept_apart:
        return 0.0
    crop = variety.crop
    liking = 1.0
    if crop.life_cycle == LifeCycle.CLONAL:  # ``clones`` sees to them
        return 0.0
    if who.high and crop.name in WARM_CROPS:
        liking *= 0.05
    if crop.life_cycle == LifeCycle.ANNUAL and variety.days_to_maturity:
        liking *= 1.0 if variety.days_to_maturity + 45 <= who.season_days else 0.3
    if _is_small(who) and world.habit(variety).plants.low >= MANY_PLANTS:
        liking *= 0.05
    unlent = world.season(on) - world.last_lent.get(variety.pk, world.season(on) - 2)
    if unlent >= 2:  # the coordinator asks for somebody to take it
        liking *= 3.0
    return liking


def _is_small(who: Borrower) -> bool:
    return who.garden is None or (who.garden.area_m2 or 0) < SMALL_M2


def lend(
    world: World,
    variety: Variety,
    who: Borrower,
    on: dt.date,
    *,
    ending: str | None = None,
    packet: Packet | None = None,
) -> Loan | None:
    """Hand a packet over the desk; None when none may be lent."""
    packet = packet or packet_of(variety)
    if packet is None:
        return None
    desk = world.at_desk(on)
    try:
        loan = lending.lend_packet(
            packet=packet, borrower=who.member, garden=who.garden, on=on, by=desk
        )
    except Refused:
        return None
    world.last_lent[variety.pk] = world.season(on)
    plan_ending(world, loan, variety, ending)
    return loan


def packet_by_key(pk: int) -> Packet:
    return Packet.objects.with_lot().get(pk=pk)


def packet_of(variety: Variety) -> Packet | None:
    """A packet of the newest lot that may be lent."""
    packets = Packet.objects.on_shelf().with_lot().filter(lot__variety=variety)
    lendable = packets.filter(lot__awaits_first_test=False, lot__withheld_reason="")
    return lendable.order_by("-lot__received_on", "-lot__pk", "pk").first()


def plan_ending(world: World, loan: Loan, variety: Variety, ending: str | None) -> None:
    """Decide how a loan will end, and on which day somebody says so."""
    if ending == IN_A_STORY:
        world.in_stories.add(loan.pk)
        return
    ending = ending or _ending(world, variety)
    if STILL_OUT_DAYS > (world.today - loan.due_on).days > 0 and world.rng.random() < STILL_OUT:
        return
    day = _ending_day(world, loan, ending)
    world.diary.on(day, partial(returns.end, world, loan.pk, ending, day))


def _ending(world: World, variety: Variety) -> str:
    if variety.breeding_status == "f1":
        return "nothing"
    return world.rng.choices(list(ENDINGS), list(ENDINGS.values()))[0]


def _ending_day(world: World, loan: Loan, ending: str) -> dt.date:
    if ending == "taken_back":
        return world.after(loan.lent_on, 20, 70)
    if ending == "failed":
        last = max(loan.due_on, loan.lent_on + dt.timedelta(days=80))
        return world.between(loan.lent_on + dt.timedelta(days=70), last)
    if ending == "kept_waiting":
        return world.after(loan.due_on, 20, 70)
    early = max(loan.lent_on + dt.timedelta(days=60), loan.due_on - dt.timedelta(days=60))
    return world.between(early, loan.due_on + dt.timedelta(days=6))


def seasons() -> range:
    """The eight seasons, and the one now running."""
    return range(SEASONS + 1)
