"""A line being stabilised from an F1: which generation a lot is, and how far it came."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from library.catalogue.models import BreedingStatus
from library.provenance.chain import Chain
from library.provenance.mating import is_grown, selfing_rate
from library.science.lines import (
    SOURCE,
    generation_true_to,
    heterozygosity_at_last,
    heterozygosity_in_line,
    homozygosity_in_line,
)

LEVELS = (0.95, 0.99)
FROM_A_CROSS = (BreedingStatus.F1, BreedingStatus.SEGREGATING, BreedingStatus.STABILISED)
FIRST_OF_A_LINE = 2  # what is called a segregating line is an F2 at least


@dataclass(frozen=True)
class LineProgress:
    """How far a lot is on its way from an F1 to breeding true.

    ``generation`` is that of its seeds, 1 for the F1. ``counted`` says whether it was counted
    along the chain from an F1, or taken from the card. ``remarks`` are translated sentences:
    where the reports of its generation differ, or are not certain.
    """

    generation: int
    selfing_rate: float
    counted: bool
    remarks: tuple[str, ...] = ()
    source: str = SOURCE

    @property
    def heterozygosity(self) -> float:
        """The share of the genes at which the F1's parents differed that still vary within a
        plant.
        """
        return heterozygosity_in_line(self.generation, self.selfing_rate)

    @property
    def at_last(self) -> float:
        """The share that goes on varying however long the line is grown."""
        return heterozygosity_at_last(self.selfing_rate)

    def homozygosity(self, genes: int = 1) -> float:
        """The chance that a plant is fixed at all of so many genes."""
        return homozygosity_in_line(self.generation, self.selfing_rate, genes)

    def true_to(self, level: float, genes: int = 1) -> int | None:
        """The first generation that breeds true to this level; None if none ever does."""
        return generation_true_to(level, self.selfing_rate, genes)

    def course(self, until: int) -> list[tuple[int, float]]:
        """Each generation from the F1 with its heterozygosity, up to one."""
        return [(n, heterozygosity_in_line(n, self.selfing_rate)) for n in range(1, until + 1)]


def line_of(chain: Chain) -> LineProgress | None:
    """The line that a chain's lot belongs to; None where it is of no cross that is known.

    The generation is counted along the chain from the F1 where there is one in it; by several
    ways of different length the shortest counts, since it leaves most to settle.
    """
    variety = chain.lots[chain.lot.pk].variety
    if variety.breeding_status not in FROM_A_CROSS:
        return None
    rate = selfing_rate(variety.crop.species)
    ways, from_elsewhere = _grown_since_an_f1(chain)
    if ways is not None:
        remarks = _counted_remarks(ways, variety.generation, from_elsewhere)
        return LineProgress(1 + ways[0], rate, True, remarks)
    if variety.breeding_status != BreedingStatus.SEGREGATING:
        return None
    generation, remarks = _by_the_card(variety.generation, _fewest_since_deposit(chain))
    return LineProgress(generation, rate, False, remarks)


def _grown_since_an_f1(chain: Chain) -> tuple[tuple[int, int] | None, bool]:
    """The fewest and the most times it was grown on since an F1, and whether some of the lot
    comes from no F1.
    """
    ways: dict[int, tuple[int, int]] = {}
    mixed: set[int] = set()
    for lot in chain.order:
        if lot.variety.breeding_status == BreedingStatus.F1:
            ways[lot.pk] = (0, 0)
            continue
        parents = [link.parent for link in chain.parents.get(lot.pk, [])]
        known = [ways[parent] for parent in parents if parent in ways]
        if not known:
            continue
        if len(known) < len(parents) or mixed.intersection(parents):
            mixed.add(lot.pk)
        more = int(is_grown(chain, lot))
        ways[lot.pk] = (min(w[0] for w in known) + more, max(w[1] for w in known) + more)
    return ways.get(chain.lot.pk), chain.lot.pk in mixed


def _fewest_since_deposit(chain: Chain) -> int:
    fewest: dict[int, int] = {}
    for lot in chain.order:
        parents = [fewest[link.parent] for link in chain.parents.get(lot.pk, [])]
        fewest[lot.pk] = min(parents, default=0) + int(is_grown(chain, lot))
    return fewest[chain.lot.pk]


def _counted_remarks(
    ways: tuple[int, int], on_card: int | None, from_elsewhere: bool
) -> tuple[str, ...]:
    fewest, most = 1 + ways[0], 1 + ways[1]
    remarks = []
    if fewest != most:
        remarks.append(
            _(
                "It descends from the F1 by ways of different length: F%(fewest)s to "
                "F%(most)s. It is counted as F%(fewest)s, of which most is still to settle."
            )
            % {"fewest": fewest, "most": most}
        )
    if on_card is not None and not fewest <= on_card <= most:
        remarks.append(
            _(
                "The variety's card says F%(card)s, and counted from the F1 this lot is "
                "F%(counted)s. The count is used; the card may speak of another lot."
            )
            % {"card": on_card, "counted": fewest}
        )
    if from_elsewhere:
        remarks.append(_("Some of it comes from seed of which no F1 is in the chain."))
    return tuple(remarks)


def _by_the_card(on_card: int | None, grown: int) -> tuple[int, tuple[str, ...]]:
    card = on_card or FIRST_OF_A_LINE
    at_least = FIRST_OF_A_LINE + grown
    if card < at_least:
        remark = ngettext(
            "The variety's card says F%(card)s, but seed was grown on %(n)s time since it was "
            "brought as F2 or later: it is F%(least)s at least, which is used.",
            "The variety's card says F%(card)s, but seed was grown on %(n)s times since it was "
            "brought as F2 or later: it is F%(least)s at least, which is used.",
            grown,
        )
        return at_least, (remark % {"card": card, "n": grown, "least": at_least},)
    remark = _(
        "No F1 is in the chain to count from: the variety's card says F%(card)s today, which "
        "may be said of a younger lot."
    )
    return card, (remark % {"card": card},)
