"""Whether the links of a file make a chain: no ring, no time reversed, every part accounted."""

from __future__ import annotations

import uuid
from collections import deque
from collections.abc import Mapping
from decimal import Decimal
from itertools import pairwise

from django.utils.translation import gettext as _

from library.exchange.prov.document import Document
from library.exchange.prov.told import ToldLot

Lots = Mapping[uuid.UUID, ToldLot]
_SLACK = Decimal("0.001")
_NAMED = 6  # links of a ring; a longer one is cut in the middle


def check_graph(
    document: Document, lots: Lots, heads: list[uuid.UUID]
) -> dict[uuid.UUID, ToldLot] | None:
    """The lots, parents before children; None where there is a ring. Notes what is wrong."""
    for lot in lots.values():
        _check_parents(document, lot)
    ordered = _parents_first(lots)
    if len(ordered) < len(lots):
        _name_a_ring(document, lots, set(lots) - set(ordered))
        return None
    _check_years(document, ordered)
    if len(heads) == 1:
        _check_all_belong(document, lots, heads[0])
    return ordered


def _check_parents(document: Document, lot: ToldLot) -> None:
    words: dict[str, object] = {"lot": lot.number}
    if lot.origin == "deposit" and len(lot.parents) > 1:
        sentence = _("lot %(lot)s: a deposit is part of one lot at most, not of several.")
        document.wrong(lot.line, sentence % words)
    if lot.origin != "deposit" and not lot.parents:
        sentence = _("lot %(lot)s: say with wasDerivedFrom which lot it came from.")
        document.wrong(lot.line, sentence % words)
    if not lot.parents:
        return
    total = sum((link.share for link in lot.parents), Decimal(0))
    if abs(total - 1) > _SLACK:
        sentence = _("lot %(lot)s: its parents' shares sum to %(sum)s; they must sum to 1.")
        words["sum"] = format(total.normalize(), "f")
        document.wrong(lot.parents[0].line, sentence % words)


def _parents_first(lots: Lots) -> dict[uuid.UUID, ToldLot]:
    waiting = {key: len(lot.parents) for key, lot in lots.items()}
    children: dict[uuid.UUID, list[uuid.UUID]] = {}
    for key, lot in lots.items():
        for link in lot.parents:
            children.setdefault(link.parent, []).append(key)
    ready = deque(key for key, n in waiting.items() if not n)
    ordered = {}
    while ready:
        key = ready.popleft()
        ordered[key] = lots[key]
        for child in children.get(key, ()):
            waiting[child] -= 1
            if not waiting[child]:
                ready.append(child)
    return ordered


def _name_a_ring(document: Document, lots: Lots, left: set[uuid.UUID]) -> None:
    """Every lot that is left has a parent that is left: going up leads round."""
    way: dict[uuid.UUID, None] = {}
    at = min(left, key=lambda key: lots[key].line)
    while at not in way:
        way[at] = None
        at = next(link.parent for link in lots[at].parents if link.parent in left)
    gone = list(way)
    ring = [*gone[gone.index(at) :], at]
    named = [
        _("%(child)s comes from %(parent)s (line %(line)s)")
        % {
            "child": lots[child].number,
            "parent": lots[parent].number,
            "line": _line_of_link(lots[child], parent),
        }
        for child, parent in pairwise(ring)
    ]
    if len(named) > _NAMED:
        named = [*named[: _NAMED - 1], "…", named[-1]]
    links = ", ".join(named)
    document.wrong(
        min(_line_of_link(lots[c], p) for c, p in pairwise(ring)),
        _("no lot can be its own ancestor, but %(links)s. Remove the link that is wrong.")
        % {"links": links},
    )


def _line_of_link(lot: ToldLot, parent: uuid.UUID) -> int:
    return next(link.line for link in lot.parents if link.parent == parent)


def years_above(ordered: Lots, years: Mapping[uuid.UUID, int | None]) -> dict:
    """For each lot the latest harvest year known among its ancestors, and whose that is."""
    above: dict[uuid.UUID, tuple[int, uuid.UUID] | None] = {}
    for key, lot in ordered.items():
        known = []
        for link in lot.parents:
            year = years.get(link.parent)
            found = above.get(link.parent) if year is None else (year, link.parent)
            if found is not None:
                known.append(found)
        above[key] = max(known, key=lambda each: each[0], default=None)
    return above


def _check_years(document: Document, ordered: Lots) -> None:
    years = {key: lot.harvest_year for key, lot in ordered.items()}
    above = years_above(ordered, years)
    for key, lot in ordered.items():
        found = above[key]
        if found and lot.harvest_year is not None and lot.harvest_year < found[0]:
            document.wrong(
                lot.lines.get("harvestYear", lot.line),
                _(
                    "lot %(lot)s was harvested in %(year)s, before lot %(other)s of %(before)s "
                    "that it came from; a child is harvested no earlier."
                )
                % {
                    "lot": lot.number,
                    "year": lot.harvest_year,
                    "other": ordered[found[1]].number,
                    "before": found[0],
                },
            )


def _check_all_belong(document: Document, lots: Lots, head: uuid.UUID) -> None:
    reached, ring = {head}, [head]
    while ring:
        parents = {link.parent for key in ring for link in lots[key].parents} - reached
        reached |= parents
        ring = list(parents)
    for key, lot in lots.items():
        if key not in reached:
            document.wrong(
                lot.line,
                _("lot %(lot)s is no ancestor of the lot that the file is about.")
                % {"lot": lot.number},
            )
