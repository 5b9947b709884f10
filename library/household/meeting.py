"""Which of a member's own plantings would meet: those on the list, and what else they grow.

Nothing here reads what anybody else grows. Whoever could enter plantings and read what comes
near them would find the neighbours' gardens; so a page says the same whatever they grow.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library.catalogue.models import SpeciesFigure, Variety
from library.growouts.models import Commitment, OwnPlanting
from library.growouts.plans.given import seasons_bound
from library.household.listed import Listed
from library.household.models import SavedVariety, SavingPlan
from library.science.crossing import Meeting, Stand, meetings
from library.science.isolation import Pollination, Technique, distance_m


@dataclass(frozen=True)
class Known:
    """What a stand is called, where it grows, and which row of ours it is."""

    name: str
    garden: Garden
    kind: str  # "list", "planting", "promise" or "other_list"
    url: str = ""


@dataclass(frozen=True)
class OwnStands:
    """Everything of a member's that could flower beside what is on a list."""

    plan: SavingPlan
    stands: tuple[Stand, ...]
    known: dict[str, Known]

    def meetings(self) -> list[Meeting]:
        """Pairs of which at least one is on the list, the worst first."""
        found = meetings(self.stands, self.distance)
        return [
            each
            for each in found
            if "list" in (self.known[each.one.key].kind, self.known[each.other.key].kind)
        ]

    def distance(self, one: Stand, other: Stand) -> float | None:
        """Metres between two of the member's own stands; None where a place is not known.

        Within the garden they are set as far apart as two beds of it can be.
        """
        here, there = self.known[one.key].garden, self.known[other.key].garden
        return distance_between(here, there, within_m=self._within(here))

    def _within(self, garden: Garden) -> float:
        return float(self.plan.apart_m or 0) if garden.pk == self.plan.garden_id else 0.0


def distance_between(one: Garden, other: Garden, *, within_m: float) -> float | None:
    """Metres between two gardens of one member, along the ellipsoid; None unless both are
    placed exactly.
    """
    if one.pk == other.pk:
        return within_m
    if not (_is_placed(one) and _is_placed(other)):
        return None
    return distance_m(
        lat1=float(one.latitude or 0),
        lon1=float(one.longitude or 0),
        lat2=float(other.latitude or 0),
        lon2=float(other.longitude or 0),
    )


def _is_placed(garden: Garden) -> bool:
    return garden.placed == Garden.Placed.EXACT and garden.latitude is not None


def own_stands(
    plan: SavingPlan, listed: Iterable[Listed], *, years: Iterable[int] = ()
) -> OwnStands:
    """What is on the list, and what else of the member's flowers in the same years.

    ``years`` are looked at besides those in which the list flowers.
    """
    listed = list(listed)
    member = plan.garden.member
    seasons = {plan.year, *years, *(one.flowers_in for one in listed)}
    stands: list[Stand] = []
    known: dict[str, Known] = {}

    def add(stand: Stand, about: Known) -> None:
        stands.append(stand)
        known[stand.key] = about

    for one in listed:
        add(*_of_list(one, plan.garden))
    others = [*_other_lists(plan, member, seasons), *_promised(member, seasons)]
    metres = isolation_m({species for species, _stand in others})
    for species, (stand, about) in others:
        add(_with_distance(stand, metres.get(species)), about)
    for row in _plantings(member, seasons):
        add(*_of_planting(row))
    return OwnStands(plan, tuple(stands), known)


def isolation_m(species: Iterable[int]) -> dict[int, float]:
    """The home distance of each species that has one, in metres."""
    rows = SpeciesFigure.objects.filter(
        species__in=set(species), quantity=SpeciesFigure.Quantity.ISOLATION_HOME_M
    )
    return {row.species_id: float(row.number) for row in rows if row.number is not None}


def variety_key(pk: int) -> str:
    return f"v{pk}"


def _of_list(one: Listed, garden: Garden) -> tuple[Stand, Known]:
    choice = one.choice
    stand = _stand(
        one.key,
        one.variety,
        garden,
        one.flowers_in,
        required_m=one.required_m,
        technique=Technique(choice.technique),
    )
    return stand, Known(one.variety.name, garden, "list", one.href)


_Other = tuple[int, tuple[Stand, Known]]


def _other_lists(plan: SavingPlan, member: Member, seasons: set[int]) -> Iterable[_Other]:
    """What stands on the member's other lists: other gardens, and last year's biennials."""
    near = {*seasons, *(year - 1 for year in seasons)}
    rows = SavedVariety.objects.of(member).filter(plan__year__in=near).exclude(plan_id=plan.pk)
    for row in rows.with_details():
        garden, year = row.plan.garden, row.plan.year + seasons_bound(row.variety) - 1
        if year in seasons:
            stand = _stand(
                f"c{row.pk}", row.variety, garden, year, technique=Technique(row.technique)
            )
            name = _("%(variety)s, on the list for %(garden)s in %(year)s") % {
                "variety": row.variety.name,
                "garden": garden.name,
                "year": row.plan.year,
            }
            about = Known(name, garden, "other_list", row.get_absolute_url())
            yield row.variety.crop.species_id, (stand, about)


def _promised(member: Member, seasons: set[int]) -> Iterable[_Other]:
    """Grow-outs that the member promised in their own gardens."""
    near = {*seasons, *(year - 1 for year in seasons)}
    rows = Commitment.objects.growing().of(member).filter(season__year__in=near)
    for row in rows.with_details().exclude(garden=None):
        garden, year = row.garden, row.season.year + seasons_bound(row.variety) - 1
        if garden is not None and year in seasons:
            stand = _stand(
                f"p{row.pk}", row.variety, garden, year, technique=Technique(row.technique)
            )
            name = _("%(variety)s, promised to the library for %(garden)s") % {
                "variety": row.variety.name,
                "garden": garden.name,
            }
            about = Known(name, garden, "promise", row.get_absolute_url())
            yield row.variety.crop.species_id, (stand, about)


def _plantings(member: Member, seasons: set[int]) -> Iterable[OwnPlanting]:
    own = OwnPlanting.objects.of(member).flowering().filter(year__in=seasons)
    return own.with_details()


def _of_planting(row: OwnPlanting) -> tuple[Stand, Known]:
    called = row.variety.name if row.variety else row.name
    stand = Stand(
        key=f"o{row.pk}",
        species=f"s{row.species_id}",
        variety=variety_key(row.variety_id) if row.variety_id else f"o{row.pk}",
        place=f"g{row.garden_id}",
        flowers_in=row.year,
        pollination=Pollination(row.species.pollination),
        required_m=None,
        for_seed=False,  # told of the list's seed only: this page is about that
    )
    name = _("%(variety)s, which I grow for myself in %(garden)s") % {
        "variety": called,
        "garden": row.garden.name,
    }
    return stand, Known(name, row.garden, "planting")


def _stand(
    key: str,
    variety: Variety,
    garden: Garden,
    year: int,
    *,
    technique: Technique,
    required_m: float | None = None,
) -> Stand:
    species = variety.crop.species
    return Stand(
        key=key,
        species=f"s{species.pk}",
        variety=variety_key(variety.pk),
        place=f"g{garden.pk}",
        flowers_in=year,
        pollination=Pollination(species.pollination),
        required_m=required_m,
        technique=technique,
    )


def _with_distance(stand: Stand, metres: float | None) -> Stand:
    return replace(stand, required_m=metres)
