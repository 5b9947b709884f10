"""The pages of one's own account: who may open them, and what they say to bad input."""

from __future__ import annotations

import pytest
from django.urls import reverse

from accounts import services
from accounts.models import ApiToken, Community, Garden, Membership

OWN = ["account", "account-gardens", "account-garden-add", "account-tokens"]
FOR_COORDINATORS = ["members", "member-invite"]
GARDEN = {
    "name": "by the beck",
    "placed": "grid",
    "latitude": "54.4609",
    "longitude": "-3.0240",
    "last_spring_frost": "05-10",
    "first_autumn_frost": "10-05",
    "area_m2": "80",
}


@pytest.fixture
def garden(member):
    return services.add_garden(member=member, by=member, **GARDEN)


# Who may open what ----------------------------------------------------------------------


@pytest.mark.parametrize("name", [*OWN, *FOR_COORDINATORS, "community", "account-leave"])
def test_a_stranger_is_asked_to_sign_in_and_brought_back(client, db, name):
    page = reverse(name)

    response = client.get(page)

    assert response.status_code == 302
    assert response.url == f"{reverse('account_login')}?next={page}"


@pytest.mark.parametrize("name", OWN)
def test_a_member_opens_their_own_pages(as_member, name):
    assert as_member.get(reverse(name)).status_code == 200


@pytest.mark.parametrize("name", [*FOR_COORDINATORS, "community"])
def test_to_a_member_the_coordinators_pages_are_not_there(as_member, name):
    assert as_member.get(reverse(name)).status_code == 404


@pytest.mark.parametrize(
    "name", ["member", "member-approve", "member-decline", "member-role", "member-end"]
)
def test_to_a_member_another_members_page_is_not_there(as_member, other_member, name):
    page = reverse(name, kwargs={"pk": other_member.pk})

    assert as_member.get(page).status_code == 404
    assert as_member.post(page, {"sure": "on", "role": "administrator"}).status_code == 404
    other_member.refresh_from_db()
    assert other_member.is_approved


def test_a_coordinator_opens_the_members_but_not_the_settings_or_roles(as_coordinator, member):
    assert as_coordinator.get(reverse("members")).status_code == 200
    assert as_coordinator.get(reverse("member", args=[member.pk])).status_code == 200
    assert as_coordinator.get(reverse("community")).status_code == 404
    assert as_coordinator.get(reverse("member-role", args=[member.pk])).status_code == 404


@pytest.mark.parametrize("name", ["account-gardens", "account-garden-add", "account-tokens"])
def test_to_an_applicant_only_the_account_itself_is_open(client, applicant, name):
    client.force_login(applicant)

    assert client.get(reverse("account")).status_code == 200
    assert client.get(reverse(name)).status_code == 404


def test_an_applicant_reads_at_home_that_the_answer_is_to_come(client, applicant):
    client.force_login(applicant)

    for page in ("home", "account"):
        assert (
            "Your application waits for a coordinator."
            in client.get(reverse(page)).content.decode()
        )


def test_a_declined_applicant_reads_why(client, applicant, coordinator):
    services.decline(member=applicant, by=coordinator, note="We are full <this year>.")
    client.force_login(applicant)

    page = client.get(reverse("account")).content.decode()

    assert "We are full &lt;this year&gt;." in page


# Preferences ----------------------------------------------------------------------------

CHOSEN = {"display_name": "jenny", "time_zone": "Europe/London", "language": "en"}


def test_preferences_are_saved(as_member, member):
    response = as_member.post(reverse("account"), {**CHOSEN, "wants_news": "on"})

    member.refresh_from_db()
    assert response.status_code == 302
    assert (member.display_name, member.time_zone, member.language) == (
        "jenny",
        "Europe/London",
        "en",
    )
    assert (member.wants_news, member.wants_reminders) == (True, False)


@pytest.mark.parametrize(
    "name", ["", "   ", "rook", "ROOK", "ＲＯＯＫ", "ro\u200bok", "gnat\u202egpj", "x" * 61]
)
def test_a_bad_name_is_refused_at_its_field_and_not_shown_as_taken(
    as_member, member, other_member, name
):
    response = as_member.post(reverse("account"), {**CHOSEN, "display_name": name})

    member.refresh_from_db()
    assert response.status_code == 400
    assert "display_name" in response.context["form"].errors
    assert "<h1>wren</h1>" in response.content.decode()
    assert member.display_name == "wren"


@pytest.mark.parametrize(("field", "value"), [("time_zone", "Tarn/Hollow"), ("language", "xx")])
def test_a_zone_or_language_that_is_none_is_refused(as_member, member, field, value):
    response = as_member.post(reverse("account"), {**CHOSEN, field: value})

    assert response.status_code == 400
    assert list(response.context["form"].errors) == [field]


# Gardens --------------------------------------------------------------------------------


def test_a_garden_is_added_changed_and_removed(as_member, member):
    as_member.post(reverse("account-garden-add"), GARDEN)
    garden = Garden.objects.get()
    as_member.post(
        reverse("account-garden-edit", args=[garden.pk]), {**GARDEN, "name": "on the hill"}
    )
    garden.refresh_from_db()
    listed = as_member.get(reverse("account-gardens")).content.decode()
    asked = as_member.get(reverse("account-garden-remove", args=[garden.pk]))
    as_member.post(reverse("account-garden-remove", args=[garden.pk]))

    assert (garden.name, garden.is_default, garden.member) == ("on the hill", True, member)
    assert "on the hill" in listed
    assert asked.status_code == 200
    assert Garden.objects.count() == 0


