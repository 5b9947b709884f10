"""The lines of a membership's history."""

from __future__ import annotations

from django.utils import timezone

from accounts.models import Member, MembershipEvent


def tell(
    kind: str,
    member: Member,
    *,
    by: Member | None,
    note: str = "",
    role_before: str = "",
) -> MembershipEvent:
    return MembershipEvent.objects.create(
        member=member,
        kind=kind,
        role=member.role,
        role_before=role_before,
        by=by,
        at=timezone.now(),
        note=note,
    )
