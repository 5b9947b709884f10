"""What the pages show of a list: figures in words, with what they were made from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from library.household.days import Calendar
from library.household.listed import Listed
from library.household.models import KeptApart
from library.household.rotating import Rotation, Turn
from library.household.words import (
    Row,
    figure_row,
    good_words,
    lasts_words,
    remedy_words,
    turn_rows,
)
from library.lending.services.seasons import NOBODY, THE_COMMUNITY


@dataclass(frozen=True)
class ListedRow:
    """A variety of the list as a row of its table."""

    one: Listed
    technique: str
    sown_from: str
    why: list[Row]


def listed_rows(listed: list[Listed]) -> list[ListedRow]:
    return [
        ListedRow(
            one,
            str(KeptApart(one.choice.technique).label),
            sown_from(one),
            _why_listed(one),
        )
        for one in listed
    ]


def sown_from(one: Listed) -> str:
    """Where the seed is to come from."""
    if one.lot is None:
        return _("no seed of it is here now")
    told = {"lot": one.lot.number, "left": one.lot.balance, "unit": one.lot.unit}
    if one.is_at_home:
        return _("your lot %(lot)s at home (%(left)s %(unit)s left)") % told
    return _("the library's lot %(lot)s, to borrow") % told


def _why_listed(one: Listed) -> list[Row]:
    spacing = one.spacing
    told = {
        "rows": spacing.between_rows_cm,
        "in_row": spacing.in_row_cm,
        "source": spacing.source,
    }
    rows = [
        (_("plants that keep it"), str(one.population.plants), str(one.population.source)),
        (_("plants on your list"), str(one.plants), ""),
        (
            _("room"),
            _("%(room)s m²") % {"room": number_format(one.room_m2, decimal_pos=1)},
            (
                _("%(rows)s × %(in_row)s cm, taken for crops nobody wrote down: %(source)s")
                if spacing.assumed
                else _("%(rows)s × %(in_row)s cm: %(source)s")
            )
            % told,
        ),
        figure_row(_("isolation distance, home garden"), one.isolation, "m"),
    ]
    if one.certified is not None:
        rows.append(figure_row(_("isolation distance, certified seed"), one.certified, "m"))
    rows.append((_("seeds to sow"), str(one.advice.seeds), one.advice.sentence))
    return rows


# The rotation -----------------------------------------------------------------------------


@dataclass(frozen=True)
class TurnRow:
    """A variety of the rotation as a row: a mark for each year, and why."""

    turn: Turn
    cells: list[tuple[int, str, str]]  # year, state, words
    good: str
    lasts: str
    remedy: str
    why: list[Row]


def rotation_shown(rotation: Rotation) -> dict[str, Any]:
    """The context of the rotation's page."""
    plan, standard = rotation.plan, rotation.standard_percent
    words = {
        "sow": _("sow"),
        "grows": _("second year"),
        "short": _("no good seed"),
        "good": _("good"),
    }
    years = [one.year for one in rotation.years]
    return {
        "rotation": rotation,
        "years": rotation.years,
        "standard": standard,
        "turns": [
            TurnRow(
                turn,
                [(year, turn.state(year), words[turn.state(year)]) for year in years],
                good_words(turn.own.best, plan, standard),
                lasts_words(turn),
                remedy_words(turn),
                turn_rows(turn, plan, standard),
            )
            for turn in rotation.turns
        ],
    }


# The calendar -----------------------------------------------------------------------------


def calendar_shown(calendar: Calendar) -> dict[str, Any]:
    """The context of the calendar's page; frost dates as month and day."""
    season = calendar.season
    frosts = None
    if season is not None and not season.frost_free:
        starts, ends = season.of_year(2001)
        frosts = (starts, ends)
    return {
        "months": calendar.months,
        "frosts": frosts,
        "frost_free": season is not None and season.frost_free,
        "frosts_unknown": calendar.frost_dates_from == NOBODY,
        "frosts_of_library": calendar.frost_dates_from == THE_COMMUNITY,
    }
