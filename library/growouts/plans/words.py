"""What a plan says in words: how far it is, how good, and what stands in the way."""

from __future__ import annotations

import math
from typing import Any

from django.utils import timezone
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext, ngettext_lazy

from library.growouts.models import Plan
from library.science.assignment import Clash, Kind, Obstacle
from library.stock.models import Isolation

LAST_PERCENT = 99  # the reasons are still to be written when the time is over

STAGES = {
    "": gettext_lazy("reading the season"),
    "by_hand": gettext_lazy("filled in by hand; now looking for something better"),
    "most_covered": gettext_lazy("finding growers for as many varieties as possible"),
    "least_cost": gettext_lazy("making the expected loss smaller"),
    "corners": gettext_lazy("looking for exchanges that save more"),
    "bound": gettext_lazy(
        "looking for exchanges that save more, and proving how good the plan is"
    ),
}

METHODS = {
    "rarest_first": gettext_lazy("by hand, what is likeliest to be lost first"),
    "everyone_first": gettext_lazy("by hand, one grower for each variety first"),
    "solver": gettext_lazy("the solver"),
    "stopped": gettext_lazy("the best so far when it was stopped"),
}

OBSTACLES = {
    Obstacle.FORBIDDEN: ngettext_lazy(
        "not wanted in %(n)s garden: declined, failed or ruled out",
        "not wanted in %(n)s gardens: declined, failed or ruled out",
        "n",
    ),
    Obstacle.NO_WISH: ngettext_lazy(
        "%(n)s garden whose grower wants no variety",
        "%(n)s gardens whose growers want no variety",
        "n",
    ),
    Obstacle.NO_HOPE: ngettext_lazy(
        "%(n)s garden whose grower is not expected to bring seed",
        "%(n)s gardens whose growers are not expected to bring seed",
        "n",
    ),
    Obstacle.TOO_LITTLE_ROOM: ngettext_lazy(
        "too little room in %(n)s garden", "too little room in %(n)s gardens", "n"
    ),
    Obstacle.TOO_LITTLE_ROOM_NEXT_SEASON: ngettext_lazy(
        "too little room in the second season in %(n)s garden",
        "too little room in the second season in %(n)s gardens",
        "n",
    ),
    Obstacle.SEASON_TOO_SHORT: ngettext_lazy(
        "season too short in %(n)s garden", "season too short in %(n)s gardens", "n"
    ),
    Obstacle.PLACE_NOT_KNOWN: ngettext_lazy(
        "exact place not known of %(n)s garden, so that no distance can be vouched for",
        "exact place not known of %(n)s gardens, so that no distance can be vouched for",
        "n",
    ),
    Obstacle.PLANTING_TOO_NEAR: ngettext_lazy(
        "%(n)s garden too near to what somebody grows for themselves",
        "%(n)s gardens too near to what somebody grows for themselves",
        "n",
    ),
    Clash.TAKEN: ngettext_lazy("%(n)s garden grows it", "%(n)s gardens grow it", "n"),
    Clash.ENOUGH_GROWERS: ngettext_lazy(
        "%(n)s garden not needed: it has enough growers",
        "%(n)s gardens not needed: it has enough growers",
        "n",
    ),
    Clash.GROWER_HAS_IT: ngettext_lazy(
        "%(n)s garden whose grower has it in another",
        "%(n)s gardens whose growers have it in another",
        "n",
    ),
    Clash.GROWER_IS_FULL: ngettext_lazy(
        "%(n)s garden whose grower has as many varieties as they want",
        "%(n)s gardens whose growers have as many varieties as they want",
        "n",
    ),
    Clash.GARDEN_IS_FULL: ngettext_lazy(
        "%(n)s garden full with others", "%(n)s gardens full with others", "n"
    ),
    Clash.TOO_NEAR_ITS_LIKE: ngettext_lazy(
        "%(n)s garden too near to its other grower",
        "%(n)s gardens too near to its other grower",
        "n",
    ),
    Clash.WOULD_CROSS: ngettext_lazy(
        "%(n)s garden where it would cross with what is planned near",
        "%(n)s gardens where it would cross with what is planned near",
        "n",
    ),
}

# Why one pair cannot be, after its name: a pin that clashes, a garden that was thought of.
BECAUSE = {
    Obstacle.FORBIDDEN: gettext_lazy("it was declined there, failed there or is ruled out"),
    Obstacle.NO_WISH: gettext_lazy("its grower wants no variety"),
    Obstacle.NO_HOPE: gettext_lazy("its grower is not expected to bring seed"),
    Obstacle.TOO_LITTLE_ROOM: gettext_lazy("the garden has too little room for it"),
    Obstacle.TOO_LITTLE_ROOM_NEXT_SEASON: gettext_lazy(
        "the garden has too little room for it in the second season"
    ),
    Obstacle.SEASON_TOO_SHORT: gettext_lazy("the season is too short there"),
    Obstacle.PLACE_NOT_KNOWN: gettext_lazy(
        "the garden's exact place is not known, and nothing else keeps it from crossing"
    ),
    Obstacle.PLANTING_TOO_NEAR: gettext_lazy(
        "somebody grows another variety of its species too near"
    ),
    Clash.TAKEN: gettext_lazy("it is there already"),
    Clash.ENOUGH_GROWERS: gettext_lazy("the variety has enough growers"),
    Clash.GROWER_HAS_IT: gettext_lazy("its grower has the variety in another garden"),
    Clash.GROWER_IS_FULL: gettext_lazy("its grower has as many varieties as they want"),
    Clash.GARDEN_IS_FULL: gettext_lazy("the garden is full with others"),
    Clash.TOO_NEAR_ITS_LIKE: gettext_lazy("it is too near to another grower of the variety"),
    Clash.WOULD_CROSS: gettext_lazy("it would cross with another variety that is planned near"),
}


