"""Letters about offers and promises, in the reader's language, queued with their cause."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.utils import translation

from accounts.models import Community, Member
from accounts.roles import COORDINATE
from library.growouts.models import Commitment
from library.outbox.services import queue_mail

SOURCE = "commitment"
TO_GROWERS = ("offer", "withdrawn")
Facts = dict[str, Any]


def send_offer(commitment: Commitment, facts: Callable[[], Facts]) -> None:
    """To the grower: all they must know, and the page on which to answer.

    ``facts`` puts it into words, in whatever language is active when it is called.
    """
    _send("offer", commitment, commitment.grower, facts)


def send_withdrawn(commitment: Commitment, reason: str) -> None:
    """To the grower: the offer or promise is called off."""
    _send("withdrawn", commitment, commitment.grower, lambda: {"reason": reason})


def send_answer(commitment: Commitment) -> None:
    """To who made the offer: what the grower answered, and what the desk has to fill."""
    _to_coordinators("answer", commitment)


def send_failed(commitment: Commitment) -> None:
    """To who made the offer: the crop failed, and a replacement may be found."""
    _to_coordinators("failed", commitment)


def send_lapsed(commitment: Commitment) -> None:
    """To who made the offer: nobody answered in time."""
    _to_coordinators("lapsed", commitment)


def send_called_off(commitment: Commitment, by: Member | None) -> None:
    """To who made the offer, unless it was they: it ended without having been sown."""
    _to_coordinators("called_off", commitment, but=by)


def reader_of(source: str) -> str | None:
    """The outbox asks right before delivery: the address of today, or None if not wanted."""
    _prefix, letter, key, reader = source.split(":")
    row = Commitment.objects.filter(pk=key).first()
    member = Member.objects.filter(pk=reader).first()
    if row is None or member is None or not member.is_approved:
        return None
    if letter == "offer" and not row.is_offered:
        return None
    if letter not in TO_GROWERS and not member.has_perm(COORDINATE):
        return None
    return member.email


def _to_coordinators(letter: str, commitment: Commitment, but: Member | None = None) -> None:
    """To who made the offer; to every coordinator where that one is none any more."""
    by = commitment.offered_by
    asked = [by] if by is not None and by.is_approved and by.has_perm(COORDINATE) else None
    for reader in asked or Member.objects.coordinators().order_by("pk"):
        if reader != but:
            _send(letter, commitment, reader, lambda: {"packets": _packets(commitment)})


def _packets(commitment: Commitment) -> list[Any]:
    links = commitment.lent.select_related("loan__packet__lot__variety__crop")
    return [link.loan.packet for link in links.order_by("pk")]


def _send(
    letter: str, commitment: Commitment, reader: Member, facts: Callable[[], Facts]
) -> None:
    if not reader.is_approved:
        return
    with translation.override(reader.language or Community.current().language):
        context = {
            "reader": reader,
            "commitment": commitment,
            "community": Community.current(),
            "link": settings.SITE_URL + commitment.get_absolute_url(),
            "site": settings.SITE_URL,
            **facts(),
        }
        subject = render_to_string(f"growouts/mail/{letter}_subject.txt", context).strip()
        text = render_to_string(f"growouts/mail/{letter}.txt", context).strip() + "\n"
    key = f"{SOURCE}:{letter}:{commitment.pk}:{reader.pk}"
    queue_mail(to=reader.email, subject=subject, text=text, message_key=key, source=key)
