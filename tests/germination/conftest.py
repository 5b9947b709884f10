"""A lot of beans, and the people who test it."""

from __future__ import annotations

import datetime as dt
import html

import pytest
import time_machine

from library.germination import services
from library.germination.models import DayCount, GerminationTest, TestAmendment
from library.stock.models import Movement


@pytest.fixture
def today():
    """Noon of 1 December 2025."""
    with time_machine.travel(dt.datetime(2025, 12, 1, 12, tzinfo=dt.UTC), tick=False):
        yield dt.date(2025, 12, 1)


@pytest.fixture
def at_desk(api, desk):
    """The API as the desk sees it."""
    api.force_authenticate(desk)
    return api


@pytest.fixture
def bean_lot(make_lot, variety):
    """Two thousand drying beans, received on 1 October 2025."""
    return make_lot(variety, seeds=2000)


@pytest.fixture
def running(bean_lot, desk):
    """Two dishes of 25 beans, laid out on 24 November 2025."""
    return services.start_test(
        lot=bean_lot, replicates=2, seeds_each=25, on=dt.date(2025, 11, 24), by=desk
    )


@pytest.fixture
def few(make_lot, variety, desk):
    """Ten of 500 beans, the first group of at most 50, laid out on 24 November 2025."""
    return services.start_test(
        lot=make_lot(variety, seeds=500),
        kind="sequential",
        on=dt.date(2025, 11, 24),
        by=desk,
    )


@pytest.fixture
def text_of():
    """The words of an answer: entities read, spaces and lines made one space each."""
    return lambda response: " ".join(html.unescape(response.content.decode()).split())


@pytest.fixture
def dishes():
    """``dishes({"normal": 45}, {"normal": 44})``: posted, one row of counts for each dish."""

    def posted(*rows, total=None):
        data = {"dish-TOTAL_FORMS": total or len(rows), "dish-INITIAL_FORMS": 0}
        for number, row in enumerate(rows):
            data |= {f"dish-{number}-{name}": value for name, value in row.items()}
        return data

    return posted


@pytest.fixture
def do(at_desk):
    """``do(test, "counts", dish=1, normal=3)`` as the desk; the answer."""

    def post(test, action, *, key=None, **sent):
        headers = {"Idempotency-Key": key} if key else {}
        return at_desk.post(
            f"/api/germination-tests/{test.pk}/{action}/", sent, headers=headers
        )

    return post


@pytest.fixture
def rows(db):
    """``rows()`` is how many rows there are of all that the bench writes."""
    tables = (GerminationTest, DayCount, TestAmendment, Movement)
    return lambda: [table.objects.count() for table in tables]
