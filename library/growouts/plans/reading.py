"""A plan as a coordinator reads it: by variety, by grower, what was left out, and why.

A fixed number of queries, however large the plan.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Garden, Member
from library.catalogue.models import Variety
from library.growouts.models import Commitment, LeftOut, Plan, PlannedPair
from library.growouts.plans.given import garden_key, grower_key, number_of, variety_key
from library.growouts.plans.spacing import spacing_of
from library.growouts.plans.words import because, counted_in_words, remedy_in_words
from library.growouts.risk.words import percent
from library.science.assignment.plan import SOURCE
from library.stock.models import Isolation

Row = tuple[str, Any, str]  # what went in, its value, a note


class Names:
    """What the gardens, growers and varieties of a plan are called, by their keys."""

    def __init__(self, gardens: Iterable[str], varieties: Iterable[str]) -> None:
        asked = {number_of(key) for key in gardens}
        rows = Garden.objects.filter(pk__in=asked).select_related("member")
        self.gardens = {garden_key(row.pk): row for row in rows}
        self.varieties = {
            variety_key(row.pk): row.name
            for row in Variety.objects.filter(pk__in={number_of(key) for key in varieties})
        }

    def garden(self, key: str) -> str:
        """The garden with whose it is, since "allotment" is many a garden's name."""
        garden = self.gardens.get(key)
        if garden is None:
            return _("a garden that was removed since")
        return _("%(garden)s (%(grower)s)") % {
            "garden": garden.name,
            "grower": garden.member.display_name,
        }

    def grower(self, garden: str) -> str:
        found = self.gardens.get(garden)
        return found.member.display_name if found else _("a grower who left")

    def variety(self, key: str) -> str:
        return self.varieties.get(key, _("a variety that was removed since"))


@dataclass(frozen=True)
class PairRow:
    """A planned pair, the commitment that came of it (or None), and what speaks for it."""

    pair: PlannedPair
    commitment: Commitment | None
    success: float | None
    why: list[Row]

    @property
    def is_open(self) -> bool:
        """Whether its grower was not asked yet."""
        return self.commitment is None


@dataclass(frozen=True)
class VarietyRow:
    """``loss`` is the chance, 0 to 1, that the variety is lost if nobody grows it; ``left`` as
    the plan has it.
    """

    variety: Variety
    loss: float | None
    left: float | None
    pairs: list[PairRow]

    @property
    def loss_said(self) -> str:
        return _said(self.loss)

    @property
    def left_said(self) -> str:
        return _said(self.left)


@dataclass(frozen=True)
class GardenRow:
    """Square metres that the plan takes of what was offered, this season."""

    garden: Garden
    used_m2: float
    room_m2: float | None


@dataclass(frozen=True)
class GrowerRow:
    grower: Member
    most: int | None
    success: float | None
    pairs: list[PairRow]
    gardens: list[GardenRow] = field(default_factory=list)

    @property
    def success_said(self) -> str:
        return _said(self.success)


@dataclass(frozen=True)
class LeftOutRow:
    variety: Variety
    loss: float | None
    obstacles: list[str]
    remedies: list[str]  # each enough by itself, the cheapest first
    pin_garden: int | None  # where the cheapest would have it
    no_seed: bool

    @property
    def remedy(self) -> str:
        return self.remedies[0] if self.remedies else ""

    @property
    def loss_said(self) -> str:
        return _said(self.loss)


