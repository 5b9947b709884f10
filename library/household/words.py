"""What pairs, turns and remedies are, in the reader's language."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from library.catalogue.figures import plain
from library.catalogue.models import How
from library.germination.reasons import sentence_for
from library.household.keeping import OwnLot
from library.household.listed import Listed
from library.household.meeting import Known, OwnStands
from library.household.models import KeptApart, SavingPlan
from library.household.rotating import Turn
from library.lending.services.reserve import Figure
from library.science.crossing import Half, Meeting, Outcome
from library.science.isolation import Technique
from library.science.reasons import COMMON_PRACTICE
from library.science.rotation import Remedy

Row = tuple[str, str, str]

HEADLINES = {
    Outcome.CROSSES: gettext_lazy("They would cross"),
    Outcome.UNKNOWN: gettext_lazy("They may cross: not enough is known"),
    Outcome.APART_IF: gettext_lazy("They stay apart on a condition"),
    Outcome.APART: gettext_lazy("They stay apart"),
}
WHY_APART = {
    "isolation_clonal": gettext_lazy("It is not grown from seed: pollen does not matter."),
    "isolation_self": gettext_lazy(
        "It pollinates itself, and no distance is known to be needed."
    ),
    "isolation_cage": gettext_lazy(
        "Its cage keeps other pollen out, if pollinators are brought in and none escape."
    ),
    "isolation_bag": gettext_lazy(
        "Bags keep other pollen out, if seed is saved from the bagged flowers alone."
    ),
    "isolation_hand_pollination": gettext_lazy(
        "Closed flowers pollinated by hand take no other pollen, if seed is saved from them "
        "alone."
    ),
    "isolation_none_known": gettext_lazy(
        "The two flower at different times: see that one is over before the other opens."
    ),
    "isolation_no_neighbour_no_distance": gettext_lazy(
        "The two flower at different times: see that one is over before the other opens."
    ),
}
WAYS = {
    Technique.BAG: gettext_lazy("bags over the flowers"),
    Technique.CAGE: gettext_lazy("a cage over the plants"),
    Technique.HAND_POLLINATION: gettext_lazy("pollinating by hand"),
    Technique.TIME: gettext_lazy("one that is over before the other flowers"),
}


@dataclass(frozen=True)
class PairLine:
    """A pair in words: how it stands, why, what would keep it apart, and what went in."""

    meeting: Meeting
    one: Known
    other: Known
    headline: str
    reasons: tuple[str, ...]
    ways: str
    rows: tuple[Row, ...]
    source: str

    @property
    def outcome(self) -> str:
        return str(self.meeting.outcome)

    @property
    def crosses(self) -> bool:
        return self.meeting.outcome is Outcome.CROSSES

    @property
    def is_well(self) -> bool:
        return self.meeting.outcome in (Outcome.APART, Outcome.APART_IF)


def pair_lines(there: OwnStands, listed: list[Listed]) -> list[PairLine]:
    """Every pair that could meet, in words, the worst first."""
    by_key = {one.key: one for one in listed}
    return [_pair(each, there, by_key) for each in there.meetings()]


def _pair(each: Meeting, there: OwnStands, listed: Mapping[str, Listed]) -> PairLine:
    one, other = there.known[each.one.key], there.known[each.other.key]
    of_list = listed.get(each.one.key) or listed[each.other.key]
    source = of_list.isolation.source if of_list.isolation else COMMON_PRACTICE
    return PairLine(
        meeting=each,
        one=one,
        other=other,
        headline=str(HEADLINES[each.outcome]),
        reasons=tuple(_half(half, each, there) for half in each.halves),
        ways=_ways(each, of_list, there.plan),
        rows=tuple(_rows(each, of_list, there)),
        source=source,
    )


def _half(half: Half, each: Meeting, there: OwnStands) -> str:
    own = half.stand
    neighbour = each.other if own is each.one else each.one
    told: dict[str, Any] = {
        "one": there.known[own.key].name,
        "other": there.known[neighbour.key].name,
        "far": _metres(each.distance_m),
        "needed": _metres(own.required_m),
    }
    if half.outcome is Outcome.APART_IF:
        sentence = _(
            "Seed of %(one)s is safe only if every open flower of %(other)s that is not "
            "covered is taken off."
        )
    elif half.outcome is Outcome.CROSSES:
        sentence = _(
            "Seed of %(one)s would be crossed by %(other)s: %(far)s m apart, and at least "
            "%(needed)s m are needed."
        )
    elif half.outcome is Outcome.UNKNOWN and half.verdict is None:
        sentence = _(
            "How far %(other)s is from %(one)s is not known: one of the two gardens is not "
            "placed exactly."
        )
    elif half.outcome is Outcome.UNKNOWN:
        sentence = _("No isolation distance is known for the species of %(one)s.")
    elif half.verdict is not None and half.verdict.reason in WHY_APART:
        return f"{told['one']}: {WHY_APART[half.verdict.reason]}"
    else:
        sentence = _(
            "Seed of %(one)s is safe %(far)s m from %(other)s; at least %(needed)s m are "
            "needed."
        )
    return sentence % told


def _ways(each: Meeting, of_list: Listed, plan: SavingPlan) -> str:
    """What would keep a pair apart that is not; nothing of one that is."""
    if each.outcome is Outcome.APART:
        return _set_apart(each, plan)
    names = [str(WAYS[way]) for way in each.ways]
    told = {"ways": ", ".join(names), "needed": _metres(each.required_m)}
    if each.required_m is None:
        sentence = _("What would keep them apart: %(ways)s; or another year for one of them.")
    else:
        sentence = _(
            "What would keep them apart: %(needed)s m or more between them; %(ways)s; or "
            "another year for one of them."
        )
    return sentence % told


def _set_apart(each: Meeting, plan: SavingPlan) -> str:
    """Of two in one garden that are far enough only if set so."""
    by_distance = [
        half
        for half in each.halves
        if half.verdict is not None and half.verdict.reason == "isolation_far_enough"
    ]
    if each.one.place != each.other.place or not by_distance or not each.required_m:
        return ""
    return _("Set their beds at least %(needed)s m apart.") % {
        "needed": _metres(each.required_m)
    }


def _rows(each: Meeting, of_list: Listed, there: OwnStands) -> list[Row]:
    species = of_list.variety.crop.species
    same = each.one.place == each.other.place
    if each.distance_m is None:
        far = _("not known")
    else:
        far = _("%(metres)s m") % {"metres": _metres(each.distance_m)}
    rows = [
        (_("species"), species.botanical_name, _("everything in it can cross")),
        (_("pollination"), species.get_pollination_display(), ""),
        (
            _("metres between them"),
            far,
            _("as far as two beds of this garden can be, as you said")
            if same
            else _("between your two gardens"),
        ),
        figure_row(_("needed, home garden"), of_list.isolation, "m"),
    ]
    if of_list.certified is not None:
        rows.append(figure_row(_("asked of certified seed"), of_list.certified, "m"))
    rows.append(
        (
            _("flowers in the season of"),
            str(each.one.flowers_in),
            "",
        )
    )
    for stand in (each.one, each.other):
        label = str(KeptApart(stand.technique.value).label) if _is_ours(stand.technique) else ""
        if label:
            rows.append((there.known[stand.key].name, label, ""))
    return rows


def _is_ours(technique: Technique) -> bool:
    return technique.value in KeptApart.values


def figure_row(label: str, figure: Figure | None, unit: str) -> Row:
    """A species' figure with who says so; one that is only from memory says that."""
    if figure is None:
        return label, _("not known"), ""
    value = plain(figure.number)
    return label, f"{value} {unit}", f"{figure.source} ({How(figure.how).label})"


