"""Roles as permissions."""

import pytest

from accounts.models import Membership
from accounts.roles import ADMINISTER, BORROW, COORDINATE, SERVE_DESK, Role

HOLDS = {
    Role.MEMBER: [BORROW],
    Role.DESK: [BORROW, SERVE_DESK],
    Role.COORDINATOR: [BORROW, SERVE_DESK, COORDINATE],
    Role.ADMINISTRATOR: [BORROW, SERVE_DESK, COORDINATE, ADMINISTER],
}


@pytest.mark.parametrize(("role", "permissions"), HOLDS.items())
def test_an_approved_member_holds_the_permissions_of_the_role(make_member, role, permissions):
    somebody = make_member("somebody", role=role)

    held = [p for p in (BORROW, SERVE_DESK, COORDINATE, ADMINISTER) if somebody.has_perm(p)]

    assert held == permissions


@pytest.mark.parametrize("membership", [m for m in Membership if m != Membership.APPROVED])
def test_nobody_holds_a_permission_before_approval_or_after_leaving(make_member, membership):
    somebody = make_member("somebody", role=Role.ADMINISTRATOR, membership=membership)

    held = [p for p in (BORROW, SERVE_DESK, COORDINATE, ADMINISTER) if somebody.has_perm(p)]

    assert held == []
