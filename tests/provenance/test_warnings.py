"""Reports carried to descendants, and stopped where one was cleared."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from library.provenance.chain import chain_down, chain_up
from library.provenance.models import OffTypeClearance, OffTypeReport
from library.provenance.warnings import warnings_in, warnings_of, warnings_of_lots
from library.stock.models import Lot, LotParent


@pytest.fixture
def chain(variety):
    """``chain(A=(), B=("A",), C=("A", "B"))`` makes lots with equal shares of their parents."""

    def make(**parents: tuple[str, ...]) -> dict[str, Lot]:
        day = dt.date(2020, 1, 1)
        lots = {
            name: Lot.objects.create(
                number=name, variety=variety, origin="deposit", received_on=day
            )
            for name in parents
        }
        for name, of in parents.items():
            LotParent.objects.bulk_create(
                LotParent(child=lots[name], parent=lots[parent], share=Decimal(1) / len(of))
                for parent in of
            )
        return lots

    return make


def seen(lot) -> OffTypeReport:
    return OffTypeReport.objects.create(lot=lot, seen_on=dt.date(2021, 7, 1), what="green pods")


def cleared(report, lot) -> None:
    OffTypeClearance.objects.create(report=report, lot=lot, reason="grown out, all true")


def told(lot):
    return [(w.report.lot.number, round(w.share, 6), w.own) for w in warnings_of(lot)]


def test_a_report_warns_of_its_lot_and_of_all_grown_from_it_and_of_nothing_before(chain):
    lots = chain(A=(), B=("A",), C=("B",))
    seen(lots["B"])

    assert told(lots["A"]) == []
    assert told(lots["B"]) == [("B", 1.0, True)]
    assert told(lots["C"]) == [("B", 1.0, False)]


def test_it_is_carried_by_every_way_with_its_share_of_each(chain):
    lots = chain(A=(), B=("A",), X=(), C=("B", "X"), D=("A", "C"))
    seen(lots["A"])

    assert told(lots["D"]) == [("A", 0.75, False)]


def test_a_cleared_descendant_stops_the_way_through_it_and_no_other(chain):
    lots = chain(A=(), B=("A",), X=(), C=("B", "X"), D=("A", "C"), E=("C",))
    report = seen(lots["A"])
    cleared(report, lots["C"])

    assert told(lots["B"]) == [("A", 1.0, False)]
    assert told(lots["C"]) == []
    assert told(lots["D"]) == [("A", 0.5, False)]
    assert told(lots["E"]) == []


def test_a_clearance_answers_for_its_own_report_only(chain):
    lots = chain(A=(), B=("A",))
    cleared(seen(lots["A"]), lots["B"])
    seen(lots["A"])

    assert len(warnings_of(lots["B"])) == 1
    assert len(warnings_of(lots["A"])) == 2


def test_a_report_that_was_lifted_warns_of_nothing(chain):
    lots = chain(A=(), B=("A",))
    report = seen(lots["A"])
    report.lifted_at, report.lift_reason = timezone.now(), "a labelling mistake"
    report.save()

    assert told(lots["A"]) == told(lots["B"]) == []


def test_its_own_report_comes_first_then_the_greater_share(chain):
    lots = chain(A=(), B=(), X=("A", "B"), C=("X", "B"))
    seen(lots["A"])
    seen(lots["B"])
    seen(lots["C"])

    assert told(lots["C"]) == [("C", 1.0, True), ("B", 0.75, False), ("A", 0.25, False)]


def test_in_a_chain_both_upwards_and_downwards_the_same_lots_are_warned_of(chain):
    lots = chain(O=(), A=("O",), B=("A",), X=(), C=("B", "X"))
    old, side = seen(lots["O"]), seen(lots["X"])
    cleared(old, lots["C"])

    up, down = warnings_in(chain_up(lots["C"])), warnings_in(chain_down(lots["A"]))

    everywhere = {lots["A"].pk: [old], lots["B"].pk: [old], lots["C"].pk: [side]}
    assert up == {lots["O"].pk: [old], lots["X"].pk: [side]} | everywhere
    assert down == everywhere


def test_a_lot_without_children_is_still_warned_of_what_came_before(chain):
    lots = chain(A=(), B=("A",))
    report = seen(lots["A"])

    assert warnings_in(chain_down(lots["B"])) == {lots["B"].pk: [report]}
    assert warnings_in(chain_up(lots["A"])) == {lots["A"].pk: [report]}


def test_several_lots_are_asked_about_at_once(chain):
    lots = chain(A=(), B=("A",), X=(), Y=("X",))
    report = seen(lots["A"])

    with CaptureQueriesContext(connection) as queries:
        found = warnings_of_lots([lots["B"], lots["X"], lots["Y"]])

    assert len(queries) == 3
    assert {pk: [w.report for w in carried] for pk, carried in found.items()} == {
        lots["B"].pk: [report]
    }
    assert warnings_of_lots([]) == {}


@pytest.mark.parametrize("length", [2, 60])
def test_where_nothing_was_reported_one_query_says_so(chain, length):
    names = [f"L{n:02}" for n in range(length)]
    lots = chain(**{n: (names[i - 1],) if i else () for i, n in enumerate(names)})
    report = seen(chain(other=())["other"])

    with CaptureQueriesContext(connection) as queries:
        assert warnings_of(lots[names[-1]]) == []

    assert len(queries) == 1
    assert report.stands


@pytest.mark.parametrize("length", [2, 60])
def test_the_number_of_queries_does_not_grow_with_the_chain(chain, length):
    names = [f"L{n:02}" for n in range(length)]
    lots = chain(**{n: (names[i - 1],) if i else () for i, n in enumerate(names)})
    for name in names[:-1]:
        cleared(seen(lots[name]), lots[names[-1]])
    whole = chain_up(lots[names[-1]])

    with CaptureQueriesContext(connection) as queries:
        assert warnings_of(lots[names[-1]]) == []
        assert len(warnings_in(whole)) == length - 1

    assert len(queries) == 3 + 2
