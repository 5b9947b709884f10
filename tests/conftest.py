"""The people everyone knows, and the smallest things to lend."""

from __future__ import annotations

import pytest
from rest_framework.test import APIClient

from accounts.models import Member, Membership
from accounts.roles import Role


@pytest.fixture
def make_member(db):
    """``make_member("ada", role=Role.DESK)`` is an approved member with that display name."""

    def make(
        name: str, *, role: str = Role.MEMBER, membership: str = Membership.APPROVED
    ) -> Member:
        return Member.objects.create_user(
            f"{name}@example.org",
            "a-long-password",
            display_name=name,
            role=role,
            membership=membership,
        )

    return make


@pytest.fixture
def member(make_member) -> Member:
    return make_member("wren")


@pytest.fixture
def other_member(make_member) -> Member:
    return make_member("rook")


@pytest.fixture
def applicant(make_member) -> Member:
    return make_member("fledgling", membership=Membership.APPLIED)


@pytest.fixture
def desk(make_member) -> Member:
    return make_member("heron", role=Role.DESK)


@pytest.fixture
def coordinator(make_member) -> Member:
    return make_member("owl", role=Role.COORDINATOR)


@pytest.fixture
def administrator(make_member) -> Member:
    return make_member("swan", role=Role.ADMINISTRATOR)


@pytest.fixture
def api() -> APIClient:
    return APIClient()
