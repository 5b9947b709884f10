"""What people do with their membership, gardens and keys: one transaction for each verb."""

from accounts.idempotency import forget_old_keys
from accounts.services.community import save_community
from accounts.services.gardens import add_garden, edit_garden, remove_garden
from accounts.services.invitations import (
    accept_as_applicant,
    accept_invitation,
    invite,
    usable_invitation,
    withdraw_invitation,
)
from accounts.services.leaving import forget_unconfirmed, leave
from accounts.services.membership import (
    announce_application,
    apply,
    approve,
    change_role,
    decline,
    make_member,
)
from accounts.services.preferences import save_preferences
from accounts.services.tokens import make_token, revoke_token

__all__ = [
    "accept_as_applicant",
    "accept_invitation",
    "add_garden",
    "announce_application",
    "apply",
    "approve",
    "change_role",
    "decline",
    "edit_garden",
    "forget_old_keys",
    "forget_unconfirmed",
    "invite",
    "leave",
    "make_member",
    "make_token",
    "remove_garden",
    "revoke_token",
    "save_community",
    "save_preferences",
    "usable_invitation",
    "withdraw_invitation",
]
