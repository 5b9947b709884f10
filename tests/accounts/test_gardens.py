"""Gardens: kept as coarse as asked, seen by their owner and the coordinators only."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from accounts import services
from accounts.models import Garden
from accounts.services.gardens import EXACT, GRID, _rounded
from library.errors import NotAllowed, Refused
from library.science.seasons import GardenSeason

EXACT_PLACE = {"latitude": "54.46093", "longitude": "-3.02472"}
# What must never be read by anybody else, in whatever form it might slip out.
SECRETS = ["54.46093", "3.02472", "wren@example.org", "hidden orchard"]


@pytest.fixture
def garden(member):
    return services.add_garden(
        member=member, by=member, name="hidden orchard", placed="exact", **EXACT_PLACE
    )


def place(garden):
    garden.refresh_from_db()
    return (garden.latitude, garden.longitude)


# Places ---------------------------------------------------------------------------------


def test_an_exact_garden_keeps_five_decimals(garden):
    assert place(garden) == (Decimal("54.46093"), Decimal("-3.02472"))


def test_of_a_garden_on_the_grid_only_a_tenth_of_a_degree_is_kept(member):
    garden = services.add_garden(
        member=member, by=member, name="x", placed="grid", **EXACT_PLACE
    )

    assert place(garden) == (Decimal("54.5"), Decimal("-3.0"))


def test_moving_a_garden_to_the_grid_drops_the_exact_place(garden, member):
    services.edit_garden(garden=garden, by=member, placed="grid")

    assert place(garden) == (Decimal("54.5"), Decimal("-3.0"))


def test_changing_only_the_name_of_a_garden_on_the_grid_keeps_its_place(member):
    garden = services.add_garden(
        member=member, by=member, name="x", placed="grid", **EXACT_PLACE
    )
    services.edit_garden(garden=garden, by=member, name="y")

    assert place(garden) == (Decimal("54.5"), Decimal("-3.0"))


def test_the_database_itself_keeps_no_exact_place_on_the_grid(garden):
    with pytest.raises(IntegrityError), transaction.atomic():
        Garden.objects.update(placed="grid")


@given(st.decimals("-90", "90", places=7), st.sampled_from([GRID, EXACT]))
def test_rounding_moves_a_place_by_half_a_step_at_most_and_stays_on_earth(value, step):
    kept = _rounded(value, step, "latitude", 90)

    assert abs(kept - value) <= step / 2
    assert -90 <= kept <= 90
    assert not (kept == 0 and kept.is_signed())


@pytest.mark.parametrize("value", ["NaN", "Infinity", "-Infinity", "90.00001", "-91"])
def test_a_latitude_off_the_earth_is_refused(member, value):
    with pytest.raises(Refused) as refused:
        services.add_garden(member=member, by=member, name="x", latitude=value, longitude="0")

    assert refused.value.field == "latitude"


def test_a_garden_may_have_no_place_at_all(member):
    garden = services.add_garden(member=member, by=member, name="x")

    assert place(garden) == (None, None)


# One default, one name ------------------------------------------------------------------


def defaults(member):
    return list(member.gardens.filter(is_default=True).values_list("name", flat=True))


def test_there_is_always_one_default_garden(member):
    first = services.add_garden(member=member, by=member, name="a")
    second = services.add_garden(member=member, by=member, name="b")
    seen = [defaults(member)]
    services.edit_garden(garden=second, by=member, is_default=True)
    seen.append(defaults(member))
    services.edit_garden(garden=first, by=member, is_default=False)
    seen.append(defaults(member))
    services.remove_garden(garden=second, by=member)
    seen.append(defaults(member))
    services.edit_garden(garden=first, by=member, is_default=False)
    seen.append(defaults(member))

    assert seen == [["a"], ["b"], ["b"], ["a"], ["a"]]


def test_two_gardens_of_one_member_do_not_share_a_name(member, other_member):
    services.add_garden(member=member, by=member, name="a")
    services.add_garden(member=other_member, by=other_member, name="a")

    with pytest.raises(Refused) as refused:
        services.add_garden(member=member, by=member, name="a ")

    assert refused.value.field == "name"


def test_a_member_keeps_at_most_twenty_gardens(member):
    for n in range(20):
        services.add_garden(member=member, by=member, name=f"garden {n}")

    with pytest.raises(Refused, match="20 gardens"):
        services.add_garden(member=member, by=member, name="one more")


def test_nobody_changes_anothers_garden_not_even_a_coordinator(garden, coordinator, member):
    for act in (
        lambda: services.edit_garden(garden=garden, by=coordinator, name="mine"),
        lambda: services.remove_garden(garden=garden, by=coordinator),
        lambda: services.add_garden(member=member, by=coordinator, name="mine"),
    ):
        with pytest.raises(NotAllowed):
            act()

    assert list(Garden.objects.values_list("name", flat=True)) == ["hidden orchard"]


# The API --------------------------------------------------------------------------------


def test_a_member_keeps_their_gardens_over_the_api(api, member):
    api.force_authenticate(member)

    made = api.post("/api/gardens/", {"name": "a", "placed": "grid", **EXACT_PLACE})
    page = f"/api/gardens/{made.data['id']}/"
    changed = api.patch(page, {"area_m2": "12.5"})
    read = api.get(page)
    removed = api.delete(page)

    assert (made.status_code, changed.status_code, removed.status_code) == (201, 200, 204)
    assert read.json() == {
        "id": made.data["id"],
        "member": "wren",
        "mine": True,
        "name": "a",
        "placed": "grid",
        "latitude": "54.50000",
        "longitude": "-3.00000",
        "last_spring_frost": "",
        "first_autumn_frost": "",
        "never_freezes": False,
        "area_m2": "12.5",
        "is_default": True,
    }
    assert Garden.objects.count() == 0


def test_a_garden_sent_twice_under_one_key_is_made_once(api, member):
    api.force_authenticate(member)
    headers = {"Idempotency-Key": "spring-2026"}

    first = api.post("/api/gardens/", {"name": "a"}, headers=headers)
    again = api.post("/api/gardens/", {"name": "a"}, headers=headers)

    assert first.json() == again.json()
    assert Garden.objects.count() == 1


def test_a_key_where_nothing_can_be_posted_is_answered_405(api, garden, member):
    api.force_authenticate(member)

    response = api.post(f"/api/gardens/{garden.pk}/", {}, headers={"Idempotency-Key": "k"})

    assert response.status_code == 405


@pytest.mark.parametrize("who", ["other_member", "desk"])
@pytest.mark.parametrize("method", ["get", "patch", "delete"])
def test_over_the_api_anothers_garden_is_not_there(request, api, garden, who, method):
    api.force_authenticate(request.getfixturevalue(who))

    response = getattr(api, method)(f"/api/gardens/{garden.pk}/")
    listed = api.get("/api/gardens/")

    assert response.status_code == 404
    assert listed.json()["results"] == []
    assert Garden.objects.filter(name="hidden orchard").exists()


def test_a_coordinator_reads_every_garden_and_changes_none(api, garden, coordinator):
    api.force_authenticate(coordinator)
    page = f"/api/gardens/{garden.pk}/"

    assert api.get(page).json()["latitude"] == "54.46093"
    assert [g["id"] for g in api.get("/api/gardens/").json()["results"]] == [garden.pk]
    assert api.get("/api/gardens/?mine=true").json()["results"] == []
    assert api.patch(page, {"name": "mine"}).status_code == 403
    assert api.delete(page).status_code == 403
    assert Garden.objects.get().name == "hidden orchard"


def test_strangers_and_applicants_have_no_gardens(api, garden, applicant):
    stranger = api.get("/api/gardens/")
    api.force_authenticate(applicant)

    assert stranger.status_code == 401
    assert api.get("/api/gardens/").status_code == 404


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"latitude": "91", "longitude": "0"}, "latitude"),
        ({"latitude": "NaN", "longitude": "0"}, "latitude"),
        ({"latitude": "54.46"}, "longitude"),
        ({"last_spring_frost": "05-10"}, "first_autumn_frost"),
        ({"last_spring_frost": "13-40"}, "last_spring_frost"),
        ({"area_m2": "-1"}, "area_m2"),
        ({"name": ""}, "name"),
        ({"name": "a\u0000b"}, "name"),
        ({"placed": "nowhere"}, "placed"),
        ({"is_default": "perhaps"}, "is_default"),
    ],
)
def test_over_the_api_a_garden_that_cannot_be_is_refused_at_its_field(
    api, member, change, field
):
    api.force_authenticate(member)

    response = api.post("/api/gardens/", {"name": "a", **change})

    body = response.json()
    assert response.status_code == 400
    assert field in (body.get("field"), *body)
    assert Garden.objects.count() == 0


@pytest.mark.parametrize("how_many", [1, 6])
def test_listing_gardens_costs_the_same_for_one_and_for_six(
    api, coordinator, make_member, how_many, django_assert_num_queries
):
    for n in range(how_many):
        owner = make_member(f"owner {n}")
        services.add_garden(member=owner, by=owner, name="a")
    api.force_authenticate(coordinator)
    api.get("/api/me/")

    # community, count, page
    with django_assert_num_queries(3):
        listed = api.get("/api/gardens/")

    assert listed.json()["count"] == how_many


# Leaks ----------------------------------------------------------------------------------

PUBLIC_PAGES = ["/", "/account/login/", "/api/", "/api/schema/"]


@pytest.mark.parametrize("page", PUBLIC_PAGES)
@pytest.mark.parametrize("who", [None, "other_member", "desk"])
def test_a_members_place_and_email_are_on_no_page_of_anybody_elses(
    request, client, garden, page, who
):
    if who:
        client.force_login(request.getfixturevalue(who))

    body = client.get(page).content.decode()

    assert [secret for secret in SECRETS if secret in body] == []


@pytest.mark.parametrize(
    "page", ["/account/me/", "/account/me/gardens/", "/account/me/download/"]
)
def test_ones_own_account_shows_ones_own_place_only(client, garden, other_member, page):
    client.force_login(other_member)

    body = client.get(page).content.decode()

    assert [secret for secret in SECRETS if secret in body] == []


def test_the_coordinators_page_of_a_member_does_show_them(client, garden, coordinator):
    client.force_login(coordinator)

    body = client.get(f"/members/{garden.member_id}/").content.decode()

    assert [secret for secret in SECRETS if secret in body] == SECRETS


def test_a_garden_tells_nothing_of_itself_in_logs(garden):
    shown = f"{garden!r} {garden.member!r} {garden} {garden.member}"

    assert [s for s in SECRETS[:3] if s in shown] == []


def test_a_garden_that_never_freezes_differs_from_one_of_which_nobody_said(member):
    warm = services.add_garden(member=member, by=member, name="Warm", never_freezes=True)
    untold = services.add_garden(member=member, by=member, name="Untold")

    seasons = (warm.season, untold.season)

    assert seasons == (GardenSeason(None, None), None)


@pytest.mark.parametrize(
    ("said", "field"),
    [
        (
            {
                "never_freezes": True,
                "last_spring_frost": "05-10",
                "first_autumn_frost": "10-05",
            },
            "never_freezes",
        ),
        ({"last_spring_frost": "05-10", "first_autumn_frost": "05-10"}, "first_autumn_frost"),
    ],
)
def test_what_is_said_of_the_frosts_must_fit_together(member, said, field):
    with pytest.raises(Refused) as refusal:
        services.add_garden(member=member, by=member, name="Odd", **said)

    assert refusal.value.field == field
    assert not Garden.objects.exists()


@pytest.mark.django_db
def test_the_database_refuses_frosts_that_do_not_fit(member):
    with pytest.raises(IntegrityError, match="garden_frosts_agree"):
        Garden.objects.create(
            member=member, name="Odd", last_spring_frost="05-10", first_autumn_frost="05-10"
        )


def test_when_an_exact_place_was_changed_is_noted_and_when_it_was_first_told_is_not(member):
    """Of what grew before, the new place says nothing."""
    garden = services.add_garden(member=member, by=member, name="Mill Lane plot")
    there = {"placed": "exact", "latitude": 54.4, "longitude": -3.1}

    assert services.edit_garden(garden=garden, by=member, **there).moved_at is None
    assert (
        services.edit_garden(garden=garden, by=member, name="Mill plot", **there).moved_at
        is None
    )
    moved = services.edit_garden(garden=garden, by=member, longitude=-3.1001).moved_at
    assert moved is not None
    assert services.edit_garden(garden=garden, by=member, placed="grid").moved_at > moved
