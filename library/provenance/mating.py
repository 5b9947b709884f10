"""A chain of lots as the plain data that the science measures: how each lot's seed came about.

The keys are the lots' numbers. What the rows do not say is taken for granted here or in
`library.science.chains`, and each such thing is named by a reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from library.catalogue.models import BreedingStatus, CountedAs, Pollination, Species
from library.provenance.chain import Chain, came_about, growing_of
from library.provenance.walking import Link
from library.science.chains import MOST_PLANTS, Mating
from library.science.lines import heterozygosity_in_line
from library.science.reasons import COMMON_PRACTICE, Reason, because
from library.stock.models import Lot, Origin

# The share of seeds from a plant's own pollen. Reference tables have words, no rates.
SELFING_RATES: Mapping[str, float] = {Pollination.SELF: 1.0, Pollination.MOSTLY_SELF: 0.8}
_WHY = {
    Pollination.SELF: (
        "chain_selfing_rate",
        "common practice, no source: the limit; textbooks (from memory) allow a "
        "self-pollinating crop up to about 5 crosses in 100 seeds, which would leave a little "
        "more",
    ),
    Pollination.MOSTLY_SELF: (
        "chain_selfing_rate_mostly",
        "common practice, no source: textbooks (from memory) call a crop often crossed from "
        "about 5 to 50 crosses in 100 seeds; 20 are taken",
    ),
}


def selfing_rate(species: Species) -> float:
    """The share of a species' seeds that come from a plant's own pollen; 0 where pollen of
    all plants mixes.
    """
    return SELFING_RATES.get(species.pollination, 0.0)


def described(chain: Chain) -> tuple[dict[str, Any], list[Reason]]:
    """The chain as plain data, and what had to be taken for granted to make it."""
    describing = _Describing(chain)
    lots = {lot.number: describing.record(lot) for lot in chain.order}
    return {"lot": chain.lot.number, "lots": lots}, describing.reasons()


class _Describing:
    def __init__(self, chain: Chain) -> None:
        self.chain = chain
        self.taken: list[Reason] = []
        self.pollinations: set[str] = set()

    def reasons(self) -> list[Reason]:
        rates = [
            because(key, source, selfing_percent=100 * SELFING_RATES[pollination])
            for pollination, (key, source) in _WHY.items()
            if pollination in self.pollinations
        ]
        return [*rates, *self.taken]

    def record(self, lot: Lot) -> dict[str, Any]:
        links = self.chain.parents.get(lot.pk, [])
        if not links:
            return self._deposit(lot)
        if came_about(lot) != Origin.RETURN:
            return {"parents": self._shares(links), "mating": Mating.BULK}
        if crossed := self._crossed(lot, links):
            return crossed
        return {"parents": self._shares(links)} | self._grown(lot)

    def _grown(self, lot: Lot) -> dict[str, Any]:
        plants = _plants_of(lot)
        if is_clonal(lot):
            return {"mating": Mating.CLONAL} | plants
        if lot.variety.crop.species.dioecious:
            told = {"females": plants.pop("plants", None), "males": _pollen_plants_of(lot)}
            known = {sex: count for sex, count in told.items() if count is not None}
            return {"mating": Mating.DIOECIOUS} | plants | known
        return self._pollination(lot) | plants

    def _pollination(self, lot: Lot) -> dict[str, Any]:
        species = lot.variety.crop.species
        if species.pollination not in SELFING_RATES:
            return {"mating": Mating.OUTCROSSING}
        self.pollinations.add(species.pollination)
        return {"mating": Mating.SELFING, "selfing_rate": selfing_rate(species)}

    def _deposit(self, lot: Lot) -> dict[str, Any]:
        status = lot.variety.breeding_status
        if status in (BreedingStatus.F1, BreedingStatus.SEGREGATING):
            self.pollinations.add(lot.variety.crop.species.pollination)  # of the line to come
        if status == BreedingStatus.CLONE and is_clonal(lot):
            self._take("chain_deposit_clone", lot)
            return {"inbreeding": 0, "coancestry": 0.5}
        if status == BreedingStatus.F1:
            self._take("chain_deposit_f1", lot)
            return {"inbreeding": 0, "coancestry": 0.5}
        if status == BreedingStatus.SEGREGATING:
            return self._segregating(lot)
        if is_clonal(lot) or lot.variety.crop.species.dioecious:
            return {}
        return self._pollination(lot)

    def _segregating(self, lot: Lot) -> dict[str, Any]:
        generation = lot.variety.generation or 2
        self._take("chain_deposit_segregating", lot, generation=generation)
        rate = selfing_rate(lot.variety.crop.species)
        left = heterozygosity_in_line(generation, rate)
        return {"inbreeding": 1 - left, "coancestry": 0.5}

    def _crossed(self, lot: Lot, links: Iterable[Link]) -> dict[str, Any]:
        """The record of a lot that is a first cross of other varieties; empty if it is none."""
        if lot.variety.breeding_status != BreedingStatus.F1:
            return {}
        by_variety: dict[int, list[Link]] = {}
        for link in links:
            by_variety.setdefault(self.chain.lots[link.parent].variety_id, []).append(link)
        if lot.variety_id in by_variety or len(by_variety) > 2:
            return {}
        if len(by_variety) == 1:
            self._take("chain_cross_half_known", lot)
            return {}
        mothers, fathers = by_variety.values()
        self._take("chain_cross_sides", lot, mother=self.chain.lots[mothers[0].parent].number)
        told = {"pollen_plants": _pollen_plants_of(lot)} | _plants_of(lot)
        return {
            "mating": Mating.CROSS,
            "parents": self._shares(mothers),
            "pollen_parents": self._shares(fathers),
        } | {name: count for name, count in told.items() if count is not None}

    def _shares(self, links: Iterable[Link]) -> dict[str, float]:
        """Each parent's part of the whole, which the kept decimals may miss a little."""
        parts = {self.chain.lots[link.parent].number: link.share for link in links}
        whole = sum(parts.values())
        return {number: part / whole for number, part in parts.items()}

    def _take(self, key: str, lot: Lot, **inputs: Any) -> None:
        self.taken.append(because(key, COMMON_PRACTICE, lot=lot.number, **inputs))


def is_clonal(lot: Lot) -> bool:
    """Whether it is counted in tubers, cloves or slips, and not in seeds."""
    return lot.counted_as != CountedAs.SEED


def is_grown(chain: Chain, lot: Lot) -> bool:
    """Whether a lot of the chain was grown from lots of it, not divided or poured together."""
    return bool(chain.parents.get(lot.pk)) and came_about(lot) == Origin.RETURN


def _plants_of(lot: Lot) -> dict[str, int]:
    growing = growing_of(lot)
    told = {
        "plants": growing and growing.plants_gave_seed,
        "stood": growing and growing.plants_stood,
    }
    return {name: min(count, MOST_PLANTS) for name, count in told.items() if count}


def _pollen_plants_of(lot: Lot) -> int | None:
    growing = growing_of(lot)
    count = growing and growing.pollen_plants
    return min(count, MOST_PLANTS) if count else None
