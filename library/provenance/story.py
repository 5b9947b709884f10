"""The story of a lot: who brought it, how each generation was grown, who holds what now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from accounts.models import Community
from library.germination.models import BenchRules, GerminationTest
from library.germination.results import TestResult, result_of
from library.provenance import words
from library.provenance.chain import Chain, came_about, growing_of
from library.provenance.models import OffTypeReport
from library.provenance.purity import ChainPurity, LinkJudgement
from library.stock.models import Growing, Lot, LotAmendment, Origin
from library.stock.views.lots import field_label

MOST_TESTS = 3  # of one lot; its own page has the others


@dataclass(frozen=True)
class Parent:
    """A lot that another was made of, and its share of it, 0 to 1."""

    lot: Lot
    share: float

    @property
    def percent(self) -> str:
        return words.share(self.share)


@dataclass(frozen=True)
class Amended:
    """What was corrected, with the field's own label."""

    amendment: LotAmendment
    label: str


@dataclass(frozen=True)
class Step:
    """One lot of the story with all that is told of it."""

    lot: Lot
    parents: Sequence[Parent]
    judged: LinkJudgement | None = None
    reports: Sequence[OffTypeReport] = ()
    tests: Sequence[tuple[GerminationTest, TestResult]] = ()
    amendments: Sequence[Amended] = ()

    @property
    def growing(self) -> Growing | None:
        return growing_of(self.lot)

    @property
    def came_about(self) -> str:
        return came_about(self.lot)

    @property
    def is_clonal(self) -> bool:
        """Whether it is grown from plant parts, so that pollen does not matter."""
        return self.lot.variety.crop.is_counted_in_plant_parts

    @property
    def was_grown(self) -> bool:
        """Whether it was sown and harvested in the chain: not brought, not mixed."""
        return self.came_about == Origin.RETURN

    @property
    def is_part(self) -> bool:
        """Whether it came out of another library's jar: brought, with a known past."""
        return self.came_about == Origin.DEPOSIT and bool(self.parents)

    @cached_property
    def sentences(self) -> list[str]:
        """What is told of how it came to be, unknown things included."""
        return words.of_step(self)


@dataclass(frozen=True)
class Chapter:
    """The lots of one generation since the chain began; the first is number 0."""

    number: int
    steps: Sequence[Step]
    here: str = ""

    @property
    def places(self) -> str:
        """Where its stands were, as a coarse region: ours, and those of other libraries."""
        grown = [step.lot for step in self.steps if step.was_grown]
        regions = [lot.foreign.place if lot.is_elsewhere else self.here for lot in grown]
        return "; ".join(dict.fromkeys(region for region in regions if region))

    @property
    def heading(self) -> str:
        return words.chapter(self.number, [step.lot.harvest_year for step in self.steps])


@dataclass(frozen=True)
class Overview:
    """The chain in short: counts that a few sentences are made of."""

    lot: Lot
    beginnings: Sequence[Lot]
    generations: int
    grown: int
    elsewhere: int
    fewest: Lot | None
    untold: int

    @cached_property
    def sentences(self) -> list[str]:
        return words.overview(self)


def generations(chain: Chain) -> Mapping[int, int]:
    """How many times each lot's seed was grown on, at most, since the chain began.

    Mixing lots and taking seed out of another library's jar is no generation.
    """
    found: dict[int, int] = {}
    for lot in chain.order:
        before = [found[link.parent] for link in chain.parents.get(lot.pk, ())]
        grown = came_about(lot) == Origin.RETURN
        found[lot.pk] = max(before, default=0) + (grown and bool(before))
    return found


def overview(chain: Chain) -> Overview:
    """The chain in short; no query beyond the chain's."""
    grown = [lot for lot in chain.order if came_about(lot) == Origin.RETURN]
    counted = [lot for lot in grown if _gave_seed(lot) is not None]
    return Overview(
        lot=chain.lots[chain.lot.pk],
        beginnings=[lot for lot in chain.order if not chain.parents.get(lot.pk)],
        generations=generations(chain)[chain.lot.pk],
        grown=len(grown),
        elsewhere=sum(lot.is_elsewhere for lot in chain.order if lot.pk != chain.lot.pk),
        fewest=min(counted, key=lambda lot: (_gave_seed(lot), lot.pk), default=None),
        untold=len(grown) - len(counted),
    )


def _gave_seed(lot: Lot) -> int | None:
    growing = growing_of(lot)
    return growing.plants_gave_seed if growing else None


def in_order(chain: Chain) -> list[Lot]:
    """The lots as the story tells them: by generation, oldest first."""
    number = generations(chain)
    return sorted(chain.order, key=lambda lot: (number[lot.pk], lot.harvest_year or 0, lot.pk))


def chapters(
    chain: Chain,
    lots: Sequence[Lot],
    *,
    purity: ChainPurity,
    carried: Mapping[int, list[OffTypeReport]],
    for_desk: bool,
) -> list[Chapter]:
    """The chapters about these lots of the chain; six queries, however many there are."""
    number, place = generations(chain), Community.current().place
    tests, amendments = _tests(lots), _amendments(lots, for_desk=for_desk)
    told: dict[int, list[Step]] = defaultdict(list)
    for lot in lots:
        links = chain.parents.get(lot.pk, ())
        step = Step(
            lot=lot,
            parents=[Parent(chain.lots[link.parent], link.share) for link in links],
            judged=purity.links.get(lot.pk),
            reports=[r for r in carried.get(lot.pk, ()) if r.lot_id == lot.pk],
            tests=tests.get(lot.pk, ()),
            amendments=amendments.get(lot.pk, ()),
        )
        told[number[lot.pk]].append(step)
    return [Chapter(n, told[n], place) for n in sorted(told)]


def _tests(lots: Sequence[Lot]) -> Mapping[int, list[tuple[GerminationTest, TestResult]]]:
    """The newest closed tests of each lot, with what they found."""
    rules = BenchRules.current()
    closed = GerminationTest.objects.closed().filter(lot__in=[lot.pk for lot in lots])
    found: dict[int, list[Any]] = defaultdict(list)
    for test in closed.with_results().order_by("-closed_on", "-pk"):
        if len(found[test.lot_id]) < MOST_TESTS:
            found[test.lot_id].append((test, result_of(test, rules=rules)))
    return found


def _amendments(lots: Sequence[Lot], *, for_desk: bool) -> Mapping[int, list[Amended]]:
    """What was corrected; why a lot was withheld is for the desk."""
    rows = LotAmendment.objects.filter(lot__in=[lot.pk for lot in lots])
    rows = rows.select_related("amended_by").order_by("amended_at", "pk")
    found: dict[int, list[Amended]] = defaultdict(list)
    for row in rows if for_desk else rows.exclude(field="withheld"):
        found[row.lot_id].append(Amended(row, field_label(row.field)))
    return found


def holders(up: Chain, down: Chain) -> list[Lot]:
    """The lots of the chain, before and after, of which seed is left; the most seed first."""
    lots = {**down.lots, **up.lots}
    return sorted(
        (lot for lot in lots.values() if lot.balance), key=lambda lot: (-lot.balance, lot.pk)
    )
