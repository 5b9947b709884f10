"""A request sent twice is done once."""

from __future__ import annotations

import datetime as dt
import threading

import pytest
from django.db import connection, connections
from django.utils import timezone
from rest_framework import viewsets
from rest_framework.decorators import action
from rest_framework.response import Response
from rest_framework.test import APIRequestFactory, force_authenticate

from accounts.idempotency import IdempotentMixin, forget_old_keys
from accounts.models import Community, Garden, IdempotencyKey
from library.errors import NotEnough


class Beds(IdempotentMixin, viewsets.ViewSet):
    """Makes a garden on every call; refuses names that say so, after having written."""

    def create(self, request):
        garden = Garden.objects.create(member=request.user, name=request.data["name"])
        if garden.name.startswith("refuse"):
            raise NotEnough("No bed is left.")
        if garden.name.startswith("answer 400"):
            return Response({"name": ["no"]}, status=400)
        return Response({"id": garden.pk}, status=201, headers={"Location": f"/{garden.pk}"})

    @action(detail=False, methods=["post"])
    def dig(self, request):
        Garden.objects.create(member=request.user, name=f"dug {Garden.objects.count()}")
        return Response(status=204)


def post(member, body, key=None, method="create", path="/api/beds/"):
    headers = {} if key is None else {"Idempotency-Key": key}
    request = APIRequestFactory().post(path, body, format="json", headers=headers)
    force_authenticate(request, member)
    response = Beds.as_view({"post": method})(request)
    return response


def test_a_retry_gets_the_first_answer_and_does_nothing_twice(member):
    first = post(member, {"name": "south bed"}, key="k1")
    again = post(member, {"name": "south bed"}, key="k1")

    assert (first.status_code, again.status_code) == (201, 201)
    assert again.data == first.data
    assert Garden.objects.count() == 1
    assert "Idempotent-Replay" not in first.headers
    assert again.headers["Idempotent-Replay"] == "true"
    assert again.headers["Location"] == first.headers["Location"]


def test_without_a_key_a_second_request_is_a_second_one(member):
    post(member, {}, method="dig")
    post(member, {}, method="dig")

    assert Garden.objects.count() == 2
    assert IdempotencyKey.objects.count() == 0


def test_an_action_without_a_body_is_replayed_too(member):
    post(member, {}, key="k", method="dig")
    again = post(member, {}, key="k", method="dig")

    assert (again.status_code, again.data) == (204, None)
    assert Garden.objects.count() == 1


def test_the_order_of_keys_in_the_body_does_not_make_it_another_request(member):
    post(member, {"name": "a", "x": 1}, key="k")
    again = post(member, {"x": 1, "name": "a"}, key="k")

    assert again.headers["Idempotent-Replay"] == "true"


@pytest.mark.parametrize(
    ("body", "path"),
    [({"name": "north bed"}, "/api/beds/"), ({"name": "south bed"}, "/api/other/")],
)
def test_the_same_key_with_another_request_is_refused(member, body, path):
    post(member, {"name": "south bed"}, key="k1")

    other = post(member, body, key="k1", path=path)

    assert other.status_code == 409
    assert other.data["field"] == "Idempotency-Key"
    assert list(Garden.objects.values_list("name", flat=True)) == ["south bed"]


def test_two_members_may_use_the_same_key(member, other_member):
    post(member, {"name": "bed"}, key="k")
    other = post(other_member, {"name": "bed"}, key="k")

    assert "Idempotent-Replay" not in other.headers
    assert Garden.objects.count() == 2


@pytest.mark.parametrize(("name", "status"), [("refuse", 409), ("answer 400", 400)])
def test_a_refused_request_leaves_nothing_and_may_be_mended_under_its_key(member, name, status):
    refused = post(member, {"name": name}, key="k")
    kept = (Garden.objects.count(), IdempotencyKey.objects.count())
    mended = post(member, {"name": "bed"}, key="k")

    assert refused.status_code == status
    assert kept == (0, 0)
    assert mended.status_code == 201


@pytest.mark.parametrize("key", ["", "x" * 81, "tab\there", "ключ"])
def test_a_key_that_is_no_key_is_refused_with_a_sentence(member, key):
    response = post(member, {"name": "bed"}, key=key)

    assert response.status_code == 400
    assert response.data["field"] == "Idempotency-Key"
    assert response.data["detail"].startswith("The Idempotency-Key must be 1 to 80")
    assert Garden.objects.count() == 0


def test_keys_are_forgotten_after_seven_days(member):
    now = timezone.now()
    for key, age in [("old", 8), ("young", 6)]:
        post(member, {"name": key}, key=key)
        IdempotencyKey.objects.filter(key=key).update(created_at=now - dt.timedelta(days=age))

    gone = forget_old_keys(now=now)

    assert gone == 1
    assert list(IdempotencyKey.objects.values_list("key", flat=True)) == ["young"]


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_many_threads_with_one_key_exactly_one_does_the_work(make_member):
    if connection.vendor != "postgresql":
        pytest.skip("needs PostgreSQL")
    member = make_member("wren")
    Community.current()
    ready, answers = threading.Barrier(6), []

    def send():
        ready.wait()
        try:
            answers.append(post(member, {"name": "bed"}, key="k"))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=send) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert Garden.objects.count() == 1
    assert [a.status_code for a in answers] == [201] * 6
    assert len([a for a in answers if "Idempotent-Replay" not in a.headers]) == 1
    assert len({a.data["id"] for a in answers}) == 1
