"""Each person's own time zone and language; the community is read once."""

from __future__ import annotations

import pytest
from django.db import connection
from django.http import HttpResponse
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from accounts import services
from accounts.middleware import MemberPreferences
from accounts.models import Community, Member


def zone_seen_by(member, rf) -> str:
    request = rf.get("/")
    request.user = member
    answer = MemberPreferences(lambda r: HttpResponse(timezone.get_current_timezone_name()))
    return answer(request).content.decode()


def test_times_are_in_the_members_zone_else_in_the_communitys(rf, member):
    services.save_community(by=None, time_zone="Europe/London")
    before = zone_seen_by(member, rf)
    member.time_zone = "Asia/Tokyo"

    assert (before, zone_seen_by(member, rf)) == ("Europe/London", "Asia/Tokyo")


def test_a_zone_that_has_left_the_tables_does_not_break_every_page(rf, member):
    Community.objects.create(pk=1, time_zone="Old/Zone")
    member.time_zone = ""

    assert zone_seen_by(member, rf) == "UTC"


def test_a_language_of_ones_own_is_used(client, member):
    Member.objects.update(language="de")
    client.force_login(member)

    assert client.get("/").headers["Content-Language"] == "de"


@pytest.mark.parametrize("page", ["/", "/account/me/", "/members/", "/community/"])
def test_the_communitys_row_is_read_once_for_each_page(client, administrator, page):
    Community.current()
    client.force_login(administrator)

    with CaptureQueriesContext(
        connection,
    ) as asked:
        response = client.get(page)

    reads = [q for q in asked.captured_queries if "accounts_community" in q["sql"]]
    assert response.status_code == 200
    assert len(reads) <= (2 if page == "/community/" else 1)  # the settings form reads afresh


def test_outside_of_a_request_the_community_is_read_each_time(db):
    Community.current()
    Community.objects.update(name="Tarn Hollow")

    assert Community.current().name == "Tarn Hollow"


def test_a_page_after_the_settings_changed_shows_the_new_ones(client, administrator):
    client.force_login(administrator)
    answer = client.post(
        "/community/",
        {"name": "Tarn Hollow", "time_zone": "UTC", "language": "en"},
        follow=True,
    )

    assert "Tarn Hollow</title>" in answer.content.decode()
