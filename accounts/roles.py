"""What each role may do. A role includes every role before it."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _


class Role(models.TextChoices):
    MEMBER = "member", _("Member")
    DESK = "desk", _("Desk volunteer")
    COORDINATOR = "coordinator", _("Coordinator")
    ADMINISTRATOR = "administrator", _("Administrator")


# Permission names as Django asks for them: request.user.has_perm("accounts.serve_desk").
BORROW = "accounts.borrow"
SERVE_DESK = "accounts.serve_desk"
COORDINATE = "accounts.coordinate"
ADMINISTER = "accounts.administer"

PERMISSIONS_OF: dict[str, frozenset[str]] = {
    Role.MEMBER: frozenset({BORROW}),
    Role.DESK: frozenset({BORROW, SERVE_DESK}),
    Role.COORDINATOR: frozenset({BORROW, SERVE_DESK, COORDINATE}),
    Role.ADMINISTRATOR: frozenset({BORROW, SERVE_DESK, COORDINATE, ADMINISTER}),
}


def roles_with(permission: str) -> list[str]:
    return [role for role, permissions in PERMISSIONS_OF.items() if permission in permissions]