def stage_in_words(plan: Plan) -> str:
    """What is being done now."""
    if plan.state == Plan.State.WAITING:
        return _("waiting for its turn")
    return str(STAGES.get(plan.stage, _("looking for something better")))


def percent_of_time(plan: Plan) -> int:
    """How much of its time is used, 0 to 99 while it is worked on, 100 when it is over."""
    if not plan.is_at_work:
        return 100
    if plan.state == Plan.State.WAITING or plan.started_at is None:
        return 0
    passed = (timezone.now() - plan.started_at).total_seconds()
    return max(0, min(LAST_PERCENT, int(100 * passed / plan.seconds)))


def quality_in_words(plan: Plan) -> list[str]:
    """How good the plan is, as far as that was proved."""
    said = [_coverage(plan), _distance(plan)]
    if not plan.all_pairs:
        said.append(
            _(
                "The season is large: of each variety only the most promising gardens were "
                "tried."
            )
        )
    return [line for line in said if line]


def _coverage(plan: Plan) -> str:
    if plan.covered is None:
        return ""
    if plan.most_covered is None:
        return _("Whether more varieties could have a grower was not proved.")
    missing = plan.most_covered - plan.covered
    if missing > 0:
        return ngettext(
            "At most %(n)s variety more could have a grower.",
            "At most %(n)s varieties more could have a grower.",
            missing,
        ) % {"n": missing}
    return _("No plan gives more varieties a grower.")


def _distance(plan: Plan) -> str:
    """The gap, rounded up, so that what is said always holds."""
    if plan.gap is None:
        return _("How far the expected loss is from the best possible was not proved.")
    tenths = math.ceil(round(plan.gap * 1000, 6))
    if tenths == 0:
        return _("Its expected loss is the best possible.")
    return _("Its expected loss is at most %(percent)s %% from the best possible.") % {
        "percent": f"{tenths / 10:g}"
    }


def counted_in_words(counts: dict[str, int]) -> list[str]:
    """What kept a variety out of gardens, the commonest first."""
    rows = sorted(counts.items(), key=lambda row: (-row[1], row[0]))
    return [str(OBSTACLES[_kind(name)] % {"n": number}) for name, number in rows if number]


def because(name: str) -> str:
    return str(BECAUSE[_kind(name)])


def _kind(name: str) -> Obstacle | Clash:
    return Obstacle(name) if name in set(Obstacle) else Clash(name)


def remedy_in_words(remedy: dict[str, Any], names: Any) -> str:
    """One change that would give a variety a place. ``names`` calls gardens (with their
    grower) and varieties by their keys.
    """
    garden, grower = names.garden(remedy["garden"]), names.grower(remedy["garden"])
    match Kind(remedy["kind"]):
        case Kind.MOVE_A_PAIR:
            variety, place = remedy["moved"]
            return _(
                "If %(other)s went from %(from)s to %(to)s, it could be grown in %(garden)s."
            ) % {
                "other": names.variety(variety),
                "from": names.garden(place),
                "to": names.garden(remedy["to"]),
                "garden": garden,
            }
        case Kind.WANT_ONE_MORE:
            return _(
                "If %(grower)s took one variety more, it could be grown in %(garden)s."
            ) % {
                "grower": grower,
                "garden": garden,
            }
        case Kind.LEARN_A_TECHNIQUE:
            return _(
                "If %(grower)s could keep it from crossing (%(techniques)s), it could be grown "
                "in %(garden)s."
            ) % {
                "grower": grower,
                "garden": garden,
                "techniques": _one_of(remedy["techniques"]),
            }
        case Kind.MORE_ROOM:
            return _more_room(remedy) % {"garden": garden}
        case Kind.KEEP_FROM_FLOWERING:
            return ngettext(
                "If %(n)s planting that somebody grows for themselves did not flower, it could "
                "be grown in %(garden)s.",
                "If %(n)s plantings that people grow for themselves did not flower, it could "
                "be grown in %(garden)s.",
                remedy["plantings"],
            ) % {"n": remedy["plantings"], "garden": garden}


def _one_of(techniques: list[str]) -> str:
    return _(" or ").join(str(Isolation(one).label) for one in techniques)


def _more_room(remedy: dict[str, Any]) -> str:
    """Rounded up to a tenth: what is said is enough. The garden is still to be filled in."""
    now, later = _tenths_up(remedy["more_m2"]), _tenths_up(remedy["more_next_m2"])
    if not later:
        words = _("With %(now)s m² more it could be grown in %(garden)s.")
    elif not now:
        words = _(
            "With %(later)s m² more in the second season it could be grown in %(garden)s."
        )
    else:
        words = _(
            "With %(now)s m² more, and %(later)s m² in the second season, it could be grown in "
            "%(garden)s."
        )
    room = {"now": number_format(f"{now:g}"), "later": number_format(f"{later:g}")}
    filled = room | {"garden": "%(garden)s"}
    return words % filled


def _tenths_up(metres: float) -> float:
    return math.ceil(round(metres * 10, 4)) / 10
