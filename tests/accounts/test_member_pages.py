"""The coordinators' pages about members, and the administrators' settings."""

from __future__ import annotations

import pytest
from django.urls import reverse

from accounts import services
from accounts.models import Community, Invitation, Member, Membership
from accounts.roles import Role


def test_an_applicant_is_approved_from_the_list(as_coordinator, applicant):
    listed = as_coordinator.get(reverse("members"))
    response = as_coordinator.post(reverse("member-approve", args=[applicant.pk]))

    applicant.refresh_from_db()
    assert list(listed.context["waiting"]) == [applicant]
    assert response.url == reverse("members")
    assert applicant.is_approved


def test_an_applicant_is_declined_with_a_word(as_coordinator, applicant):
    page = reverse("member-decline", args=[applicant.pk])
    asked = as_coordinator.get(page)
    as_coordinator.post(page, {"note": "We are full."})

    applicant.refresh_from_db()
    assert asked.status_code == 200
    assert (applicant.membership, applicant.decision_note) == (
        Membership.DECLINED,
        "We are full.",
    )


def test_a_second_answer_is_a_conflict_said_on_the_page(as_coordinator, applicant):
    page = reverse("member-approve", args=[applicant.pk])
    as_coordinator.post(page)

    response = as_coordinator.post(page)

    assert response.status_code == 409
    assert "has been answered already" in response.content.decode()


def test_the_members_are_found_by_name_email_role_and_membership(
    as_coordinator, member, desk, make_member
):
    make_member("magpie", membership=Membership.DECLINED)

    def found(**asked):
        page = as_coordinator.get(reverse("members"), asked)
        return [m.display_name for m in page.context["members"]]

    assert found(q="WRE") == ["wren"]
    assert found(q="heron@example") == ["heron"]
    assert found(role="desk") == ["heron"]
    assert found(q="nobody") == []
    assert found(role="emperor") == []
    assert found() == ["heron", "owl", "wren"]
    assert found(membership="declined") == ["magpie"]


def test_a_coordinator_invites_and_withdraws(as_coordinator):
    as_coordinator.post(
        reverse("member-invite"), {"email": "lark@example.org", "role": "member"}
    )
    invitation = Invitation.objects.get()
    listed = as_coordinator.get(reverse("members")).content.decode()
    for _twice in range(2):
        as_coordinator.post(reverse("invitation-withdraw", args=[invitation.pk]))

    assert "lark@example.org" in listed
    assert str(invitation.key) not in listed
    assert Invitation.objects.open().count() == 0


@pytest.mark.parametrize("given", [{"email": "lark"}, {"email": "wren@example.org"}])
def test_an_invitation_that_cannot_be_is_refused(as_coordinator, member, given):
    response = as_coordinator.post(reverse("member-invite"), {"role": "member", **given})

    assert response.status_code == 400
    assert list(response.context["form"].errors) == ["email"]


def test_a_coordinator_is_not_offered_a_role_above_the_desk(as_coordinator):
    response = as_coordinator.post(
        reverse("member-invite"), {"email": "lark@example.org", "role": "administrator"}
    )

    assert response.status_code == 400
    assert Invitation.objects.count() == 0


def test_an_administrator_changes_a_role(as_administrator, member):
    page = reverse("member-role", args=[member.pk])

    response = as_administrator.post(page, {"role": "desk"})

    member.refresh_from_db()
    assert response.url == reverse("member", args=[member.pk])
    assert member.role == Role.DESK


def test_the_last_administrator_is_told_why_they_stay_one(as_administrator, administrator):
    page = reverse("member-role", args=[administrator.pk])

    response = as_administrator.post(page, {"role": "member"})

    assert response.status_code == 400
    assert "is the last administrator" in response.content.decode()


def test_a_coordinator_ends_a_membership(as_coordinator, member):
    page = reverse("member-end", args=[member.pk])
    asked = as_coordinator.get(page)
    unsure = as_coordinator.post(page, {})
    as_coordinator.post(page, {"sure": "on", "note": "Moved."})
    gone = as_coordinator.get(page)

    member.refresh_from_db()
    assert (asked.status_code, unsure.status_code, gone.status_code) == (200, 400, 404)
    assert member.membership == Membership.LEFT


def test_a_members_page_shows_the_history_to_coordinators(as_coordinator, applicant):
    as_coordinator.post(reverse("member-approve", args=[applicant.pk]), {"note": "Hello"})

    page = as_coordinator.get(reverse("member", args=[applicant.pk])).content.decode()

    assert "by owl" in page
    assert "Hello" in page


def test_an_administrator_sets_up_the_community(as_administrator):
    response = as_administrator.post(
        reverse("community"),
        {
            "name": "Tarn Hollow Seed Library",
            "place": "Tarn Hollow",
            "time_zone": "Europe/London",
            "language": "en",
            "last_spring_frost": "05-10",
            "first_autumn_frost": "10-05",
        },
    )

    community = Community.current()
    assert response.status_code == 302
    assert community.name == "Tarn Hollow Seed Library"
    assert (community.open_to_applications, community.catalogue_is_public) == (False, False)


def test_settings_with_one_frost_date_are_refused(as_administrator):
    response = as_administrator.post(
        reverse("community"),
        {"name": "x", "time_zone": "UTC", "language": "en", "last_spring_frost": "05-10"},
    )

    assert response.status_code == 400
    assert list(response.context["form"].errors) == ["first_autumn_frost"]
    assert Community.current().name == "Seed library"


@pytest.mark.parametrize("how_many", [1, 6])
def test_the_members_page_costs_the_same_for_one_and_for_six(
    as_coordinator, coordinator, make_member, how_many, django_assert_num_queries
):
    Community.current()
    for n in range(how_many):
        make_member(f"member {n}")
        make_member(f"applicant {n}", membership=Membership.APPLIED)
        services.invite(email=f"guest{n}@example.org", by=coordinator)

    # session, member, community, waiting, count and page of members, invitations
    with django_assert_num_queries(7):
        response = as_coordinator.get(reverse("members"))

    assert len(response.context["waiting"]) == how_many
    assert Member.objects.active().count() == how_many + 1
