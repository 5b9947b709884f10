"""From a season to its plan of gardens, as coordinators see it: true places, to the metre."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from django.db.models import Q
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Garden
from library.catalogue.models import LifeCycle, Species, SpeciesFigure, Variety
from library.growouts.models import (
    Commitment,
    GardenOffer,
    OwnPlanting,
    Plan,
    PlannedPair,
    Season,
)
from library.growouts.pictures.gardens.facts import (
    KEPT_INSIDE_M,
    Conflict,
    Kind,
    Spot,
    Stand,
    conflicts_of,
    projection_of,
)
from library.growouts.pictures.gardens.layout import (
    NARROW,
    WIDE,
    Drawn,
    Ground,
    Words,
    draw,
)
from library.science.isolation import Pollination, Technique, replaces_distance
from library.stock.models import Isolation

TWO_SEASONS = (LifeCycle.BIENNIAL, LifeCycle.PERENNIAL)
STANDING = ("offered", "accepted", "fulfilled")


@dataclass(frozen=True, kw_only=True)
class GardenRow:
    """A garden with what stands in it; ``number`` is written beside it in the picture."""

    key: int
    number: int | None
    name: str
    grower: str
    spot: Spot | None
    stands: Sequence[Stand]

    @property
    def kind(self) -> str:
        kinds = [stand.kind for stand in self.stands]
        return min(kinds, key=list(Kind).index).value if kinds else "empty"

    @property
    def words(self) -> str:
        """All that its mark says, in one sentence."""
        what = "; ".join(stand_words(stand) for stand in self.stands) or _("nothing planned")
        return f"{self.grower}, {self.name}: {what}"


@dataclass(frozen=True, eq=False, kw_only=True)
class GardenPlan:
    """Gardens with what was promised, offered or planned in them, and what may cross."""

    season: Season
    plan: Plan | None
    species: Species | None
    species_there: Sequence[Species]
    rows: Sequence[GardenRow]
    conflicts: Sequence[Conflict]
    unplaced: Sequence[GardenRow]

    @cached_property
    def by_key(self) -> Mapping[int, GardenRow]:
        return {row.key: row for row in self.rows}

    @cached_property
    def places(self) -> Mapping[int, tuple[float, float]]:
        """Each placed garden in metres east and north of the middle of them all."""
        spots = [row.spot for row in self.rows if row.spot is not None]
        if not spots:
            return {}
        onto = projection_of([(spot.latitude, spot.longitude) for spot in spots])
        return {spot.key: onto.metres(spot.latitude, spot.longitude) for spot in spots}

    @cached_property
    def shapes(self) -> list[Drawn]:
        """The picture in each size that its place can have."""
        ground = Ground(
            places=self.places,
            stands=[stand for row in self.rows for stand in row.stands],
            conflicts=self.conflicts,
            numbers={row.key: row.number for row in self.rows if row.number is not None},
        )
        return [draw(ground, shape, words()) for shape in (WIDE, NARROW)]

    @property
    def title(self) -> str:
        return _("The gardens of %(year)s") % {"year": self.season.year}

    @property
    def kinds(self) -> set[str]:
        return {row.kind for row in self.rows} | {
            stand.kind.value for row in self.rows for stand in row.stands
        }

    @property
    def has_circles(self) -> bool:
        return any(stand.radius_m for row in self.rows for stand in row.stands)

    @property
    def summary(self) -> str:
        """What the picture shows, for who hears it."""
        n, k = len(self.rows), len(self.conflicts)
        told = [ngettext("%(n)s garden is shown.", "%(n)s gardens are shown.", n) % {"n": n}]
        if k:
            text = ngettext(
                "In %(n)s place two varieties of one species stand too near one another.",
                "In %(n)s places two varieties of one species stand too near one another.",
                k,
            )
            told.append(text % {"n": k})
        else:
            told.append(_("Nothing stands too near to anything it could cross with."))
        return " ".join(told)


def garden_plan(
    season: Season, *, plan: Plan | None = None, species: Species | None = None
) -> GardenPlan:
    """The plan of a season's gardens: what was promised and offered, and, with ``plan``, what
    that proposes. Coordinators only. A fixed number of queries.
    """
    reader = _Reader(season)
    reader.read_commitments()
    if plan is not None:
        reader.read_plan(plan)
    reader.read_own_plantings()
    reader.read_offers()
    there = reader.species_there()
    stands = [s for s in reader.stands if species is None or s.species == species.pk]
    rows = _rows(reader.gardens, stands, in_play=species is None)
    placed = [row for row in rows if row.spot is not None]
    return GardenPlan(
        season=season,
        plan=plan,
        species=species,
        species_there=there,
        rows=placed,
        conflicts=conflicts_of([row.spot for row in placed if row.spot is not None], stands),
        unplaced=[row for row in rows if row.spot is None and row.stands],
    )


class _Reader:
    """What stands where, gathered from promises, a plan, and what people grow themselves."""

    def __init__(self, season: Season) -> None:
        self.season = season
        self.gardens: dict[int, Garden] = {}
        self.stands: list[Stand] = []
        self.seen: set[tuple[int, int]] = set()
        self._species: dict[int, Species] = {}
        self._metres: dict[int, float] = {
            row.species_id: float(row.number or 0)
            for row in SpeciesFigure.objects.filter(
                quantity=SpeciesFigure.Quantity.ISOLATION_HOME_M
            )
        }

    def read_commitments(self) -> None:
        """This season's, and last season's of crops that flower in their second year."""
        year = self.season.year
        second = Q(season__year=year - 1, variety__crop__life_cycle__in=TWO_SEASONS)
        rows = Commitment.objects.filter(
            Q(season=self.season, state__in=STANDING)
            | (second & Q(state__in=("accepted", "fulfilled")))
        ).exclude(garden=None)
        for row in rows.select_related(
            "variety__crop__species", "garden__member", "season"
        ).order_by("pk"):
            if row.garden is None:
                continue
            if row.season_id == self.season.pk:
                self.seen.add((row.variety_id, row.garden.pk))
            kind = Kind.OFFERED if row.is_offered else Kind.PROMISED
            since = row.season.year
            self._stand(f"c{row.pk}", kind, row.garden, row.variety, row.technique, since)

    def read_plan(self, plan: Plan) -> None:
        """What it proposes beyond what was promised or offered already."""
        rows = PlannedPair.objects.filter(plan=plan)
        for row in rows.select_related("variety__crop__species", "garden__member"):
            if (row.variety_id, row.garden_id) not in self.seen:
                self._stand(
                    f"p{row.pk}",
                    Kind.PLANNED,
                    row.garden,
                    row.variety,
                    row.technique,
                    self.season.year,
                )

    def _stand(
        self,
        key: str,
        kind: Kind,
        garden: Garden,
        variety: Variety,
        technique: str,
        since: int,
    ) -> None:
        species = variety.crop.species
        how = Technique(technique)
        self.gardens[garden.pk] = garden
        self._species[species.pk] = species
        self.stands.append(
            Stand(
                key=key,
                garden=garden.pk,
                kind=kind,
                species=species.pk,
                species_name=species.common_name,
                variety=f"v{variety.pk}",
                name=variety.name,
                flowers=since + (variety.crop.life_cycle in TWO_SEASONS),
                needs_m=self._needs(species),
                guarded=replaces_distance(how, Pollination(species.pollination)),
                unsure=how is Technique.TIME,
                technique=str(Isolation(technique).label),
                pk=int(key[1:]) if key[0] == "c" else None,
            )
        )

    def _needs(self, species: Species) -> float:
        """How near another variety may not come; 0 where a garden keeps them apart itself."""
        metres = self._metres.get(species.pk, 0.0)
        clonal = species.pollination == Pollination.CLONAL
        return 0.0 if clonal or metres <= KEPT_INSIDE_M else metres

    def read_own_plantings(self) -> None:
        """Own plantings that flower with something of their species that is grown here."""
        years = {stand.flowers for stand in self.stands}
        together = {(stand.species, stand.flowers) for stand in self.stands}
        rows = OwnPlanting.objects.flowering().filter(
            year__in=years, species__in=set(self._species)
        )
        for row in rows.select_related("garden__member", "species", "variety").order_by("pk"):
            if (row.species_id, row.year) not in together:
                continue
            self.gardens.setdefault(row.garden_id, row.garden)
            self.stands.append(
                Stand(
                    key=f"o{row.pk}",
                    garden=row.garden_id,
                    kind=Kind.OWN,
                    species=row.species_id,
                    species_name=row.species.common_name,
                    variety=f"v{row.variety_id}" if row.variety_id else f"own {row.pk}",
                    name=row.variety.name if row.variety else row.name,
                    flowers=row.year,
                    needs_m=self._needs(row.species),
                )
            )

    def read_offers(self) -> None:
        """Gardens that are offered, whether anything is planned in them or not."""
        rows = GardenOffer.objects.standing(self.season).select_related("garden__member")
        for row in rows:
            self.gardens.setdefault(row.garden_id, row.garden)

    def species_there(self) -> list[Species]:
        """What can be filtered by."""
        return sorted(self._species.values(), key=lambda s: (s.local_name, s.pk))


def _rows(
    gardens: Mapping[int, Garden], stands: Iterable[Stand], *, in_play: bool
) -> list[GardenRow]:
    """Gardens by their growers' names, those with something in them numbered; empty ones only
    where all species are shown (``in_play``).
    """
    there: dict[int, list[Stand]] = defaultdict(list)
    for stand in stands:
        there[stand.garden].append(stand)
    rows, number = [], 0
    for garden in sorted(gardens.values(), key=_by_name):
        its = sorted(there[garden.pk], key=lambda s: (list(Kind).index(s.kind), s.name, s.key))
        if not its and not in_play:
            continue
        spot = _spot(garden)
        counts = spot is not None and any(stand.kind is not Kind.OWN for stand in its)
        number += counts
        rows.append(
            GardenRow(
                key=garden.pk,
                number=number if counts else None,
                name=garden.name,
                grower=garden.member.display_name,
                spot=spot,
                stands=its,
            )
        )
    return rows


def _by_name(garden: Garden) -> tuple[str, str, int]:
    return garden.member.display_name_key, garden.name, garden.pk


def _spot(garden: Garden) -> Spot | None:
    """Its place, where that is known to the metre."""
    if garden.placed != Garden.Placed.EXACT:
        return None
    if garden.latitude is None or garden.longitude is None:
        return None
    return Spot(
        key=garden.pk,
        name=garden.name,
        grower=garden.member.display_name,
        latitude=float(garden.latitude),
        longitude=float(garden.longitude),
    )


def kind_words(kind: Kind) -> str:
    return {
        Kind.PROMISED: _("promised"),
        Kind.OFFERED: _("offered, not answered"),
        Kind.PLANNED: _("proposed by the plan"),
        Kind.OWN: _("grown for themselves"),
    }[kind]


def kind_legend() -> list[tuple[str, str]]:
    """What each shape of a garden's mark stands for, the weightiest first."""
    return [
        (Kind.PROMISED.value, _("filled circle: promised")),
        (Kind.OFFERED.value, _("ring: offered, not answered")),
        (Kind.PLANNED.value, _("triangle: proposed by the plan")),
        (Kind.OWN.value, _("cross: what somebody grows for themselves")),
        ("empty", _("small square: offered, nothing planned in it")),
    ]


def garden_words(row: GardenRow) -> str:
    """A garden by its number, its grower and its name."""
    told = f"{row.grower}, {row.name}"
    return f"{row.number} {told}" if row.number else told


def stand_words(stand: Stand) -> str:
    """What stands there and why, such as "Tarn Kettle (promised, bagged flowers)"."""
    facts = [kind_words(stand.kind)]
    if stand.guarded or stand.unsure:
        facts.append(stand.technique)
    return f"{stand.name} ({', '.join(facts)})"


def metres_words(metres: float) -> str:
    """Metres, or kilometres where there are many."""
    if metres >= 1000 and metres % 100 == 0:
        decimals = None if metres % 1000 == 0 else 1
        return _("%(n)s km") % {"n": number_format(metres / 1000, decimals or 0)}
    return _("%(n)s m") % {"n": number_format(round(metres), 0)}


def between_words(conflict: Conflict) -> str:
    """How far two stand apart, and how far they should."""
    return _("%(apart)s of %(needed)s") % {
        "apart": metres_words(round(conflict.distance_m)),
        "needed": metres_words(conflict.required_m),
    }


def words() -> Words:
    return Words(metres=metres_words, between=between_words, north=_("north ↑"))
