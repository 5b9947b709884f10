"""The ways to paper, on the pages of what it is about."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext as _

from library import hooks
from library.growouts.models import Commitment
from library.hooks import Panel, register_panel
from library.lending.models import Loan
from library.paper import services
from library.paper.asking import may_print
from library.paper.models import Kind

TEMPLATE = "paper/panel.html"
MOST_SLIPS = 60
Link = tuple[str, str]


def register() -> None:
    for place, context in {
        "packet": of_packet,
        "lot": of_lot,
        "variety": of_variety,
        "loan": of_loan,
        "return": of_return,
        "desk": at_the_desk,
        "storage_place": of_place,
        "storage": of_all_places,
        "commitment": of_commitment,
        "growouts": of_season,
        "community": of_community,
        "my-seed": of_own_loans,
    }.items():
        register_panel(place, Panel(TEMPLATE, context, order=95))
    hooks.follow("member_leaves", services.forget_jobs_of)


def _links(request: HttpRequest, *wanted: tuple[str, str, list[Any]]) -> dict[str, Any] | None:
    """(words, kind, keys) as links that the reader may follow; None when none is left."""
    links = [
        {"words": words, "href": paper_address(kind, keys)}
        for words, kind, keys in wanted
        if may_print(request.user, kind)
    ]
    return {"links": links} if links else None


def paper_address(kind: str, keys: list[Any]) -> str:
    query = urlencode([("key", key) for key in keys])
    address = reverse(f"paper-{kind}")
    return f"{address}?{query}" if query else address


def of_packet(request: HttpRequest, packet: Any) -> dict[str, Any] | None:
    return _links(request, (_("Its label"), Kind.LABELS, [packet.code]))


def of_lot(request: HttpRequest, lot: Any) -> dict[str, Any] | None:
    if lot.is_elsewhere:
        return None
    return _links(
        request,
        (_("Labels of its packets"), Kind.LABELS, [lot.number]),
        (_("Card of its variety"), Kind.CARDS, [lot.variety_id]),
    )


def of_variety(request: HttpRequest, variety: Any) -> dict[str, Any] | None:
    return _links(request, (_("Card for the box"), Kind.CARDS, [variety.pk]))


def of_loan(request: HttpRequest, loan: Any) -> dict[str, Any] | None:
    wanted = [(_("Loan slip"), Kind.LOAN_SLIPS, [loan.pk])]
    if loan.is_open:
        wanted.append((_("Return slip to fill in"), Kind.RETURN_SLIPS, [loan.pk]))
    return _links(request, *wanted)


def of_return(request: HttpRequest, seed_return: Any) -> dict[str, Any] | None:
    keys = [link.loan_id for link in seed_return.loan_links.all()]
    return _links(request, (_("Return slip"), Kind.RETURN_SLIPS, keys)) if keys else None


def at_the_desk(request: HttpRequest, person: Any = None) -> dict[str, Any] | None:
    """The slips of who is served; else the way to the page where paper is chosen."""
    if person is None:
        if not may_print(request.user, Kind.LABELS):
            return None
        address = reverse("printing")
        return {"links": [{"words": _("Labels, cards and lists"), "href": address}]}
    return _slips_of(request, person)


def of_own_loans(request: HttpRequest, member: Any) -> dict[str, Any] | None:
    return _slips_of(request, member)


def _slips_of(request: HttpRequest, person: Any) -> dict[str, Any] | None:
    loans = Loan.objects.visible_to(request.user).open().filter(borrower=person)
    keys = list(loans.order_by("due_on", "pk").values_list("pk", flat=True)[:MOST_SLIPS])
    if not keys:
        return None
    return _links(
        request,
        (_("Loan slips"), Kind.LOAN_SLIPS, keys),
        (_("Return slips to fill in"), Kind.RETURN_SLIPS, keys),
    )


def of_place(request: HttpRequest, place: Any) -> dict[str, Any] | None:
    return _links(request, (_("Shelf list"), Kind.SHELF_LIST, [place.pk]))


def of_all_places(request: HttpRequest, subject: Any = None) -> dict[str, Any] | None:
    return _links(request, (_("Shelf list of everything"), Kind.SHELF_LIST, []))


def of_commitment(request: HttpRequest, commitment: Commitment) -> dict[str, Any] | None:
    return _links(request, (_("Season sheet"), Kind.SEASON_SHEET, [commitment.pk]))


def of_season(request: HttpRequest, member: Any) -> dict[str, Any] | None:
    """All that the member promised and is growing, on one sheet."""
    if not member.is_authenticated:
        return None
    rows = Commitment.objects.of(member).filter(state=Commitment.State.ACCEPTED)
    keys = list(rows.order_by("pk").values_list("pk", flat=True)[:MOST_SLIPS])
    return _links(request, (_("My season sheet"), Kind.SEASON_SHEET, keys)) if keys else None


def of_community(request: HttpRequest, subject: Any = None) -> dict[str, Any] | None:
    return _links(request, (_("Notice for the wall"), Kind.NOTICE, []))
