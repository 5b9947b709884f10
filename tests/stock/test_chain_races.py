"""Time and the chain by two writers at once, and by somebody who writes to the tables.

On PostgreSQL with real threads; each race beside a control without the guard, which must go
wrong, or the race would prove nothing.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import threading

import pytest
from django.db import IntegrityError, connection, transaction

from library.errors import Refused
from library.stock import services
from library.stock.checks import problems
from library.stock.models import Lot, LotParent, NumberSeries
from library.stock.services import amendments, descent, receiving
from tests.stock.test_races import all_at_once

ON = dt.date(2025, 11, 1)


def amend(lot, year, desk):
    services.amend_lot(lot=lot, field="harvest_year", value=year, reason="x", by=desk)


def receive_child(parent, desk):
    services.receive_lot(
        variety=parent.variety,
        origin="return",
        parents=[(parent, 1)],
        harvest_year=2021,
        on=ON,
        by=desk,
        seeds=10,
    )


@pytest.fixture
def family(make_lot, variety):
    """A lot of 2020, one without a year grown of it, and one of 2024 grown of that."""
    first = make_lot(variety, harvest_year=2020)
    second = make_lot(variety, origin="return", parents=[(first, 1)], on=ON)
    last = make_lot(variety, origin="return", parents=[(second, 1)], harvest_year=2024, on=ON)
    return first, second, last


@pytest.fixture
def unguard(monkeypatch):
    """Take away the row that orders the services; both look before either writes."""

    def do():
        both_have_looked = threading.Barrier(2, timeout=20)
        numbers = iter(["X1", "X2"])

        def looked(*args, **kwargs):
            descent.check_harvest_order(*args, **kwargs)
            both_have_looked.wait()

        class NobodyHolds:
            objects = NumberSeries.objects.none()

        monkeypatch.setattr(amendments, "NumberSeries", NobodyHolds)
        monkeypatch.setattr(amendments, "check_harvest_order", looked)
        monkeypatch.setattr(receiving, "check_harvest_order", looked)
        monkeypatch.setattr(receiving, "next_lot_number", lambda: next(numbers))
        monkeypatch.setattr(receiving, "locked_parents", lambda links: [p for p, _ in links])

    return do


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif("connection.vendor != 'postgresql'", reason="needs PostgreSQL")
class TestTwoWriters:
    def test_amending_both_ends_never_turns_time_round(self, family, desk):
        first, _second, last = family

        got = all_at_once(lambda: amend(first, 2023, desk), lambda: amend(last, 2021, desk))

        assert got == 1
        assert list(problems()) == []

    def test_control_without_the_held_row_amending_both_ends_does(self, family, desk, unguard):
        first, _second, last = family
        unguard()

        got = all_at_once(lambda: amend(first, 2023, desk), lambda: amend(last, 2021, desk))

        assert got == 2
        assert any("harvested before" in problem for problem in problems())

    def test_a_child_received_while_its_parent_is_amended_is_never_older(
        self, make_lot, variety, desk
    ):
        parent = make_lot(variety, harvest_year=2020)

        got = all_at_once(
            lambda: amend(parent, 2023, desk), lambda: receive_child(parent, desk)
        )

        assert got == 1
        assert list(problems()) == []

    def test_control_without_the_held_row_it_is(self, make_lot, variety, desk, unguard):
        parent = make_lot(variety, harvest_year=2020)
        unguard()

        got = all_at_once(
            lambda: amend(parent, 2023, desk), lambda: receive_child(parent, desk)
        )

        assert got == 2
        assert any("harvested before" in problem for problem in problems())

    def test_two_links_never_close_a_ring(self, make_lot, variety):
        """Each link alone would do; together they are a ring, and one of them points back."""
        older, newer = make_lot(variety), make_lot(variety)

        def link(child, parent):
            try:
                LotParent.objects.create(child=child, parent=parent, share=1)
            except IntegrityError as error:
                raise Refused(str(error)) from None

        got = all_at_once(lambda: link(newer, older), lambda: link(older, newer))

        assert got == 1
        assert LotParent.objects.get().parent == older

    def test_control_without_the_constraint_they_do(self, make_lot, variety):
        older, newer = make_lot(variety), make_lot(variety)
        pairs = [(newer, older), (older, newer)]
        with without("stock_lotparent", "lot_parent_is_older_row"):
            got = all_at_once(
                *[
                    lambda c=child, p=parent: LotParent.objects.create(
                        child=c, parent=p, share=1
                    )
                    for child, parent in pairs
                ]
            )
            found = list(problems())
            with connection.cursor() as cursor:  # so that the constraint can be put back
                cursor.execute("TRUNCATE stock_lotparent")

        assert got == 2
        assert any("which is not an older row" in problem for problem in found)


@contextlib.contextmanager
def without(table: str, constraint: str):
    (kept,) = [c for c in LotParent._meta.constraints if c.name == constraint]
    with connection.schema_editor() as editor:
        editor.remove_constraint(LotParent, kept)
    try:
        yield
    finally:
        with connection.schema_editor() as editor:
            editor.add_constraint(LotParent, kept)


RAW = {
    "a link to itself": (
        "INSERT INTO stock_lotparent (child_id, parent_id, share) VALUES ({a}, {a}, 1)"
    ),
    "a link to a newer row": (
        "INSERT INTO stock_lotparent (child_id, parent_id, share) VALUES ({a}, {c}, 1)"
    ),
    "turning a link round": (
        "UPDATE stock_lotparent SET child_id = parent_id, parent_id = child_id"
    ),
    "another parent": "UPDATE stock_lotparent SET parent_id = {a} WHERE child_id = {c}",
    "another share": "UPDATE stock_lotparent SET share = 0.5 WHERE child_id = {c}",
    "taking a link away": "DELETE FROM stock_lotparent WHERE child_id = {c}",
    "the same link again": (
        "INSERT INTO stock_lotparent (child_id, parent_id, share) VALUES ({c}, {b}, 0.5)"
    ),
    "a share of more than all": (
        "INSERT INTO stock_lotparent (child_id, parent_id, share) VALUES ({c}, {a}, 1.5)"
    ),
    "another identity": "UPDATE stock_lot SET number = 'L9' WHERE id = {a}",
    "another origin": "UPDATE stock_lot SET origin = 'elsewhere' WHERE id = {a}",
    "another day": "UPDATE stock_lot SET received_on = '2030-01-01' WHERE id = {a}",
}


@pytest.mark.parametrize("raw", RAW)
def test_the_database_itself_refuses_what_would_break_the_chain(family, raw):
    """SQL past every service: constraints and triggers stand behind them."""
    a, b, c = (lot.pk for lot in family)
    links = list(LotParent.objects.order_by("pk").values())

    with (
        pytest.raises(IntegrityError),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(RAW[raw].format(a=a, b=b, c=c))

    assert list(LotParent.objects.order_by("pk").values()) == links
    assert list(problems()) == []


def test_a_year_turned_round_past_the_services_is_reported(family):
    """No constraint compares two rows: the check that is run each night says it."""
    first, second, last = family
    for lot, year in ((second, 2025), (first, 2025)):
        with transaction.atomic():
            Lot.objects.filter(pk=lot.pk).update(harvest_year=year)
            assert any(last.number in problem for problem in problems())
            transaction.set_rollback(True)
    assert list(problems()) == []
