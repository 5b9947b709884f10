"""What is due for me: endpoint, page and panel."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from library.reminders import due

pytestmark = pytest.mark.django_db

TODAY = dt.date(2026, 3, 10)


@pytest.fixture(autouse=True)
def today():
    with time_machine.travel("2026-03-10 12:00Z", tick=False):
        yield


@pytest.fixture
def many(member, other_member, make_item, due_items):
    week = dt.timedelta(days=7)
    due_items += [
        make_item(member, subject="a:later", due_on=TODAY + week),
        make_item(member, subject="a:late", due_on=TODAY - week),
        make_item(member, subject="a:far", due_on=TODAY + 8 * week),
        make_item(other_member, subject="a:theirs"),
        make_item(role="desk", subject="a:desk", kind="deposit"),
        make_item(role="coordinator", subject="a:bench", kind="test"),
    ]


def subjects(response) -> list[str]:
    return [item["subject"] for item in response.json()["results"]]


def test_a_member_sees_their_own_earliest_first(api, member, many):
    api.force_authenticate(member)

    response = api.get("/api/due/")

    assert subjects(response) == ["a:late", "a:later"]
    assert [item["overdue"] for item in response.json()["results"]] == [True, False]


def test_the_desk_and_coordinators_also_see_what_they_answer_for(api, desk, coordinator, many):
    api.force_authenticate(desk)
    at_the_desk = subjects(api.get("/api/due/"))
    api.force_authenticate(coordinator)
    at_the_bench = subjects(api.get("/api/due/"))

    assert (at_the_desk, at_the_bench) == (["a:desk"], ["a:desk", "a:bench"])


def test_due_can_be_asked_for_another_day_and_one_kind(api, member, coordinator, many):
    api.force_authenticate(member)
    until = subjects(api.get("/api/due/?until=2026-12-31"))
    api.force_authenticate(coordinator)
    tests = subjects(api.get("/api/due/?kind=test"))

    assert until == ["a:late", "a:later", "a:far"]
    assert tests == ["a:bench"]


def test_a_day_that_is_none_is_refused(api, member, many):
    api.force_authenticate(member)

    response = api.get("/api/due/?until=2026-02-30")

    assert response.status_code == 400


def test_the_page_lists_what_is_due(client, member, many):
    client.force_login(member)

    response = client.get("/due/")

    assert [i.subject for i in response.context["items"]] == ["a:late", "a:later"]


def test_the_home_page_shows_what_is_due_to_members_only(client, member, many):
    before = client.get("/")
    client.force_login(member)

    page = client.get("/")

    assert "Due for you" not in before.content.decode()
    assert "Due for you" in page.content.decode()


def test_every_app_with_a_due_module_is_asked():
    names = [source.__module__ for source in due.sources()]

    assert names == sorted(set(names), key=names.index)
    assert "library.reminders.due" not in names


def test_only_kinds_that_one_is_told_of_can_be_turned_off(client, member, coordinator):
    offered = {}
    for person in (member, coordinator):
        client.force_login(person)
        form = client.get("/account/reminders/").context["form"]
        offered[person.pk] = {name for name, _label in form.fields["muted"].choices}

    assert offered[member.pk] == {"collect", "growout-offer"}
    assert offered[coordinator.pk] > {"collect", "deposit", "retest", "membership-request"}
