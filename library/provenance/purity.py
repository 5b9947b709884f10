"""How sure it is that no stand of a chain was crossed: it is as good as its weakest link.

Each stand is judged by what its grower noted and by other plantings of the species that the
library knew to flower that year. Where those grew is nobody's business: of other gardens only
coordinators are told that one was nearer than is needed; everybody is told of another planting
in the stand's own garden, and neither of what, nor how near.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from library.catalogue.models import BreedingStatus, Caution, SpeciesFigure
from library.provenance import purity_words
from library.provenance.chain import Chain, came_about, growing_of
from library.provenance.plantings import Planting, known_plantings
from library.science.isolation import (
    IsolationVerdict,
    Neighbour,
    Pollination,
    Technique,
)
from library.science.purity import ChainStand, Grade, StandJudgement, judge_stand, weakest_of
from library.science.reasons import COMMON_PRACTICE, because
from library.stock.models import Growing, Lot, Origin

Quantity = SpeciesFigure.Quantity
BITTER_FAMILY = "Cucurbitaceae"


@dataclass(frozen=True)
class Distances:
    """How far a species is kept from others of it: a home garden's figure, and the one for
    certified seed. None where none was found.
    """

    home: SpeciesFigure | None = None
    certified: SpeciesFigure | None = None

    @property
    def required_m(self) -> float | None:
        figure = self.home
        return None if figure is None or figure.number is None else float(figure.number)


@dataclass(frozen=True)
class LinkJudgement:
    """A stand, by the lot that was harvested from it. Safe for who it was judged for.

    ``verdict`` holds only what its grower noted: where another planting that the library knows
    decides, it names no neighbour and no distance to one.
    """

    lot: Lot
    grade: Grade
    verdict: IsolationVerdict | None
    sentence: str
    share: float
    distances: Distances = Distances()

    @property
    def growing(self) -> Growing | None:
        return growing_of(self.lot)


@dataclass(frozen=True)
class ChainPurity:
    """The stands of a chain by their lots' keys, and the one that decides."""

    links: Mapping[int, LinkJudgement]
    weakest: LinkJudgement | None
    grade: Grade
    sentence: str

    @property
    def weak(self) -> list[LinkJudgement]:
        return [link for link in self.links.values() if link.grade is Grade.WEAK]

    @property
    def distances(self) -> list[Distances]:
        """What the stands were measured against, each species once."""
        grown = (link for link in self.links.values() if link.grade is not Grade.NOTHING_GREW)
        of_species = {link.lot.variety.crop.species_id: link.distances for link in grown}
        return list(of_species.values())


@dataclass(frozen=True)
class KnownNeighbour:
    """For coordinators alone: a planting that was nearer to a stand than is needed."""

    stand: Lot
    lot: Lot
    distance_m: float
    required_m: float


def judge(chain: Chain, *, for_coordinator: bool) -> ChainPurity:
    """Judge every stand that the chain's seed came through; four queries at most.

    ``for_coordinator`` by where other gardens lie too. Whoever else reads a lot must not be
    told what follows from that, not even as a grade.
    """
    distances = _distances(chain)
    known = known_plantings(chain, _required(distances), elsewhere=for_coordinator)
    links: dict[int, LinkJudgement] = {}
    stands: list[ChainStand] = []
    for lot in chain.order:
        share = chain.relative(lot).share
        if (nothing := _nothing_grew(lot, chain)) is not None:
            links[lot.pk] = LinkJudgement(lot, Grade.NOTHING_GREW, None, nothing, share)
            continue
        if _starts_untold(lot, chain):
            continue
        of_species = distances.get(lot.variety.crop.species_id, Distances())
        told = _told(lot, of_species.required_m, known.near.get(lot.pk, ()))
        sentence = purity_words.sentence(
            told.verdict,
            lot,
            looked_for=lot.pk in known.looked_for,
            for_coordinator=for_coordinator,
        )
        links[lot.pk] = LinkJudgement(
            lot, told.grade, told.verdict, sentence, share, of_species
        )
        stands.append(ChainStand(lot.pk, told.grade, told.shortfall, share))
    deciding = weakest_of(stands)
    weakest = None if deciding is None else links[deciding.key]  # type: ignore[index]
    grade = Grade.NOTHING_GREW if weakest is None else weakest.grade
    return ChainPurity(links, weakest, grade, _whole(weakest, len(stands)))


