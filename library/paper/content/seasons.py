"""A grower's season on one sheet: what to do by when in that garden, with room to write."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from accounts.models import Community
from library.growouts.commitments.words import NUMBERS, TO_DO
from library.growouts.models import Commitment, Milestone
from library.lending.services.reserve import figures_of
from library.paper import words
from library.paper.qr import square_code


def season_sheet(
    commitments: Sequence[Commitment],
    *,
    paper: str,
    on: dt.date,
    progress: Callable[[int], None] = lambda made: None,
) -> dict[str, Any]:
    """The steps of the promises by day, a part for each grower, season and garden.

    Commitments with ``with_details`` and milestones; only their grower and coordinators see the
    garden's name, and this sheet is theirs.
    """
    community = Community.current()
    parts: dict[tuple[int, int, int | None], list[Commitment]] = {}
    for number, one in enumerate(commitments, start=1):
        parts.setdefault((one.grower_id, one.season_id, one.garden_id), []).append(one)
        progress(number)
    return {
        "title": _("Season sheet of %(name)s") % {"name": community.name},
        "library": community.name,
        "printed": date_format(on),
        "paper": paper,
        "head": [_("By"), _("What to do"), _("Done on"), _("How many"), _("What I saw")],
        "steps_word": _("What to do by when"),
        "grown_word": _("What is grown"),
        "neighbours_word": _("What flowered nearby, and how far off"),
        "notes_word": _("Weather, pests, taste, thoughts"),
        "parts": [_part(rows) for rows in parts.values()],
    }


def _part(commitments: list[Commitment]) -> dict[str, Any]:
    first = commitments[0]
    garden = first.garden.name if first.garden else ""
    steps = [(step.due_on, one, step) for one in commitments for step in one.milestones.all()]
    steps.sort(key=lambda row: (row[0], row[1].pk, row[2].step))
    return {
        "heading": _("Season %(year)s") % {"year": first.season.year},
        "grower": words.named(first.grower.display_name),
        "garden": words.named(garden),
        "grown": [_grown(one) for one in commitments],
        "steps": [_step(one, step) for _on, one, step in steps],
        "none": "" if steps else _("Its days are noted once the offer is accepted."),
    }


def _grown(one: Commitment) -> dict[str, Any]:
    variety = one.variety
    packets = ", ".join(link.loan.packet.code for link in one.lent.all())
    return {
        "name": words.named(variety.name),
        "crop": words.named(variety.crop.local_name),
        "plants": _("%(n)s plants") % {"n": number_format(one.plants)},
        "isolation": words.isolation_to_keep(variety, figures_of(variety)),
        "technique": _("Kept from crossing by: %(how)s") % {"how": one.get_technique_display()},
        "packets": _("Packets: %(codes)s") % {"codes": packets} if packets else "",
        "qr": square_code(one.get_absolute_url()),
        "qr_alt": _("Square code of the promise of %(name)s") % {"name": variety.name},
    }


def _step(one: Commitment, step: Milestone) -> dict[str, Any]:
    kind = Milestone.Kind(step.kind)
    return {
        "on": date_format(step.due_on, "SHORT_DATE_FORMAT"),
        "what": str(TO_DO[kind]) % {"variety": one.variety.name},
        "done": date_format(step.done_on, "SHORT_DATE_FORMAT") if step.done_on else "",
        "counts": str(NUMBERS[kind]),
    }
