"""The valley's grow-out seasons: one that is over, one that runs, and in autumn the next.

Each has chance of its own, so that what people borrow besides stays as it was.
"""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from random import Random
from typing import Any

from django.db.models import Sum

from library.catalogue.models import BreedingStatus, LifeCycle, Variety
from library.demo import returns
from library.demo.dates import at
from library.demo.world import CHANCE, World
from library.errors import Conflict
from library.growouts.commitments.replacing import (
    Candidate,
    candidates_for,
    replacement_for,
)
from library.growouts.models import Cause, Commitment, GrowerOffer, Milestone, Season
from library.growouts.services import commitments, milestones, seasons
from library.growouts.services.rooms import Room
from library.lending import services as lending
from library.lending.models import Loan

GROWERS = 14
VARIETIES = 14
RENEWED = 11  # of the wanted, as many are annuals; the rest is what the season cannot place
TECHNIQUES = ("can_cage", "can_bag", "can_pollinate_by_hand")
Kind = Milestone.Kind
DECLINES, LAPSES, HAIL, NEGLECTED = 2, 4, 3, 6  # which of the season's offers

SAID = {
    Kind.SOWN: ("In after the rain.", "Sown in two rows, netted against pigeons.", ""),
    Kind.STAND: ("A few gaps where the slugs were.", "They stand well.", ""),
    Kind.ROGUED: ("Two that were taller than the rest went to the hens.", "All true.", ""),
    Kind.ISOLATED: ("Bags on, and checked each morning.", "Nobody near grows any.", ""),
    Kind.HARVESTED: ("Dry on the plant.", "Brought in under the roof before the storm.", ""),
    Kind.CLEANED: ("Winnowed on a windy day.", "Sieved twice.", ""),
}


@dataclass
class Year:
    """One season on its way; ``rng`` is its own chance."""

    world: World
    number: int
    rng: Random = field(init=False)
    stood: dict[int, int] = field(default_factory=dict)  # plants by commitment, once counted

    def __post_init__(self) -> None:
        self.rng = Random(CHANCE * 31 + self.number)  # noqa: S311 (a story)

    @property
    def year(self) -> int:
        return self.world.year(self.number)

    @property
    def season(self) -> Season:
        return Season.objects.get(year=self.year)

    def day(self, month: int, day: int) -> dt.date:
        """Of the season's year; months from September on are of the year before."""
        return dt.date(self.year - (month >= 9), month, day)

    @contextlib.contextmanager
    def chance(self) -> Iterator[None]:
        """What the rest of the demo leaves to chance is left to this season's meanwhile."""
        before, self.world.rng = self.world.rng, self.rng
        try:
            yield
        finally:
            self.world.rng = before


def plan(world: World) -> None:
    """The last of the eight seasons, the one that runs, and what is being prepared."""
    for number in (7, 8, 9):
        year = Year(world, number)
        for day, deed in (
            (year.day(11, 8), opened),
            (year.day(11, 14), wanted),
            (year.day(11, 18), offered),
            (year.day(1, 12), asked),
        ):
            world.diary.on(day, partial(_live, year, deed, day))


def _live(year: Year, deed: Any, on: dt.date, *facts: Any) -> None:
    with year.chance():
        deed(year, on, *facts)


def _later(year: Year, on: dt.date, deed: Any, *facts: Any) -> None:
    year.world.diary.on(on, partial(_live, year, deed, on, *facts))


# The winter before ------------------------------------------------------------------------
def opened(year: Year, on: dt.date) -> None:
    season = seasons.open_season(
        year=year.year,
        by=year.world.coordinator,
        offers_until=year.day(1, 10),
        note="Say what room you can spare. A short row of something rare is worth more than a "
        "long one of what everybody has.",
    )
    Season.objects.filter(pk=season.pk).update(opened_at=at(on, 19))


def wanted(year: Year, on: dt.date) -> None:
    """The rare ones and those of which least is left, of what can be renewed in a summer."""
    chosen = _scarcest(year.world)
    seasons.want_varieties(
        season=year.season, varieties=chosen, by=year.world.coordinator, most_growers=2
    )
    rare = [variety for variety in chosen if variety.is_rare]
    if rare:
        seasons.want_varieties(
            season=year.season,
            varieties=rare[:3],
            by=year.world.coordinator,
            weight=2,
            why="nobody else is known to keep it",
        )


