"""A chain that was sent, looked at before anything of it is written down.

Each of its lots has a fate: new here, known here, or one of ours that comes home. Where the
file disagrees with what is recorded here, that is told, and what is recorded stays.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from django.db.models import Prefetch
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from library.catalogue.models import Variety
from library.errors import Refused
from library.exchange.matching import Cards
from library.exchange.prov.graph import years_above
from library.exchange.prov.lines import Problem
from library.exchange.prov.reading import Unreadable, read_chain
from library.exchange.prov.told import ToldChain, ToldLot
from library.stock.models import Lot, LotParent
from library.stock.services.descent import check_same_line

_SHARE_SLACK = Decimal("0.001")


class Fate(StrEnum):
    NEW = "new"
    KNOWN = "known"
    OURS = "ours"
    LEFT = "left"

    @property
    def label(self) -> str:
        return str(_FATES[self])


_FATES = {
    Fate.NEW: gettext_lazy("new here: will be written down as a lot of that library"),
    Fate.KNOWN: gettext_lazy("known here already: stays as it is recorded"),
    Fate.OURS: gettext_lazy("ours: it comes home, and stays as it is recorded"),
    Fate.LEFT: gettext_lazy("left out: only a lot that is known here comes from it"),
}


@dataclass(frozen=True)
class LotSeen:
    """A lot of the file, what becomes of it, and where the file disagrees with us."""

    told: ToldLot
    fate: Fate
    variety: Variety
    here: Lot | None
    differs: tuple[str, ...]


@dataclass(frozen=True)
class ChainSeen:
    """The chain of a file as it would be taken in; parents stand before children."""

    chain: ToldChain
    lots: Mapping[uuid.UUID, LotSeen]

    @property
    def head(self) -> LotSeen:
        return self.lots[self.chain.head]

    @property
    def libraries(self) -> list[str]:
        return sorted({seen.told.library for seen in self.lots.values()})

    @property
    def is_all_ours(self) -> bool:
        """Whether this very library wrote the file: every lot of it is one of ours."""
        return all(seen.fate == Fate.OURS for seen in self.lots.values())

    @property
    def new(self) -> list[LotSeen]:
        return [seen for seen in self.lots.values() if seen.fate == Fate.NEW]

    @property
    def counts(self) -> dict[str, int]:
        """How many lots have each fate."""
        return {fate: sum(seen.fate == fate for seen in self.lots.values()) for fate in Fate}


def look_at(content: bytes | str, *, on: dt.date) -> ChainSeen:
    """Read a file and compare it with the catalogue and the stock; nothing is written.

    Raises Unreadable (a Refused) with every problem and its line.
    """
    here: dict[uuid.UUID, Lot] = {}
    varieties: dict[uuid.UUID, Variety] = {}

    def unknown_cards(lots: Collection[ToldLot]) -> list[Problem]:
        wrong: list[Problem] = []
        here.update(_known_here(lots))
        cards = Cards.for_lots(lots)
        for told in lots:
            card, known = cards.variety_of(told, wrong), here.get(told.identifier)
            if card is not None:
                varieties[told.identifier] = known.variety if known else card
        return wrong

    chain = read_chain(content, on=on, also=unknown_cards)
    fates = _fates(chain, here)
    problems: list[Problem] = []
    _check_lines(chain, varieties, fates, problems)
    _check_years_here(chain, here, fates, problems)
    if problems:
        raise Unreadable(problems)
    return ChainSeen(
        chain,
        {
            key: LotSeen(
                told, fates[key], varieties[key], here.get(key), _differs(told, here.get(key))
            )
            for key, told in chain.lots.items()
        },
    )


def _known_here(lots: Collection[ToldLot]) -> dict[uuid.UUID, Lot]:
    rows = Lot.objects.filter(identifier__in=[lot.identifier for lot in lots]).with_variety()
    links = LotParent.objects.select_related("parent")
    rows = rows.select_related("foreign").prefetch_related(
        Prefetch("parent_links", queryset=links)
    )
    return {lot.identifier: lot for lot in rows}


def _fates(chain: ToldChain, here: Mapping[uuid.UUID, Lot]) -> dict[uuid.UUID, Fate]:
    """A lot is written down if a lot that is written down came from it, or it is the head."""
    wanted = {chain.head}
    for key in reversed(list(chain.lots)):  # children before parents
        if key in wanted and key not in here:
            wanted |= {link.parent for link in chain.lots[key].parents}
    return {key: _fate(here.get(key), key in wanted) for key in chain.lots}


def _fate(here: Lot | None, wanted: bool) -> Fate:
    if here is not None:
        return Fate.KNOWN if here.is_elsewhere else Fate.OURS
    return Fate.NEW if wanted else Fate.LEFT


def _check_lines(chain, varieties, fates, problems: list[Problem]) -> None:
    """The rule of the stock: a parent is of the same variety, or the child came of a cross."""
    for key, told in chain.lots.items():
        if fates[key] != Fate.NEW:
            continue
        parents = [
            Lot(number=chain.lots[link.parent].number, variety=varieties[link.parent])
            for link in told.parents
        ]
        try:
            check_same_line(Lot(number=told.number, variety=varieties[key]), parents)
        except Refused as refusal:
            line = told.lines.get("variety", told.line)
            problems.append(Problem(line, f"{told.number}: {refusal}"))


def _check_years_here(chain, here, fates, problems: list[Problem]) -> None:
    """The file's own years agree with each other; here with those recorded here."""
    years = {
        key: here[key].harvest_year if key in here else told.harvest_year
        for key, told in chain.lots.items()
    }
    above = years_above(chain.lots, years)
    for key, told in chain.lots.items():
        found = above[key]
        if fates[key] != Fate.NEW or found is None or told.harvest_year is None:
            continue
        if told.harvest_year < found[0]:
            words = {
                "lot": told.number,
                "year": told.harvest_year,
                "other": here[found[1]].number if found[1] in here else "",
                "before": found[0],
            }
            sentence = _(
                "lot %(lot)s was harvested in %(year)s, but lot %(other)s that it came from is "
                "recorded here with a harvest of %(before)s; ask that library which is right."
            )
            line = told.lines.get("harvestYear", told.line)
            problems.append(Problem(line, sentence % words))


def _differs(told: ToldLot, here: Lot | None) -> tuple[str, ...]:
    """Where the file says otherwise than is recorded here."""
    if here is None:
        return ()
    pairs = [
        (_("number"), told.number, here.foreign.number if here.is_elsewhere else here.number),
        (_("variety"), told.variety, here.variety.name),
        (_("harvest year"), told.harvest_year, here.harvest_year),
        (_("received"), told.received_on, here.received_on),
        (_("parents"), _told_parents(told), _parents_here(here)),
    ]
    return tuple(
        _("%(fact)s: the file says %(told)s, here it is %(here)s")
        % {"fact": fact, "told": _or_unknown(there), "here": _or_unknown(ours)}
        for fact, there, ours in pairs
        if there != ours
    )


def _told_parents(told: ToldLot) -> str:
    return _parents((link.parent, link.share) for link in told.parents)


def _parents_here(here: Lot) -> str:
    return _parents((link.parent.identifier, link.share) for link in here.parent_links.all())


def _parents(links) -> str:
    """Parents and shares in one order, to compare and to show."""
    parts = sorted((str(key)[:8], f"{share * 100:.1f} %") for key, share in links)
    return ", ".join(" ".join(part) for part in parts)


def _or_unknown(value: object) -> str:
    return _("not known") if value in (None, "") else str(value)
