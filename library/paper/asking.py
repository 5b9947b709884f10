"""From what was asked for to rows that the asker may print, and from rows to a document."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from django.http import Http404
from django.utils.translation import gettext as _

from accounts.access import may_browse
from accounts.models import Member
from accounts.roles import BORROW, SERVE_DESK
from library.catalogue.models import Variety
from library.errors import Refused
from library.growouts.models import Commitment
from library.lending.models import Loan
from library.paper.content import cards, labels, notices, seasons, shelves, slips
from library.paper.geometry import Geometry
from library.paper.models import Kind
from library.science.codes import MISTYPED, MistypedCode, normalise_code
from library.stock.models import Lot, Packet, StoragePlace
from library.stock.service_pages import number_asked

MOST = 2000  # labels, cards or lines in one document
MOST_KEYS = 2000
Progress = Callable[[int], None]
DESK = {Kind.LABELS, Kind.SHELF_LIST}
MEMBERS = {Kind.LOAN_SLIPS, Kind.RETURN_SLIPS, Kind.SEASON_SHEET}


def may_print(member: Any, kind: str) -> bool:
    """Whether the person may print such paper at all; which rows is another question."""
    if kind in DESK:
        return bool(member.is_authenticated and member.has_perm(SERVE_DESK))
    if kind in MEMBERS:
        return bool(member.is_authenticated and member.has_perm(BORROW))
    return may_browse(member)


def rows_asked(kind: str, keys: Sequence[str], by: Any) -> list[int]:
    """The keys of what is to be printed, each once, in the order they were asked in.

    Labels take packet codes and lot numbers (all that is on the shelf of a lot), cards the
    numbers of varieties and of lots, slips those of loans, the shelf list those of places
    (none: everything), the season sheet those of commitments. Raises Http404 for what is not
    there or not to be seen, Refused for what cannot be or is too much.
    """
    if not may_print(by, kind):
        raise Http404
    if len(keys) > MOST_KEYS:
        raise Refused(_("At most %(most)s at a time.") % {"most": MOST_KEYS}, field="key")
    found = list(dict.fromkeys(_FINDERS[Kind(kind)](keys, by)))
    if len(found) > MOST:
        raise Refused(
            _("That would be %(n)s; at most %(most)s are printed at a time.")
            % {"n": len(found), "most": MOST},
            field="key",
        )
    if not found and kind not in (Kind.NOTICE, Kind.SHELF_LIST):
        raise Refused(_("Say first what to print: nothing was chosen."), field="key")
    return found


def _packets(keys: Sequence[str], by: Any) -> list[int]:
    codes = [_code(key) for key in keys]
    lots = [code for code in codes if code.startswith("L")]
    by_code = _found(Packet.objects, "code", [c for c in codes if c.startswith("P")])
    known = _found(Lot.objects.kept_here(), "number", lots)
    of_lot: dict[int, list[int]] = {pk: [] for pk in known.values()}
    on_shelf = Packet.objects.on_shelf().filter(lot__in=of_lot).order_by("code")
    for pk, lot in on_shelf.values_list("pk", "lot"):
        of_lot[lot].append(pk)
    return [
        pk
        for code in codes
        for pk in ([by_code[code]] if code in by_code else of_lot[known[code]])
    ]


def _varieties(keys: Sequence[str], by: Any) -> list[int]:
    numbers = {key: number_asked(key) for key in keys}
    lots = [_code(key) for key, number in numbers.items() if number is None]
    of_lot = _found(Lot.objects.visible_to(by), "number", lots, "variety")
    known = _found(Variety.objects, "pk", [n for n in numbers.values() if n is not None])
    return [
        known[number] if number is not None else of_lot[_code(key)]
        for key, number in numbers.items()
    ]


def _loans(keys: Sequence[str], by: Any) -> list[int]:
    return _by_number(Loan.objects.visible_to(by), keys)


def _lots_lying(keys: Sequence[str], by: Any) -> list[int]:
    places = _by_number(StoragePlace.objects, keys)
    return list(shelves.lots_of_places(places).order_by("pk").values_list("pk", flat=True))


def _commitments(keys: Sequence[str], by: Any) -> list[int]:
    return _by_number(Commitment.objects.visible_to(by), keys)


_FINDERS: dict[Kind, Callable[[Sequence[str], Any], Iterable[int]]] = {
    Kind.LABELS: _packets,
    Kind.CARDS: _varieties,
    Kind.LOAN_SLIPS: _loans,
    Kind.RETURN_SLIPS: _loans,
    Kind.SHELF_LIST: _lots_lying,
    Kind.SEASON_SHEET: _commitments,
    Kind.NOTICE: lambda keys, by: [],
}


def _code(text: str) -> str:
    try:
        return normalise_code(text)
    except MistypedCode as error:
        sentence = _(MISTYPED[error.key]).format(**error.inputs)
        raise Refused(sentence, field="key") from None


def _by_number(rows: Any, keys: Sequence[str]) -> list[int]:
    numbers = [number_asked(key) for key in keys]
    if None in numbers:
        raise Http404
    known = _found(rows, "pk", numbers)
    return [known[number] for number in numbers]


def _found(rows: Any, column: str, wanted: Sequence[Any], gives: str = "pk") -> dict[Any, int]:
    """By ``column`` the key of each row that is wanted; Http404 if one is not there."""
    known = dict(rows.filter(**{f"{column}__in": set(wanted)}).values_list(column, gives))
    if set(wanted) - known.keys():
        raise Http404
    return known


def _in_order(rows: Any, keys: Sequence[int]) -> list[Any]:
    """The rows in the order of their keys; one that is gone since is left out."""
    found = rows.in_bulk(keys)
    return [found[key] for key in keys if key in found]


def content_of(
    given: dict[str, Any], *, by: Member | Any, progress: Progress = lambda made: None
) -> dict[str, Any]:
    """The data of the document that ``given`` (``services.prepared``) asks for."""
    kind, keys = Kind(given["kind"]), given["rows"]
    told: dict[str, Any] = {"on": dt.date.fromisoformat(given["on"]), "progress": progress}
    paper = given["paper"]
    if kind == Kind.LABELS:
        rows = Packet.objects.with_lot().select_related("lot__growing", "lot__grower")
        rows = rows.select_related("lot__estimate").prefetch_related(
            "lot__variety__crop__species__figures"
        )
        return labels.label_sheet(
            _in_order(rows, keys),
            geometry=Geometry(**given["geometry"]),
            start=given["start"],
            **told,
        )
    if kind == Kind.CARDS:
        rows = Variety.objects.with_crop().prefetch_related("names")
        return cards.variety_cards(_in_order(rows, keys), size=given["card"], by=by, **told)
    if kind == Kind.SHELF_LIST:
        return shelves.shelf_list(keys, paper=paper, **told)
    if kind == Kind.SEASON_SHEET:
        rows = Commitment.objects.with_details().prefetch_related(
            "milestones", "lent__loan__packet"
        )
        return seasons.season_sheet(_in_order(rows, keys), paper=paper, **told)
    if kind == Kind.NOTICE:
        return notices.wall_notice(paper=paper, on=told["on"])
    loans = _in_order(Loan.objects.with_details(), keys)
    make = slips.loan_slips if kind == Kind.LOAN_SLIPS else slips.return_slips
    return make(loans, paper=paper, **told)