def _scarcest(world: World) -> Sequence[Variety]:
    """Annual, open-pollinated, with seed on the shelf, not in the middle of a story."""
    cards = Variety.objects.filter(
        breeding_status__in=(BreedingStatus.OPEN_POLLINATED, BreedingStatus.LANDRACE),
        lots__custodian=None,
        lots__withheld_reason="",
        lots__foreign=None,
    ).exclude(pk__in=world.kept_apart)
    stocked = cards.annotate(seeds=Sum("lots__loose") + Sum("lots__packed"))
    rows = stocked.filter(seeds__gte=80).select_related("crop__species")
    annual = [v for v in rows if v.crop.life_cycle == LifeCycle.ANNUAL]
    biennial = [v for v in rows if v.crop.life_cycle == LifeCycle.BIENNIAL]
    annual.sort(key=lambda v: (not v.is_rare, v.seeds, v.pk))
    biennial.sort(key=lambda v: (v.seeds, v.pk))
    return annual[:RENEWED] + biennial[: VARIETIES - RENEWED]


def offered(year: Year, on: dt.date) -> None:
    """Growers say over some weeks what room they have."""
    names = [name for name in year.world.joined if year.world.gardens.get(name)]
    for name in year.rng.sample(names, min(GROWERS, len(names))):
        day = on + dt.timedelta(days=year.rng.randint(0, 24))
        _later(year, day, _offer_of, name)


def _offer_of(year: Year, on: dt.date, name: str) -> None:
    world = year.world
    if name not in world.joined:  # moved away meanwhile
        return
    rooms = []
    for garden in world.gardens[name][:2]:
        able = {way: year.rng.random() < 0.4 for way in TECHNIQUES}
        share = year.rng.choice((0.15, 0.2, 0.3))
        room = max(4, round(float(garden.area_m2 or 20) * share))
        rooms.append(Room(garden=garden, room_m2=room, **able))
    member = world.people[name]
    offer = seasons.offer_gardens(
        season=year.season,
        member=member,
        gardens=rooms,
        most=year.rng.choice((1, 2, 2, 3)),
        on=on,
        by=member,
    )
    GrowerOffer.objects.filter(pk=offer.pk).update(made_at=at(on, 20))


# January: who is asked, and what growers answer --------------------------------------------
def asked(year: Year, on: dt.date) -> None:
    """The dearest first, each with up to two growers who can. Without a plan: what the solver
    finds may depend on how long it took, and the same day must make the same community.
    """
    season, by = year.season, year.world.coordinator
    number = 0
    wanted = season.wanted.select_related("variety__crop__species")
    for row in wanted.order_by("-weight", "pk"):
        found = candidates_for(season=season, variety=row.variety, plants=None, on=on)
        for one in _apart(found)[: row.most_growers]:
            commitment = commitments.offer(
                season=season,
                variety=row.variety,
                garden=one.garden,
                technique=one.technique,
                by=by,
                on=on,
            )
            Commitment.objects.filter(pk=commitment.pk).update(offered_at=at(on, 11))
            day = on + dt.timedelta(days=year.rng.randint(1, 10))
            _later(year, day, _answer, commitment.pk, number)
            number += 1
    lapsed = on + dt.timedelta(days=15)
    _later(year, lapsed, lambda _year, day: commitments.lapse_unanswered(on=day))
    _later(year, dt.date(year.year, 12, 20), _close)
    _later(year, dt.date(year.year + 1, 11, 25), _close)  # once its biennials are in


def _apart(found: Sequence[Candidate]) -> list[Candidate]:
    """One garden of each grower."""
    by_grower: dict[int, Candidate] = {}
    for one in found:
        by_grower.setdefault(one.garden_offer.offer.member_id, one)
    return list(by_grower.values())


def _answer(year: Year, on: dt.date, pk: int, number: int) -> None:
    commitment = Commitment.objects.select_related("grower", "garden", "season").get(pk=pk)
    if number == LAPSES or not commitment.is_offered:
        return
    if number == DECLINES:
        commitments.decline(
            commitment=commitment,
            on=on,
            by=commitment.grower,
            note="I shall be away in May, and it would stand in weeds.",
        )
        return
    _promise(year, on, commitment, number)


