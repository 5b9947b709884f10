"""From a chain to a picture: marks, links and a table that say the same."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from urllib.parse import urlencode

from django.contrib.humanize.templatetags.humanize import intcomma
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from library.provenance import words
from library.provenance.chain import Chain, came_about, growing_of
from library.provenance.measuring import ChainMeasures
from library.provenance.models import OffTypeReport
from library.provenance.picture.facts import Behind, Shown, shown_of
from library.provenance.picture.layout import Layout, Placed, lay_out
from library.provenance.purity import ChainPurity, LinkJudgement
from library.provenance.walking import Link
from library.science.purity import Grade
from library.stock.models import Lot, Origin

COLUMN, MARK, LINE, MARGIN, AXIS = 136.0, 34.0, 14.0, 70.0, 44.0
THIN, THICK = 1.5, 9.0  # the widths of a share of nothing and of all
USUAL_GENERATIONS = 3


@dataclass(frozen=True)
class Mark:
    """One lot: where it is drawn, by which shape, and what is written in and under it."""

    lot: Lot
    x: float
    y: float
    shape: str
    elsewhere: bool
    is_start: bool
    inside: str
    flags: tuple[str, ...]
    made_from: str
    kind: str
    grade: Grade | None
    behind: Behind | None
    opens: str

    @property
    def written(self) -> tuple[str, ...]:
        """What stands under the number: that its year is not known, since it stands in that of
        its relatives, and the flags.
        """
        undated = () if self.lot.harvest_year else (_("year not known"),)
        return (*undated, *self.flags)

    @property
    def lines(self) -> list[tuple[str, int]]:
        """What is written under the number, with the height of each line."""
        return [(line, round(MARK / 2 + (i + 2) * LINE)) for i, line in enumerate(self.written)]

    @property
    def opens_at(self) -> int:
        return round(MARK / 2 + (len(self.written) + 2) * LINE)

    @property
    def behind_label(self) -> str:
        if self.behind is None:
            return ""
        n = self.behind.lots
        return ngettext("+ %(n)s more", "+ %(n)s more", n) % {"n": intcomma(n)}

    @property
    def behind_words(self) -> str:
        if self.behind is None:
            return ""
        told = ngettext(
            "Show %(n)s more lot behind %(lot)s, deposits among them: %(deposits)s",
            "Show %(n)s more lots behind %(lot)s, deposits among them: %(deposits)s",
            self.behind.lots,
        )
        facts = {"n": intcomma(self.behind.lots), "deposits": intcomma(self.behind.deposits)}
        return told % (facts | {"lot": self.lot.number})

    @property
    def words(self) -> str:
        """All that the mark says, in one sentence, for who hears it."""
        year = self.lot.harvest_year
        told = [
            self.lot.number,
            _("harvest %(year)s") % {"year": year} if year else _("harvest year not known"),
            self.kind,
            *([_("%(n)s plants gave seed") % {"n": self.inside}] if self.counts else []),
            *([_("made from %(lots)s") % {"lots": self.made_from}] if self.made_from else []),
            *self.flags,
        ]
        return ", ".join(told)

    @property
    def counts(self) -> bool:
        """Whether the number in the mark is of plants that were counted."""
        return self.inside not in ("", "?", "+")


@dataclass(frozen=True)
class Band:
    """A link as a line from mark to mark; ``is_weak`` where its stand may have crossed."""

    path: str
    width: float
    is_weak: bool
    words: str


@dataclass(frozen=True)
class Year:
    """A year's place on the axis; "not known" over lots of which nobody told theirs."""

    x: float
    label: str


