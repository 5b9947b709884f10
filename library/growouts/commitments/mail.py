"""Letters about offers and promises, in the reader's language, queued with their cause."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.utils import translation

from accounts.models import Community, Member
from library.growouts.models import Commitment
from library.outbox.services import queue_mail

SOURCE = "commitment"


def send_offer(commitment: Commitment, facts: dict[str, Any]) -> None:
    """To the grower: all they must know, and the page on which to answer."""
    _send("offer", commitment, commitment.grower, facts)


def send_withdrawn(commitment: Commitment, reason: str) -> None:
    """To the grower: the offer or promise is called off."""
    _send("withdrawn", commitment, commitment.grower, {"reason": reason})


def send_answer(commitment: Commitment) -> None:
    """To who made the offer: what the grower answered."""
    if commitment.offered_by is not None:
        _send("answer", commitment, commitment.offered_by, {})


def send_failed(commitment: Commitment) -> None:
    """To who made the offer: the crop failed, and a replacement may be found."""
    if commitment.offered_by is not None:
        _send("failed", commitment, commitment.offered_by, {})


def reader_of(source: str) -> str | None:
    """The outbox asks right before delivery: the address of today, or None if not wanted."""
    _prefix, letter, key, reader = source.split(":")
    row = Commitment.objects.filter(pk=key).first()
    member = Member.objects.filter(pk=reader).first()
    if row is None or member is None or not member.is_approved:
        return None
    if letter == "offer" and not row.is_offered:
        return None
    return member.email


def _send(letter: str, commitment: Commitment, reader: Member, facts: dict[str, Any]) -> None:
    if not reader.is_approved:
        return
    context = {
        "reader": reader,
        "commitment": commitment,
        "community": Community.current(),
        "link": settings.SITE_URL + commitment.get_absolute_url(),
        **facts,
    }
    with translation.override(reader.language or Community.current().language):
        subject = render_to_string(f"growouts/mail/{letter}_subject.txt", context).strip()
        text = render_to_string(f"growouts/mail/{letter}.txt", context).strip() + "\n"
    key = f"{SOURCE}:{letter}:{commitment.pk}:{reader.pk}"
    queue_mail(to=reader.email, subject=subject, text=text, message_key=key, source=key)
