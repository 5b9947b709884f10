"""Reads the table: a row for each route and method, a column for each who may ask.

A cell is the status that is due. ``in`` is the way to the sign-in page, and back after it.
``*`` holds while the catalogue is public; kept to members it is ``in`` or 401, and 404 to an
applicant. ``=`` marks a success that changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.urls import reverse
from django.utils.http import urlencode

from tests.permissions.rows import (
    accounts,
    album,
    calendars,
    cardbox,
    catalogue,
    exchange,
    firstday,
    germination,
    growouts_commitments,
    growouts_own,
    growouts_pictures,
    growouts_plans,
    growouts_risk,
    growouts_seasons,
    household,
    lending,
    paper,
    provenance,
    site,
    stock,
)
from tests.permissions.world import ACTORS, World

HEADER = ["route", "method", "anon", "appl", "other", "owner", "desk", "coord", "admin"]
GROW_OUTS = [
    growouts_risk,
    growouts_seasons,
    growouts_plans,
    growouts_commitments,
    growouts_own,
    growouts_pictures,
]
APPS = [
    site,
    accounts,
    catalogue,
    stock,
    germination,
    provenance,
    lending,
    *GROW_OUTS,
    exchange,
    cardbox,
    album,
    calendars,
    household,
    paper,
    firstday,
]


def gathered(name: str) -> dict:
    return {key: value for app in APPS for key, value in getattr(app, name, {}).items()}


THINGS, QUERY, SENT = gathered("THINGS"), gathered("QUERY"), gathered("SENT")


@dataclass(frozen=True)
class Row:
    """``case`` tells several rows of one route apart: ``loan#chosen GET …``."""

    route: str
    case: str
    method: str
    cells: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.names[0]} {self.method}"

    @property
    def names(self) -> list[str]:
        """Where its particulars are looked up: under its case, else under its route."""
        return [f"{self.route}#{self.case}", self.route] if self.case else [self.route]

    def cell(self, who: str) -> str:
        return self.cells[ACTORS.index(who)]

    def args(self, world: World) -> list:
        return _first(THINGS, self.names, lambda w: [])(world)

    def address(self, world: World) -> str:
        query = _first(QUERY, self.names, lambda w: {})(world)
        path = reverse(self.route, args=self.args(world))
        return f"{path}?{urlencode(query)}" if query else path

    def sent(self, world: World, who: str) -> dict:
        keys = [f"{name} {self.method}" for name in self.names]
        return _first(SENT, keys, lambda w, me: {})(world, world.members[who])


def _first(particulars: dict, keys: Iterable[str], nothing):
    return next((particulars[key] for key in keys if key in particulars), nothing)


def _read(text: str) -> list[Row]:
    header, *lines = text.strip().splitlines()
    if header.split() != HEADER:
        raise ValueError(f"the columns are {HEADER}")
    rows = []
    for line in lines:
        name, method, *cells = line.split()
        route, _, case = name.partition("#")
        if len(cells) != len(ACTORS):
            raise ValueError(f"{name} {method}: {len(cells)} cells for {len(ACTORS)} columns")
        rows.append(Row(route, case, method, tuple(cells)))
    return rows


ROWS = [row for app in APPS for row in _read(app.TABLE)]
READING = [row for row in ROWS if row.method == "GET"]
WRITING = [row for row in ROWS if row.method != "GET"]
