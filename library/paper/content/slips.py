"""Slips that go with a packet out of the library, and with seed back into it.

Names are those that members chose to show; no garden, address or email stands on a slip.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Community
from library.catalogue.models import Caution, Variety
from library.lending.models import Loan, Return
from library.lending.services import sowing_advice_for, what_a_packet_gives
from library.lending.services.reserve import figures_of, population_of
from library.paper import words
from library.paper.qr import square_code
from library.stock.models import Isolation

SIZES_MM = {"a4": (105.0, 148.0), "letter": (107.95, 139.7)}
Progress = Callable[[int], None]
Row = tuple[str, str]


def loan_slips(
    loans: Sequence[Loan],
    *,
    paper: str,
    on: dt.date,
    progress: Progress = lambda made: None,
) -> dict[str, Any]:
    """A slip for each loan: what was lent, until when, and how to grow it for seed."""
    community, slips = Community.current(), []
    for number, loan in enumerate(loans, start=1):
        slips.append(_loan_slip(loan, on))
        progress(number)
    return _frame(community, paper, on) | {
        "title": _("Loan slips of %(name)s") % {"name": community.name},
        "heading": _("Lent to you"),
        "slips": slips,
    }


def return_slips(
    loans: Sequence[Loan],
    *,
    paper: str,
    on: dt.date,
    progress: Progress = lambda made: None,
) -> dict[str, Any]:
    """A slip for each loan to fill in and put with the seed; it has what was announced."""
    community, slips = Community.current(), []
    for number, loan in enumerate(loans, start=1):
        slips.append(_return_slip(loan))
        progress(number)
    return _frame(community, paper, on) | {
        "title": _("Return slips of %(name)s") % {"name": community.name},
        "heading": _("Seed brought back"),
        "isolation": _("Kept from crossing by"),
        "ways": [
            str(label) for value, label in Isolation.choices if value != Isolation.UNKNOWN
        ],
        "thanks": _(
            "Dry, clean seed of healthy plants, please; nothing if the crop failed: that is "
            "no fault, but tell the desk."
        ),
        "slips": slips,
    }


def _frame(community: Community, paper: str, on: dt.date) -> dict[str, Any]:
    width, height = SIZES_MM[paper]
    return {
        "library": community.name,
        "place": community.place,
        "printed": date_format(on),
        "width": width,
        "height": height,
    }


def _subject(loan: Loan) -> dict[str, Any]:
    packet = loan.packet
    variety = packet.lot.variety
    return {
        "name": words.named(variety.name),
        "crop": words.named(variety.crop.local_name),
        "botanical": variety.crop.species.botanical_name,
        "status": words.status_line(variety),
        "code": packet.code,
        "borrower": words.named(loan.borrower.display_name),
        "qr": square_code(packet.get_absolute_url()),
        "qr_alt": _("Square code of packet %(code)s") % {"code": packet.code},
    }


def _loan_slip(loan: Loan, on: dt.date) -> dict[str, Any]:
    packet, variety = loan.packet, loan.packet.lot.variety
    seeds = f"{number_format(packet.seeds, force_grouping=True)} {packet.lot.unit}"
    rows = [
        (_("Borrower"), loan.borrower.display_name),
        (_("Packet"), f"{packet.code}, {seeds}"),
        (_("Lot"), _lot_told(loan)),
        (_("Lent on"), date_format(loan.lent_on)),
        (_("Seed due by"), date_format(loan.due_on)),
    ]
    return _subject(loan) | {
        "facts": [{"label": label, "value": value} for label, value in rows],
        "due_reason": loan.due_reason,
        "advice": _growing(loan, variety, on),
        "cautions": _cautions(variety),
    }


def _lot_told(loan: Loan) -> str:
    lot = loan.packet.lot
    if lot.harvest_year is None:
        return lot.number
    return _("%(number)s, harvest %(year)s") % {
        "number": lot.number,
        "year": str(lot.harvest_year),
    }


def _growing(loan: Loan, variety: Variety, on: dt.date) -> list[str]:
    packet = loan.packet
    advice = sowing_advice_for(lot=packet.lot, on=on)
    figures = figures_of(variety)
    plants = population_of(variety, figures).plants
    keep = ngettext(
        "Seed of %(n)s plant keeps the variety; of fewer it is welcome too: tell us how many.",
        "Seed of %(n)s plants keeps the variety; of fewer it is welcome too: tell us how many.",
        plants,
    ) % {"n": number_format(plants)}
    return [
        what_a_packet_gives(advice, packet) or f"{advice.headline}.",
        words.isolation_to_keep(variety, figures),
        keep,
    ]


def _cautions(variety: Variety) -> str:
    told = words.short_cautions(Caution.objects.about_variety(variety))
    return f"{variety.own_caution.strip()} {told}".strip()


def _return_slip(loan: Loan) -> dict[str, Any]:
    told = loan.waiting_return()
    rows: list[Row] = [
        (_("Brought by"), loan.borrower.display_name),
        (_("Packet that was lent"), loan.packet.code),
        (_("Its lot"), loan.packet.lot.number),
    ]
    return _subject(loan) | {
        "facts": [{"label": label, "value": value} for label, value in rows],
        "fields": [
            {"label": label, "value": "" if value is None else str(value)}
            for label, value in _fields(told)
        ],
        "isolated": "" if told is None else _isolated(told),
        "wide": [
            {"label": label, "value": value}
            for label, value in (
                (_("Selected for, rogued out"), _joined(told, "selection", "roguing")),
                (_("Notes"), _joined(told, "notes")),
            )
        ],
    }


def _fields(told: Return | None) -> list[tuple[str, Any]]:
    """What the desk asks for; empty ones are written by hand."""
    grams = (
        None if told is None or told.grams is None else number_format(told.grams.normalize())
    )
    return [
        (_("Harvest year"), told and told.harvest_year),
        (_("Seeds, about"), told and told.seeds),
        (_("or grams"), grams),
        (_("Sown or set out"), told and told.plants_sown),
        (_("Plants that stood"), told and told.plants_stood),
        (_("Plants that gave seed"), told and told.plants_gave_seed),
    ]


def _isolated(told: Return) -> str:
    return "" if told.isolation == Isolation.UNKNOWN else str(told.get_isolation_display())


def _joined(told: Return | None, *names: str) -> str:
    return "" if told is None else " ".join(getattr(told, name) for name in names).strip()
