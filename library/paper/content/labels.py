"""Labels of packets: what seed law and the custom of the trade ask for.

Sources: 7 U.S.C. 1571(b) and 7 CFR 201.29 to 201.31a for kind, variety, hybrid and germination
below the standard; W. Va. Code 19-16-5a (after the model law of 2016) for seed that is shared:
treatment, a reference to trace it by, who shares it, month and year of the donation. Number of
seeds, harvest, grower, population and isolation are common practice, no source.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from accounts.models import Community
from library.catalogue.models import BreedingStatus, Caution, SpeciesFigure
from library.germination.advice import SowingAdvice
from library.germination.models import GerminationTest
from library.germination.results import result_of
from library.lending.services import sowing_advice_for, what_a_packet_gives
from library.lending.services.reserve import figures_of
from library.paper import words
from library.paper.geometry import Geometry
from library.paper.qr import square_code
from library.stock.models import Lot, Packet

Progress = Callable[[int], None]
Line = dict[str, Any]


def label_sheet(
    packets: Sequence[Packet],
    *,
    geometry: Geometry,
    start: int,
    on: dt.date,
    progress: Progress = lambda made: None,
) -> dict[str, Any]:
    """A label for each packet, the first on the ``start``-th place (from 1) of the page.

    Packets with ``with_lot`` and their lots' growing, grower and figures. ``progress`` hears
    how many were written, and may raise to stop.
    """
    common = _Common(on)
    labels = []
    for number, packet in enumerate(packets):
        page, x, y = geometry.place(start - 1 + number)
        labels.append(common.label(packet) | {"at": {"page": page, "x": x, "y": y}})
        progress(number + 1)
    title = _("Labels of %(name)s") % {"name": common.community.name}
    return {"title": title, "geometry": geometry.as_json(), "labels": labels}


class _Common:
    """What the packets of a lot share is asked once."""

    def __init__(self, on: dt.date) -> None:
        self.on = on
        self.community = Community.current()
        self._of_lot: dict[int, dict[str, Any]] = {}
        self._cautions: dict[int, str] = {}

    def label(self, packet: Packet) -> dict[str, Any]:
        lot = packet.lot
        if lot.pk not in self._of_lot:
            self._of_lot[lot.pk] = self._lot_facts(lot)
        shared = self._of_lot[lot.pk]
        variety = lot.variety
        return {
            "name": words.named(variety.name),
            "crop": words.named(variety.crop.local_name),
            "botanical": variety.crop.species.botanical_name,
            "code": packet.code,
            "below": shared["below"],
            "lines": _lines(packet, shared),
            "qr": square_code(packet.get_absolute_url()),
            "qr_alt": _("Square code of packet %(code)s") % {"code": packet.code},
        }

    def _lot_facts(self, lot: Lot) -> dict[str, Any]:
        figures = figures_of(lot.variety)
        place = f", {self.community.place}" if self.community.place else ""
        return {
            "advice": sowing_advice_for(lot=lot, on=self.on),
            "below": below_standard(lot),
            "isolation": words.isolation_to_keep(lot.variety, figures),
            "grew": words.how_it_grew(getattr(lot, "growing", None)),
            "cautions": self._short_cautions(lot),
            "library": f"{self.community.name}{place}",
        }

    def _short_cautions(self, lot: Lot) -> str:
        variety = lot.variety
        if variety.pk not in self._cautions:
            told = words.short_cautions(Caution.objects.about_variety(variety))
            own = variety.own_caution.strip()
            self._cautions[variety.pk] = f"{own} {told}".strip()
        return self._cautions[variety.pk]


def _lines(packet: Packet, shared: dict[str, Any]) -> list[Line]:
    """In the order of reading; where room is short the last that need not stay goes first."""
    lot = packet.lot
    status = words.status_line(lot.variety)
    hybrid = lot.variety.breeding_status in (BreedingStatus.F1, BreedingStatus.SEGREGATING)
    advice = shared["advice"]
    return [
        _line(1, _contents(packet), strong=True),
        _line(2, _trace(lot)),
        _line(2, f"{status[:1].upper()}{status[1:]}.", strong=hybrid),
        _line(3, shared["cautions"]),
        _line(3, _("No treatment of the seed is recorded.")),
        _line(4, shared["isolation"], keep=False),
        _line(4, _sowing(packet, advice), keep=False),
        _line(4, _sprouts(advice), keep=False),
        *[_line(5, text, keep=False) for text in [_grown(lot, shared["grew"])] if text],
        _line(6, shared["library"]),
    ]


def _line(part: int, text: str, *, strong: bool = False, keep: bool = True) -> Line:
    """Lines of one part run on as one paragraph."""
    return {"part": part, "text": text, "strong": strong, "keep": keep}


def _contents(packet: Packet) -> str:
    told = {"seeds": number_format(packet.seeds, force_grouping=True), "unit": packet.lot.unit}
    if packet.lot.harvest_year is None:
        return _("%(seeds)s %(unit)s, harvest year not known") % told
    told["year"] = str(packet.lot.harvest_year)
    return _("%(seeds)s %(unit)s, harvest %(year)s") % told


def _trace(lot: Lot) -> str:
    return _("Lot %(number)s, received %(month)s.") % {
        "number": lot.number,
        "month": date_format(lot.received_on, "YEAR_MONTH_FORMAT"),
    }


def _sowing(packet: Packet, advice: SowingAdvice) -> str:
    return what_a_packet_gives(advice, packet) or f"{advice.headline}."


def _sprouts(advice: SowingAdvice) -> str:
    """What the advice counts on; a figure that is printed says how it was come by."""
    low = {"low": advice.germination_percent}
    if advice.is_guess:
        return _("Counted on: %(low)s %% sprouts, a guess; never tested.") % low
    if not advice.from_tests:
        return _("Counted on: at least %(low)s %% sprouts, predicted; never tested.") % low
    return (
        _("Counted on: at least %(low)s %% sprouts, by our own tests, not official ones.") % low
    )


def _grown(lot: Lot, grew: str) -> str:
    who = ""
    if lot.grower is not None:
        who = _("grown by %(name)s") % {"name": lot.grower.display_name}
    elif lot.source_name:
        who = _("given by %(name)s") % {"name": lot.source_name}
    told = ", ".join(part for part in (who, lot.origin_region, grew) if part)
    return told[:1].upper() + told[1:] + "." if told else ""


def below_standard(lot: Lot) -> str:
    """The words that the law asks for where the newest test is below the federal standard of
    its kind: hard seed counts for the standard, and stands apart in the figure. Else nothing:
    seed at or above the standard needs no percentage (7 CFR 201.29).
    """
    test = (
        GerminationTest.objects.closed()
        .filter(lot=lot)
        .prefetch_related("replicates")
        .order_by("-closed_on", "-pk")
        .first()
    )
    if test is None or test.closed_on is None:
        return ""
    test.lot = lot
    result = result_of(test)
    if result is None or result.minimum is None or result.meets_federal is not False:
        return ""
    if result.minimum.quantity != SpeciesFigure.Quantity.FEDERAL_MIN_PERCENT:
        return ""
    told = {
        "percent": result.percent,
        "hard": result.percent_with_hard - result.percent,
        "month": date_format(test.closed_on, "YEAR_MONTH_FORMAT"),
    }
    if told["hard"]:
        return (
            _("Below Standard: germination %(percent)s %%, hard seed %(hard)s %%, %(month)s")
            % told
        )
    return _("Below Standard: germination %(percent)s %%, %(month)s") % told
