"""Two people in the same second; on PostgreSQL, with real threads."""

from __future__ import annotations

import threading

import pytest
from django.db import connection, connections

from accounts import services
from accounts.models import Garden, Member, Membership
from accounts.roles import Role
from library.errors import Refused
from library.outbox.models import Message

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def postgresql_only():
    if connection.vendor != "postgresql":
        pytest.skip("needs PostgreSQL")


def at_once(*acts) -> list:
    """Run the acts in threads that start together; each one's result or refusal."""
    ready, results = threading.Barrier(len(acts)), [None] * len(acts)

    def run(place, act):
        ready.wait()
        try:
            results[place] = act()
        except Refused as error:
            results[place] = error
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return results


def refusals(results) -> list[Refused]:
    return [result for result in results if isinstance(result, Refused)]


def test_of_two_coordinators_who_answer_at_once_one_decides(make_member):
    applicant = make_member("fledgling", membership=Membership.APPLIED)
    owl, eagle = (make_member(n, role=Role.COORDINATOR) for n in ("owl", "eagle"))

    results = at_once(
        *[lambda by=by: services.approve(member=applicant, by=by) for by in (owl, eagle)] * 2
    )

    assert len(refusals(results)) == 3
    assert applicant.events.count() == 1
    assert Message.objects.filter(to=applicant.email).count() == 1


def test_approving_without_the_guard_would_answer_twice(make_member):
    """The control: read, decide and save, as the service does not."""
    applicant = make_member("fledgling", membership=Membership.APPLIED)
    both_have_read = threading.Barrier(2)

    def approve_carelessly():
        member = Member.objects.get(pk=applicant.pk)
        waits = member.membership == Membership.APPLIED
        both_have_read.wait()
        if waits:
            member.membership = Membership.APPROVED
            member.save()
        return waits

    assert at_once(approve_carelessly, approve_carelessly) == [True, True]


def test_two_administrators_who_demote_each_other_leave_one(make_member):
    swan, goose = (make_member(n, role=Role.ADMINISTRATOR) for n in ("swan", "goose"))

    results = at_once(
        lambda: services.change_role(member=goose, role=Role.MEMBER, by=swan),
        lambda: services.change_role(member=swan, role=Role.MEMBER, by=goose),
    )

    assert len(refusals(results)) == 1
    assert Member.objects.administrators().count() == 1


def test_two_administrators_who_leave_at_once_leave_one(make_member):
    people = [make_member(n, role=Role.ADMINISTRATOR) for n in ("swan", "goose")]

    results = at_once(*[lambda m=m: services.leave(member=m, by=m) for m in people])

    assert len(refusals(results)) == 1
    assert Member.objects.administrators().count() == 1


def test_of_many_who_use_one_invitation_one_gets_in(make_member):
    owl = make_member("owl", role=Role.COORDINATOR)
    invitation = services.invite(email="lark@example.org", by=owl)

    results = at_once(
        *[
            lambda n=n: services.accept_invitation(
                key=invitation.key, display_name=f"lark {n}", password="x"
            )
            for n in range(4)
        ]
    )

    assert len(refusals(results)) == 3
    assert Member.objects.filter(email="lark@example.org").count() == 1


def test_an_invitation_is_either_used_or_withdrawn(make_member):
    owl = make_member("owl", role=Role.COORDINATOR)
    invitation = services.invite(email="lark@example.org", by=owl)

    results = at_once(
        lambda: services.accept_invitation(
            key=invitation.key, display_name="lark", password="x"
        ),
        lambda: services.withdraw_invitation(invitation=invitation, by=owl),
    )

    invitation.refresh_from_db()
    assert len(refusals(results)) == 1
    assert (invitation.accepted_at is None) != (invitation.withdrawn_at is None)
    assert Member.objects.filter(display_name="lark").exists() == (
        invitation.accepted_at is not None
    )


def test_of_many_who_want_one_name_one_has_it(make_member):
    people = [make_member(f"bird {n}") for n in range(4)]

    results = at_once(
        *[
            lambda m=m: services.save_preferences(member=m, display_name="Phoenix")
            for m in people
        ]
    )

    assert len(refusals(results)) == 3
    assert Member.objects.filter(display_name="Phoenix").count() == 1


def test_first_gardens_made_at_once_have_one_default(make_member):
    wren = make_member("wren")

    at_once(
        *[
            lambda n=n: services.add_garden(member=wren, by=wren, name=f"garden {n}")
            for n in range(4)
        ]
    )

    assert Garden.objects.count() == 4
    assert Garden.objects.filter(is_default=True).count() == 1
