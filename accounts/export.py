"""What the library knows of a person, for that person."""

from __future__ import annotations

from accounts.models import Member
from library import hooks


def known_of(member: Member) -> dict:
    """What the library keeps of the member, except secrets: here, and in the apps that tell."""
    here = {
        "email": member.email,
        "display_name": member.display_name,
        "role": member.role,
        "membership": member.membership,
        "introduction": member.introduction,
        "applied_at": member.applied_at,
        "time_zone": member.time_zone,
        "language": member.language,
        "wants_reminders": member.wants_reminders,
        "wants_news": member.wants_news,
        "gardens": list(
            member.gardens.values(
                "name",
                "placed",
                "latitude",
                "longitude",
                "last_spring_frost",
                "first_autumn_frost",
                "never_freezes",
                "area_m2",
                "is_default",
            )
        ),
        "tokens": list(member.auth_token_set.values("name", "created", "last_used_at")),
        "history": list(member.events.values("kind", "at", "role", "note")),
    }
    return here | hooks.known_of_member(member)