class PlanReading:
    """Everything that the pages and the API show of a plan that ended well."""

    source = SOURCE

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        given = plan.given or {}
        self.variety = {one["key"]: one for one in given.get("varieties", ())}
        self.garden = {one["key"]: one for one in given.get("gardens", ())}
        self.grower = {one["key"]: one for one in given.get("growers", ())}

    @cached_property
    def pairs(self) -> list[PairRow]:
        return [
            PairRow(
                pair,
                self._commitments.get((pair.variety_id, pair.garden.member_id)),
                pair.why.get("success"),
                self._why(pair),
            )
            for pair in self._pairs
        ]

    @cached_property
    def _pairs(self) -> list[PlannedPair]:
        rows = self.plan.pairs.select_related("variety__crop__species", "garden__member")
        return list(rows.order_by("variety__folded_name", "pk"))

    @cached_property
    def _left(self) -> list[LeftOut]:
        rows = self.plan.left_out.select_related("variety__crop")
        return list(rows.order_by("variety__folded_name", "pk"))

    @cached_property
    def _commitments(self) -> dict[tuple[int, int], Commitment]:
        """What each grower was asked for in this season, unless it was called off."""
        rows = Commitment.objects.filter(season=self.plan.season_id)
        rows = rows.exclude(state=Commitment.State.WITHDRAWN).order_by("pk")
        return {(row.variety_id, row.grower_id): row for row in rows}

    @cached_property
    def names(self) -> Names:
        gardens: set[str] = set()
        varieties: set[str] = set()
        for pair in self._pairs:
            gardens.update(other["garden"] for other in pair.why.get("alternatives", ()))
        for row in self._left:
            for remedy in row.why.get("remedies", ()):
                gardens.add(remedy["garden"])
                if remedy["moved"]:
                    variety, place = remedy["moved"]
                    varieties.add(variety)
                    gardens.update([place, remedy["to"]])
        return Names(gardens, varieties)

    @cached_property
    def unknown(self) -> list[str]:
        """What the plan had to do without, in sentences."""
        notes = (self.plan.given or {}).get("notes", {})
        places, frosts = notes.get("without_place", ()), notes.get("without_frosts", ())
        names = Names(map(garden_key, [*places, *frosts]), [])
        no_place = _(
            "%(garden)s has no exact place: what could cross goes there only in a cage, in "
            "bags or by hand."
        )
        no_frosts = _(
            "Nobody said when it freezes in %(garden)s: the library's days were taken, if it "
            "has any."
        )
        return [
            *(no_place % {"garden": names.garden(garden_key(pk))} for pk in places),
            *(no_frosts % {"garden": names.garden(garden_key(pk))} for pk in frosts),
            *_counted_notes(notes),
        ]

    # By variety and by grower ---------------------------------------------------------------
    @cached_property
    def by_variety(self) -> list[VarietyRow]:
        grouped: dict[int, list[PairRow]] = defaultdict(list)
        for row in self.pairs:
            grouped[row.pair.variety_id].append(row)
        return [self._variety_row(rows) for rows in grouped.values()]

    def _variety_row(self, rows: list[PairRow]) -> VarietyRow:
        variety = rows[0].pair.variety
        loss = left = self._loss(variety.pk)
        for row in rows:
            if left is not None and row.success is not None:
                left *= 1 - min(row.success, 0.99)
        return VarietyRow(variety, loss, left, rows)

    @cached_property
    def by_grower(self) -> list[GrowerRow]:
        grouped: dict[int, list[PairRow]] = defaultdict(list)
        for row in self.pairs:
            grouped[row.pair.garden.member_id].append(row)
        rows = [self._grower_row(rows) for rows in grouped.values()]
        return sorted(rows, key=lambda row: (row.grower.display_name.casefold(), row.grower.pk))

    def _grower_row(self, rows: list[PairRow]) -> GrowerRow:
        grower = rows[0].pair.garden.member
        told = self.grower.get(grower_key(grower.pk), {})
        used: dict[Garden, float] = defaultdict(float)
        for row in rows:
            used[row.pair.garden] += row.pair.why.get("room_m2", 0.0)
        gardens = [
            GardenRow(garden, room, self.garden.get(garden_key(garden.pk), {}).get("room_m2"))
            for garden, room in used.items()
        ]
        return GrowerRow(grower, told.get("most"), told.get("success"), rows, gardens)

    @cached_property
    def left_out(self) -> list[LeftOutRow]:
        return [self._left_out_row(row) for row in self._left]

    def _left_out_row(self, row: LeftOut) -> LeftOutRow:
        remedies = row.why.get("remedies", ())
        return LeftOutRow(
            row.variety,
            self._loss(row.variety_id),
            _in_the_way(row.why),
            [remedy_in_words(remedy, self.names) for remedy in remedies],
            number_of(remedies[0]["garden"]) if remedies else None,
            "no_seed" in row.why,
        )

    def _loss(self, variety: int) -> float | None:
        return self.variety.get(variety_key(variety), {}).get("loss")

    # Why this grower ------------------------------------------------------------------------
    def _why(self, pair: PlannedPair) -> list[Row]:
        why, facts = pair.why, self.variety.get(variety_key(pair.variety_id), {})
        if not why or not facts:
            return []
        spacing = spacing_of(pair.variety.crop)
        rows: list[Row] = [
            (_("Lost if nobody grows it"), percent(facts["loss"]), ""),
            (_("This grower brings seed"), percent(why["success"]), ""),
            (
                _("Expected loss that it takes away"),
                _("%(n)s varieties") % {"n": number_format(why["saves"], 3)},
                _counts(facts["weight"]),
            ),
            (_("Plants"), facts["plants"], ""),
            (_("Plants for each m²"), number_format(facts["plants_per_m2"], 1), spacing.source),
            (
                _("Room"),
                _("%(needs)s of %(has)s m²")
                % {"needs": number_format(why["room_m2"], 1),
                   "has": number_format(why["garden_m2"], 1)},
                _("bound for two seasons") if facts["seasons"] == 2 else "",
            ),
            (
                _("Days without frost"),
                _("needs %(needs)s, has %(has)s")
                % {"needs": facts["days"], "has": facts["days"] + why["spare_days"]},
                "",
            ),
            (_("Kept from crossing by"), *_isolation(why)),
        ]  # fmt: skip
        return rows + [self._alternative(other) for other in why["alternatives"]]

    def _alternative(self, other: dict[str, Any]) -> Row:
        clash = other["clash"]
        return (
            _("Instead: %(garden)s") % {"garden": self.names.garden(other["garden"])},
            percent(other["success"]),
            because(clash) if clash else _loses(other["loses"]),
        )


