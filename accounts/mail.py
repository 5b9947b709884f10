"""Letters about membership: each is a subject, a text and an HTML template under
``accounts/mail/``, written in the reader's language and time zone, and queued in the outbox in
the transaction of its cause.
"""

from __future__ import annotations

import zoneinfo

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone, translation

from accounts.models import Community, Invitation, Member
from library.outbox.services import queue_mail


def send(letter: str, *, to: Member, key: str, context: dict, path: str, source: str) -> None:
    """Queue ``letter`` to a member; ``path`` names the page that its link opens."""
    _queue(
        letter,
        email=to.email,
        key=key,
        source=source,
        context={"reader": to, "link": address_of(path), **context},
        language=to.language,
        zone=to.time_zone,
    )


def send_to_address(
    letter: str,
    *,
    email: str,
    key: str,
    context: dict,
    path: str,
    path_arguments: dict,
    source: str,
) -> None:
    """Queue ``letter`` to somebody who is not a member."""
    link = address_of(path, **path_arguments)
    _queue(letter, email=email, key=key, source=source, context={"link": link, **context})


def address_of(page: str, **arguments) -> str:
    """The full address of a page, as it stands in a mail."""
    return settings.SITE_URL + reverse(page, kwargs=arguments)


def _queue(
    letter: str,
    *,
    email: str,
    key: str,
    source: str,
    context: dict,
    language: str = "",
    zone: str = "",
) -> None:
    community = Community.current()
    context = {"community": community, **context}
    with (
        translation.override(language or community.language),
        timezone.override(zoneinfo.ZoneInfo(zone or community.time_zone)),
    ):
        subject, text, html = (
            render_to_string(f"accounts/mail/{letter}.{part}", context)
            for part in ("subject.txt", "txt", "html")
        )
    queue_mail(
        to=email,
        subject=" ".join(subject.split()),
        text=text.strip() + "\n",
        html=html,
        message_key=key,
        source=source,
    )


# Asked right before delivery: is the letter still wanted, and where does it go today? -------


def reader_of(source: str) -> str | None:
    """``member:17``: the member's address of today, unless they have left."""
    key = source.partition(":")[2]
    return Member.objects.filter(pk=key, is_active=True).values_list("email", flat=True).first()


def reader_of_application(source: str) -> str | None:
    """``application:17:4``: coordinator 4, as long as applicant 17 still waits."""
    _prefix, applicant, coordinator = source.split(":")
    if not Member.objects.waiting().filter(pk=applicant).exists():
        return None
    readers = Member.objects.coordinators().filter(pk=coordinator)
    return readers.values_list("email", flat=True).first()


def reader_of_invitation(source: str) -> str | None:
    """``invitation:9``: the invited address, as long as the invitation is good."""
    usable = Invitation.objects.usable(timezone.now()).filter(pk=source.partition(":")[2])
    return usable.values_list("email", flat=True).first()