@dataclass(frozen=True)
class Picture:
    """What is drawn, in reading order, with its size in pixels; ``is_measured`` where grow-outs
    of too few plants are marked.
    """

    lot: Lot
    marks: tuple[Mark, ...]
    bands: tuple[Band, ...]
    years: tuple[Year, ...]
    width: float
    height: float
    all_lots: int
    is_measured: bool

    @property
    def hidden(self) -> int:
        return self.all_lots - len(self.marks)

    @cached_property
    def has(self) -> dict[str, bool]:
        """What occurs in it, so that the legend tells no more."""
        shapes = {mark.shape for mark in self.marks}
        return {
            **{shape: shape in shapes for shape in ("deposit", "part", "return", "bulk")},
            "elsewhere": any(mark.elsewhere for mark in self.marks),
            "weak": any(band.is_weak for band in self.bands),
            "flags": any(mark.flags for mark in self.marks),
        }


def picture_of(
    chain: Chain,
    *,
    purity: ChainPurity | None = None,
    measures: ChainMeasures | None = None,
    warned: Mapping[int, list[OffTypeReport]] | None = None,
    generations: int | None = USUAL_GENERATIONS,
    opened: Iterable[int] = (),
    address: str = "",
    asked: Iterable[tuple[str, str]] = (),
) -> Picture:
    """Draw a chain, as far as ``generations`` from its lot and from each of ``opened``.

    ``address`` with ``asked`` is where the rest opens on demand. No query beyond the chain's.
    """
    shown = shown_of(chain, generations=generations, opened=opened)
    links = [(link.parent, link.child) for link in shown.links]
    years = {pk: lot.harvest_year for pk, lot in shown.lots.items()}
    layout = lay_out(years, links, shown.order)
    reader = _Reader(chain, shown, layout, purity, measures, warned or {})
    reader.opening(address, list(asked))
    return reader.picture()


