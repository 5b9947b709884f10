"""Roles as permissions."""

import pytest
from django.contrib.auth.models import Permission
from django.urls import reverse

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


def test_a_coordinator_sets_rules_and_an_administrator_settings_as_their_words_say(
    client, coordinator, administrator
):
    places = [reverse(name) for name in ("bench-rules", "lending-rules", "community")]

    def open_to(person):
        client.force_login(person)
        return [client.get(place).status_code for place in places]

    words = dict(Permission.objects.values_list("codename", "name"))
    assert open_to(coordinator) == [200, 200, 404]
    assert open_to(administrator) == [200, 200, 200]
    assert words["coordinate"].endswith("run the bench, set the rules of bench and loans")
    assert words["administer"] == "Change roles and the library's settings"