def _promise(year: Year, on: dt.date, commitment: Commitment, number: int) -> None:
    commitments.accept(commitment=commitment, on=on, by=commitment.grower)
    collected = max(on + dt.timedelta(days=1), year.world.swap_day(year.number))
    _later(year, collected, _collect, commitment.pk)
    hail = dt.date(year.year, 5, 24)
    for step in commitment.milestones.order_by("step"):
        if number == NEGLECTED and step.step > 2:
            break  # nothing more was heard of it
        day = step.due_on + dt.timedelta(days=year.rng.randint(-3, 6))
        if number == HAIL and day >= hail:
            continue
        if step.kind != Kind.RETURNED:
            _later(year, max(day, collected), _report, step.pk)
        else:
            _later(year, step.due_on - dt.timedelta(days=2), _return, commitment.pk)
    if number == HAIL:
        _later(year, hail, _hail, commitment.pk)


# The summer -------------------------------------------------------------------------------
def _collect(year: Year, on: dt.date, pk: int) -> None:
    waiting = Loan.objects.open().filter(commitment_link__commitment=pk, handed_over_on=None)
    for loan in waiting.order_by("pk"):
        lending.hand_over(loan=loan, on=on, by=year.world.at_desk(on))


def _report(year: Year, on: dt.date, pk: int) -> None:
    step = Milestone.objects.select_related("commitment__grower").get(pk=pk)
    if not step.commitment.is_growing:
        return
    plants, promise = step.commitment.plants, step.commitment_id
    stood = year.stood.get(promise, plants)
    counted = {
        Kind.SOWN: plants * 2,
        Kind.STAND: round(plants * year.rng.uniform(0.8, 1.2)),
        Kind.ROGUED: year.rng.choice((0, 0, 1, 2)),
        Kind.HARVESTED: round(stood * year.rng.uniform(0.7, 0.95)),
    }
    kind = Kind(step.kind)
    if kind == Kind.STAND:
        year.stood[promise] = counted[kind]
    report = milestones.report_milestone(
        milestone=step,
        on=on,
        today=on,
        by=step.commitment.grower,
        counted=counted.get(kind),
        note=year.rng.choice(SAID[kind]),
    )
    type(report).objects.filter(pk=report.pk).update(reported_at=at(on, 21))


def _hail(year: Year, on: dt.date, pk: int) -> None:
    """Nothing is left standing; whoever still can takes over, if the summer allows it."""
    commitment = Commitment.objects.select_related("grower", "season", "variety__crop").get(
        pk=pk
    )
    if not commitment.is_growing:
        return
    commitments.fail(
        commitment=commitment,
        cause=Cause.HAIL,
        on=on,
        by=commitment.grower,
        note="Twenty minutes on Saturday. There is not a leaf left on anything.",
    )
    found = replacement_for(commitment, on=on).candidates
    if not found:
        return
    again = commitments.offer_replacement(
        failed=commitment, garden=found[0].garden, on=on, by=year.world.coordinator
    )
    Commitment.objects.filter(pk=again.pk).update(offered_at=at(on, 22))
    _later(year, on + dt.timedelta(days=1), _take_over, again.pk)


def _take_over(year: Year, on: dt.date, pk: int) -> None:
    commitment = Commitment.objects.select_related("grower", "garden", "season").get(pk=pk)
    _promise(year, on, commitment, number=-1)


def _return(year: Year, on: dt.date, pk: int) -> None:
    """All packets of a promise come back together, as one lot."""
    commitment = Commitment.objects.get(pk=pk)
    out = Loan.objects.open().filter(commitment_link__commitment=pk).order_by("pk").first()
    if out is None or not commitment.is_growing or not out.is_collected:
        return
    facts = milestones.growing_facts_of(commitment)
    returns.bring_back(year.world, returns.loan_of(out.pk), on, **facts)


def _close(year: Year, on: dt.date) -> None:
    """What nobody heard of is written off first; a biennial keeps its season open."""
    if year.season.is_over:
        return
    by = year.world.coordinator
    for commitment in Commitment.objects.growing().filter(season=year.season).order_by("pk"):
        late = commitment.milestones.filter(kind=Kind.RETURNED, due_on__lt=on).exists()
        if late:
            commitments.fail(
                commitment=commitment,
                cause=Cause.NEGLECT,
                on=on,
                by=by,
                note="No word since the stand was counted.",
            )
    with contextlib.suppress(Conflict):
        seasons.close_season(season=year.season, on=on, by=by)
