"""Asking for one row as somebody, and what came of it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from urllib.parse import parse_qs, urlsplit

from django.apps import apps
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from tests.permissions.table import Row
from tests.permissions.world import World

# Sessions and what Django keeps of its own are no part of what a request may not touch.
NOT_OURS = {"sessions", "contenttypes", "auth", "admin"}


@dataclass
class Answer:
    response: HttpResponse
    wrote: bool
    address: str
    method: str

    @property
    def word(self) -> str:
        """The status, or ``in`` for the way to the sign-in page."""
        sign_in = self.location.startswith(reverse("account_login"))
        return "in" if sign_in else str(self.response.status_code)

    @property
    def location(self) -> str:
        return self.response.headers.get("Location", "")

    @property
    def leads_back_to(self) -> str:
        """Where signing in would lead."""
        return parse_qs(urlsplit(self.location).query)["next"][0]


def ask(world: World, row: Row, who: str, *, client: Client | None = None) -> Answer:
    return send(
        client or world.client(who), row.method, row.address(world), row.sent(world, who)
    )


def send(client: Client, method: str, address: str, data: dict | None = None) -> Answer:
    """JSON to the API, a form to a page."""
    writes = Writes()
    with connection.execute_wrapper(writes):
        if method == "POST" and not address.startswith("/api/"):
            response = client.post(address, data or {})
        elif method in ("GET", "HEAD"):
            response = client.generic(method, address)
        else:
            body = json.dumps(data or {})
            response = client.generic(method, address, body, content_type="application/json")
    if response.streaming:  # a file: read and closed, but not the database's connection with it
        content = b"".join(response.streaming_content)
        for close in response._resource_closers:
            close()
        response.streaming_content = [content]
    return Answer(response, writes.seen, address, method)


class Writes:
    """Notices statements that change rows of ours, so that the rows are read only then."""

    def __init__(self) -> None:
        self.seen = False

    def __call__(self, execute, sql, params, many, context):
        verb = sql.lstrip().split(" ", 1)[0].upper()
        self.seen |= verb in ("INSERT", "UPDATE", "DELETE") and "django_session" not in sql
        return execute(sql, params, many, context)


def everything() -> dict[str, list]:
    """Every row of every table of ours."""
    kept = {}
    with connection.cursor() as cursor:
        for model in apps.get_models(include_auto_created=True):
            if model._meta.app_label in NOT_OURS or not model._meta.managed:
                continue
            table = connection.ops.quote_name(model._meta.db_table)
            cursor.execute(f"SELECT * FROM {table} ORDER BY 1")  # noqa: S608
            kept[model._meta.label] = cursor.fetchall()
    return kept


def changed(world: World, answer: Answer) -> bool:
    return answer.wrote and everything() != world.before