def details_for_coordinator(chain: Chain) -> list[KnownNeighbour]:
    """Which plantings were nearer to the chain's stands than is needed, the oldest stand first
    and its nearest first. Coordinators alone may see this. Five queries at most.
    """
    required = _required(_distances(chain))
    near = known_plantings(chain, required, elsewhere=True).near
    keys = {planting.lot for plantings in near.values() for planting in plantings}
    lots = Lot.objects.with_variety().with_people().in_bulk(keys) if keys else {}
    return [
        KnownNeighbour(
            chain.lots[pk],
            lots[planting.lot],
            planting.distance_m,
            required[chain.lots[pk].variety.crop.species_id],
        )
        for pk in sorted(near)
        for planting in sorted(near[pk], key=lambda planting: planting.distance_m)
    ]


def cautions_about(lots: Iterable[Lot]) -> list[Caution]:
    """The usual cautions where lots of the cucumber family are in doubt: the fruit of crossed
    ones can be poisonous. One query, none for other families.
    """
    species = {lot.variety.crop.species for lot in lots}
    bitter = [each.pk for each in species if each.family == BITTER_FAMILY]
    if not bitter:
        return []
    return list(Caution.objects.filter(species__in=bitter).distinct().order_by("topic"))


def _distances(chain: Chain) -> dict[int, Distances]:
    """The isolation distances of the chain's species: one query."""
    rows = SpeciesFigure.objects.filter(
        species__in={lot.variety.crop.species_id for lot in chain.lots.values()},
        quantity__in=[Quantity.ISOLATION_HOME_M, Quantity.ISOLATION_CERTIFIED_M],
    ).select_related("species")
    found: dict[int, dict[str, SpeciesFigure]] = {}
    for row in rows:
        found.setdefault(row.species_id, {})[row.quantity] = row
    return {
        species: Distances(
            figures.get(Quantity.ISOLATION_HOME_M), figures.get(Quantity.ISOLATION_CERTIFIED_M)
        )
        for species, figures in found.items()
    }


def _required(distances: Mapping[int, Distances]) -> dict[int, float]:
    """The metres that each species needs, where any are."""
    return {species: each.required_m for species, each in distances.items() if each.required_m}


def _nothing_grew(lot: Lot, chain: Chain) -> str | None:
    """Why a lot was not grown from its parents in open pollen; None where it was."""
    origin = came_about(lot)
    if origin == Origin.BULK:
        return purity_words.bulked()
    if lot.variety.breeding_status == BreedingStatus.CLONE or _is_clonal(lot):
        return purity_words.replanted()
    if origin == Origin.DEPOSIT and chain.parents.get(lot.pk):
        return purity_words.taken_from_a_jar()
    return None


def _is_clonal(lot: Lot) -> bool:
    clonal = lot.variety.crop.species.pollination == Pollination.CLONAL
    return clonal or lot.variety.crop.is_counted_in_plant_parts


def _starts_untold(lot: Lot, chain: Chain) -> bool:
    """Whether the chain starts with it, and nobody told how it had been isolated."""
    if chain.parents.get(lot.pk) or came_about(lot) != Origin.DEPOSIT:
        return False
    growing = growing_of(lot)
    if growing is None:
        return True
    return growing.isolation == Technique.UNKNOWN and growing.isolation_distance_m is None


def _told(lot: Lot, required_m: float | None, plantings: Sequence[Planting]) -> StandJudgement:
    """The judgement, without anything of the planting that decides it.

    By how much a known planting was too near is not told, so it ranks after those whose
    shortfall was noted: the order must not give the distance away.
    """
    growing = growing_of(lot)
    facts = {
        "required_m": required_m,
        "technique": Technique(growing.isolation) if growing else Technique.UNKNOWN,
        "pollination": Pollination(lot.variety.crop.species.pollination),
        "noted_m": growing.isolation_distance_m if growing else None,
        "noted_neighbour": growing.crossing_neighbour if growing else "",
    }
    noted = judge_stand(**facts)  # type: ignore[arg-type]
    known = [Neighbour("", planting.distance_m) for planting in plantings]
    whole = judge_stand(**facts, known=known)  # type: ignore[arg-type]
    if whole.grade == noted.grade or required_m is None:
        return noted
    unsure = whole.grade is Grade.UNKNOWN
    key = "purity_known_planting_flowering" if unsure else "purity_known_planting"
    why = because(key, COMMON_PRACTICE, required_m=round(required_m, 1))
    verdict = IsolationVerdict(whole.verdict.status, None, 0.0, why)
    return StandJudgement(whole.grade, verdict, 0.0)


def _whole(weakest: LinkJudgement | None, stands: int) -> str:
    if weakest is None:
        return purity_words.nothing_grown()
    return purity_words.of_chain(weakest.grade, weakest.lot, weakest.sentence, stands)