def _metres(value: float | None) -> str:
    return "–" if value is None else number_format(round(value, 1)).removesuffix(".0")


# The rotation -----------------------------------------------------------------------------


def good_words(lot: OwnLot, plan: SavingPlan, standard_percent: int) -> str:
    """Until when a lot is good to sow, and why."""
    if lot.cannot:
        return sentence_for(lot.cannot, {}) or _("Nothing predicts how long it keeps.")
    told = {"chance": plan.chance_percent, "standard": standard_percent}
    if lot.falls_on is None:
        return (
            _(
                "It stays at %(standard)s %% or more, with a chance of %(chance)s %%, longer "
                "than any calendar."
            )
            % told
        )
    return _(
        "Until %(day)s the chance that %(standard)s %% of it sprout is %(chance)s %% or more; "
        "it is good to sow in a year whose sowing day comes before that."
    ) % (told | {"day": date_format(lot.falls_on)})


def lasts_words(turn: Turn) -> str:
    years = ngettext("%(years)s year", "%(years)s years", turn.lasts) % {"years": turn.lasts}
    if turn.own.lasts_from == "own":
        return _("%(years)s, as you wrote") % {"years": years}
    if turn.own.lasts_from == "assumed":
        return _("%(years)s: nothing predicts it, so it is taken to be grown every year") % {
            "years": years
        }
    return _("%(years)s, as its species is expected to keep where your lot lies") % {
        "years": years
    }


def remedy_words(turn: Turn) -> str:
    """What would spare it its years without good seed."""
    if turn.remedy is Remedy.TECHNIQUE:
        return _(
            "It waits for others that it would cross with. Bags, a cage or pollinating by hand "
            "would let it be grown beside them."
        )
    if turn.remedy is Remedy.ROOM:
        return _("%(room)s m² more room would help.") % {
            "room": number_format(turn.more_m2, decimal_pos=1)
        }
    if turn.remedy is Remedy.NONE:
        return _(
            "Neither room nor a technique helps: new seed would not be ripe in time. Sow more "
            "of what you have, or ask the library for fresher seed; and keep it colder and "
            "drier from now on."
        )
    return ""


def turn_rows(turn: Turn, plan: SavingPlan, standard_percent: int) -> list[Row]:
    """What went into a turn."""
    best = turn.own.best
    spacing = turn.spacing
    rows = [
        (
            _("good to sow until"),
            str(turn.good_until),
            good_words(best, plan, standard_percent),
        ),
        (_("from lot"), best.lot.number, ""),
        (_("new seed keeps"), str(turn.lasts), lasts_words(turn)),
        (_("plants"), str(turn.plants), turn.population.source),
        (
            _("room"),
            _("%(room)s m²") % {"room": number_format(turn.room_m2, decimal_pos=1)},
            _("%(rows)s × %(in_row)s cm: %(source)s")
            % {
                "rows": spacing.between_rows_cm,
                "in_row": spacing.in_row_cm,
                "source": spacing.source,
            },
        ),
        (_("seasons that it takes"), str(turn.seasons), ""),
        figure_row(_("needed, home garden"), turn.isolation, "m"),
        (_("kept apart by"), str(KeptApart(turn.technique.value).label), ""),
    ]
    if turn.never:
        rows.append(
            (
                _("not sown in"),
                ", ".join(str(year) for year in turn.never),
                _("something else of yours that it would cross with flowers then"),
            )
        )
    return rows