def test_a_new_garden_starts_from_the_librarys_frost_dates(as_member):
    services.save_community(by=None, last_spring_frost="05-10", first_autumn_frost="10-05")

    page = as_member.get(reverse("account-garden-add")).content.decode()

    assert 'value="05-10"' in page
    assert 'value="10-05"' in page


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"latitude": "91"}, "latitude"),
        ({"latitude": "north"}, "latitude"),
        ({"latitude": "NaN"}, "latitude"),
        ({"longitude": "180.1"}, "longitude"),
        ({"longitude": ""}, "longitude"),
        ({"latitude": ""}, "latitude"),
        ({"last_spring_frost": "02-30"}, "last_spring_frost"),
        ({"last_spring_frost": "10 May"}, "last_spring_frost"),
        ({"first_autumn_frost": ""}, "first_autumn_frost"),
        ({"area_m2": "-1"}, "area_m2"),
        ({"area_m2": "1e12"}, "area_m2"),
        ({"name": ""}, "name"),
        ({"name": "x" * 81}, "name"),
        ({"placed": "nowhere"}, "placed"),
    ],
)
def test_a_garden_that_cannot_be_is_refused_at_its_field(as_member, change, field):
    response = as_member.post(reverse("account-garden-add"), {**GARDEN, **change})

    assert response.status_code == 400
    assert list(response.context["form"].errors) == [field]
    assert Garden.objects.count() == 0


def test_a_garden_with_bad_input_is_left_as_it_was(as_member, garden):
    page = reverse("account-garden-edit", args=[garden.pk])

    response = as_member.post(page, {**GARDEN, "name": "other", "latitude": "91"})

    garden.refresh_from_db()
    assert response.status_code == 400
    assert garden.name == "by the beck"


@pytest.mark.parametrize("name", ["account-garden-edit", "account-garden-remove"])
@pytest.mark.parametrize("who", ["other_member", "desk", "coordinator", "administrator"])
def test_somebody_elses_garden_is_not_there(request, client, garden, name, who):
    client.force_login(request.getfixturevalue(who))
    page = reverse(name, args=[garden.pk])

    assert client.get(page).status_code == 404
    assert client.post(page, GARDEN).status_code == 404
    assert Garden.objects.count() == 1


# Tokens ---------------------------------------------------------------------------------


def test_a_token_is_shown_once_works_and_is_revoked(as_member, member, api):
    made = as_member.post(reverse("account-tokens"), {"name": "sheet"})
    secret = made.context["secret"]
    again = as_member.get(reverse("account-tokens")).content.decode()
    headers = {"Authorization": f"Token {secret}"}
    while_good = api.get("/api/me/", headers=headers)
    as_member.post(
        reverse("account-token-revoke", args=[member.auth_token_set.get().token_key])
    )
    afterwards = api.get("/api/me/", headers=headers)

    assert secret in made.content.decode()
    assert secret not in again
    assert "sheet" in again
    assert (while_good.status_code, afterwards.status_code) == (200, 401)


def test_nobody_revokes_anothers_token(as_member, other_member):
    token, _secret = services.make_token(member=other_member, name="sheet")

    as_member.post(reverse("account-token-revoke", args=[token.token_key]))

    assert ApiToken.objects.count() == 1


@pytest.mark.parametrize("name", ["", "   ", "x" * 81])
def test_a_token_needs_a_name_of_ordinary_length(as_member, name):
    response = as_member.post(reverse("account-tokens"), {"name": name})

    assert response.status_code == 400
    assert ApiToken.objects.count() == 0


def test_a_member_keeps_at_most_twenty_tokens(as_member, member):
    for number in range(20):
        services.make_token(member=member, name=f"script {number}")

    response = as_member.post(reverse("account-tokens"), {"name": "one more"})

    assert response.status_code == 400
    assert ApiToken.objects.count() == 20


# Leaving --------------------------------------------------------------------------------


def test_a_member_leaves_and_is_signed_out(as_member, member):
    response = as_member.post(reverse("account-leave"), {"sure": "on"}, follow=True)

    member.refresh_from_db()
    assert member.membership == Membership.LEFT
    assert not response.wsgi_request.user.is_authenticated
    assert "You have left." in response.content.decode()


def test_nobody_leaves_without_saying_that_they_are_sure(as_member, member):
    response = as_member.post(reverse("account-leave"), {})

    member.refresh_from_db()
    assert response.status_code == 400
    assert member.is_approved


def test_the_last_administrator_is_told_why_they_cannot_leave(as_administrator):
    response = as_administrator.post(reverse("account-leave"), {"sure": "on"})

    assert response.status_code == 400
    assert "is the last administrator" in response.content.decode()


def test_the_download_holds_ones_own_data_and_nobody_elses(as_member, member, garden, desk):
    services.add_garden(member=desk, by=desk, name="elsewhere")

    known = as_member.get(reverse("account-download")).json()

    assert known["email"] == member.email
    assert [g["name"] for g in known["gardens"]] == ["by the beck"]


# How often the database is asked --------------------------------------------------------


@pytest.mark.parametrize("how_many", [1, 6])
def test_the_account_page_costs_the_same_for_one_and_for_six(
    as_member, member, how_many, django_assert_num_queries
):
    Community.current()
    for n in range(how_many):
        services.add_garden(member=member, by=member, name=f"garden {n}")
        services.make_token(member=member, name=f"token {n}")

    # session, member, community, a fresh copy of the member, gardens, tokens, calendar,
    # how reminders are wanted
    with django_assert_num_queries(8):
        as_member.get(reverse("account"))