class _Reader:
    def __init__(
        self,
        chain: Chain,
        shown: Shown,
        layout: Layout,
        purity: ChainPurity | None,
        measures: ChainMeasures | None,
        warned: Mapping[int, list[OffTypeReport]],
    ) -> None:
        self.chain, self.shown, self.layout = chain, shown, layout
        self.purity, self.measures, self.warned = purity, measures, warned
        self.flags = {pk: self._flags(lot) for pk, lot in shown.lots.items()}
        most = max((self._lines(lot) for lot in shown.lots.values()), default=0)
        self.row = MARK + (most + 2) * LINE + 6
        self.address, self.asked = "", [("", "")]

    def _lines(self, lot: Lot) -> int:
        """How many lines are written under its number."""
        undated, opens = not lot.harvest_year, lot.pk in self.shown.behind
        return len(self.flags[lot.pk]) + undated + opens

    def opening(self, address: str, asked: list[tuple[str, str]]) -> None:
        self.address, self.asked = address, asked

    def picture(self) -> Picture:
        order = sorted(self.shown.lots, key=self._reading)
        return Picture(
            lot=self.chain.lots[self.chain.lot.pk],
            marks=tuple(self._mark(self.shown.lots[pk]) for pk in order),
            bands=tuple(self._band(link) for link in self.shown.links),
            years=self._years(),
            width=round(2 * MARGIN + (self.layout.columns - 1) * COLUMN),
            height=round(AXIS + self.layout.rows * self.row + 8),
            all_lots=len(self.chain.lots),
            is_measured=self.measures is not None,
        )

    def _reading(self, pk: int) -> tuple[int, float]:
        place = self.layout.places[pk]
        return place.column, place.row

    def _x(self, place: Placed) -> float:
        return round(MARGIN + place.column * COLUMN, 1)

    def _y(self, place: Placed) -> float:
        return round(AXIS + MARK / 2 + place.row * self.row, 1)

    def _mark(self, lot: Lot) -> Mark:
        place, origin = self.layout.places[lot.pk], came_about(lot)
        is_part = origin == Origin.DEPOSIT and bool(self.chain.parents.get(lot.pk))
        judged = self._judged(lot)
        return Mark(
            lot=lot,
            x=self._x(place),
            y=self._y(place),
            shape="part" if is_part else origin,
            elsewhere=lot.is_elsewhere,
            is_start=lot.pk == self.chain.lot.pk,
            inside=_inside(lot, origin),
            flags=self.flags[lot.pk],
            made_from=self._made_from(lot),
            kind=_kind(lot, origin, is_part),
            grade=judged.grade if judged else None,
            behind=self.shown.behind.get(lot.pk),
            opens=self._opens(lot),
        )

    def _judged(self, lot: Lot) -> LinkJudgement | None:
        return self.purity.links.get(lot.pk) if self.purity else None

    def _flags(self, lot: Lot) -> tuple[str, ...]:
        judged, flags = self._judged(lot), []
        if lot.pk == self.chain.lot.pk:
            flags.append(_("this lot"))
        if lot.is_elsewhere:
            flags.append(_("elsewhere"))
        found = self.measures
        if found and lot.number in found.lots and found.is_bottleneck(lot):
            flags.append(_("few plants"))
        if judged and judged.grade is Grade.WEAK:
            flags.append(_("may have crossed"))
        if self.warned.get(lot.pk):
            flags.append(_("off-types seen"))
        return tuple(flags)

    def _made_from(self, lot: Lot) -> str:
        links = self.chain.parents.get(lot.pk, ())
        return ", ".join(
            _("%(lot)s (%(share)s)")
            % {"lot": self.chain.lots[link.parent].number, "share": words.share(link.share)}
            for link in links
        )

    def _opens(self, lot: Lot) -> str:
        if lot.pk not in self.shown.behind:
            return ""
        return f"{self.address}?{urlencode([*self.asked, ('open', lot.number)])}#chain-picture"

    def _band(self, link: Link) -> Band:
        child, parent = self.shown.lots[link.child], self.shown.lots[link.parent]
        judged = self._judged(child)
        places = [
            self.layout.places[link.parent],
            *self.layout.ways[link.parent, link.child],
            self.layout.places[link.child],
        ]
        facts = {"child": child.number, "parent": parent.number}
        told = _("%(share)s of %(child)s came from %(parent)s")
        return Band(
            path=_curve([(self._x(place), self._y(place)) for place in places]),
            width=round(THIN + (THICK - THIN) * link.share, 1),
            is_weak=bool(judged and judged.grade is Grade.WEAK),
            words=told % (facts | {"share": words.share(link.share)}),
        )

    def _years(self) -> tuple[Year, ...]:
        """Each year over the first column in which a lot is known to be of it."""
        places, lots = self.layout.places, self.shown.lots
        dated = {places[pk].column for pk, lot in lots.items() if lot.harvest_year}
        years: list[Year] = []
        for i, year in enumerate(self.layout.years):
            label = str(year) if i in dated else _("not known")
            if not years or years[-1].label != label:
                years.append(Year(round(MARGIN + i * COLUMN, 1), label))
        return tuple(years)


def _inside(lot: Lot, origin: str) -> str:
    if origin == Origin.BULK:
        return "+"
    growing = growing_of(lot)
    if growing is not None and growing.plants_gave_seed is not None:
        return str(intcomma(growing.plants_gave_seed))
    return "?" if origin == Origin.RETURN else ""


def _kind(lot: Lot, origin: str, is_part: bool) -> str:
    if is_part:
        told = _("part of another jar")
    elif origin == Origin.DEPOSIT:
        told = _("brought from outside")
    elif origin == Origin.BULK:
        told = _("poured together")
    else:
        told = _("grown")
    if lot.is_elsewhere:
        return _("%(how)s, kept by %(library)s") % {
            "how": told,
            "library": lot.foreign.library,
        }
    return told


def _curve(points: list[tuple[float, float]]) -> str:
    """A line through the points that leaves and reaches each level."""
    (x, y), *rest = points
    parts = [f"M{x:g} {y:g}"]
    for to_x, to_y in rest:
        middle = (x + to_x) / 2
        parts.append(f"C{middle:g} {y:g} {middle:g} {to_y:g} {to_x:g} {to_y:g}")
        x, y = to_x, to_y
    return "".join(parts)