def _in_the_way(why: dict[str, Any]) -> list[str]:
    if "no_seed" in why:
        return [_("no seed of it is here that could be sown")]
    return counted_in_words(why.get("in_the_way", {}))


def _counted_notes(notes: dict[str, Any]) -> list[str]:
    told = []
    if plantings := notes.get("plantings_without_place"):
        told.append(
            ngettext(
                "%(n)s planting of a member stands in a garden without an exact place, and was "
                "not kept clear of.",
                "%(n)s plantings of members stand in gardens without an exact place, and were "
                "not kept clear of.",
                plantings,
            )
            % {"n": plantings}
        )
    if pins := notes.get("lost_pins"):
        told.append(
            ngettext(
                "%(n)s decision was left aside: its variety is not wanted any more, or its "
                "garden not offered.",
                "%(n)s decisions were left aside: their varieties are not wanted any more, or "
                "their gardens not offered.",
                pins,
            )
            % {"n": pins}
        )
    if without := len(notes.get("without_seed", ())):
        told.append(
            ngettext(
                "%(n)s variety without seed here is counted in none of the sums.",
                "%(n)s varieties without seed here are counted in none of the sums.",
                without,
            )
            % {"n": without}
        )
    return told


def _isolation(why: dict[str, Any]) -> tuple[str, str]:
    if not why["needs_isolation"]:
        return _("nothing needed"), ""
    technique = str(Isolation(why["technique"]).label)
    if why["technique"] != Isolation.DISTANCE:
        return technique, ""
    needed = number_format(why["needed_m"], 0)
    if why["nearest_m"] is None:
        return technique, _(
            "%(needed)s m are needed; no other variety of its species is known to flower"
        ) % {"needed": needed}
    facts = {"needed": needed, "near": number_format(why["nearest_m"], 0)}
    if why["nearest_is_planned"]:
        said = _("%(needed)s m are needed; the nearest other in this plan is %(near)s m away")
    else:
        said = _("%(needed)s m are needed; the nearest that somebody grows is %(near)s m away")
    return technique, said % facts


def _loses(loss: float) -> str:
    if loss < 0.0005:
        return _("would do as well")
    return _("%(n)s varieties more would be lost") % {"n": number_format(loss, 3)}


def _said(chance: float | None) -> str:
    """As every page says a chance; nothing where it is not known."""
    return "" if chance is None else percent(chance)


def _counts(weight: float) -> str:
    shown = {"n": number_format(f"{weight:g}")}
    return "" if weight == 1 else _("its loss counts %(n)s times") % shown
