"""What follows when allauth has confirmed an email."""

from __future__ import annotations

from accounts.services.membership import announce_application


def tell_coordinators(sender, *, email_address, **kwargs) -> None:
    announce_application(member=email_address.user)
