"""Off-types reported against a lot, lifted with a reason, and descendants cleared of them."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.management import CommandError, call_command
from django.db import Error, connection, transaction

from library.errors import Conflict, NotAllowed, Refused
from library.provenance.guards import GUARDS
from library.provenance.models import OffTypeClearance, OffTypeReport
from library.provenance.services import clear_of_report, lift_report, report_off_types
from library.provenance.warnings import warnings_of
from library.stock import guards
from library.stock.models import Lot

ON = dt.date(2026, 8, 20)
SEEN = dt.date(2026, 7, 3)

pytestmark = pytest.mark.usefixtures("november")


@pytest.fixture
def lot(variety, start) -> Lot:
    return start(variety)


@pytest.fixture
def child(lot, grow) -> Lot:
    return grow(lot, year=2024)


@pytest.fixture
def report(lot, member):
    def make(**facts) -> OffTypeReport:
        facts = {"lot": lot, "seen_on": SEEN, "what": "two plants with red stems"} | facts
        return report_off_types(**{"by": member, "on": ON} | facts)

    return make


def test_any_approved_member_reports_what_was_seen(report, lot, member):
    made = report(plants_seen=2, plants_looked_at=40)

    assert (made.lot, made.seen_on, made.reported_by) == (lot, SEEN, member)
    assert (made.plants_seen, made.plants_looked_at) == (2, 40)
    assert made.stands
    lot.refresh_from_db()
    assert lot.withheld_reason == ""


def test_somebody_who_is_not_approved_yet_does_not(report, applicant):
    with pytest.raises(NotAllowed):
        report(by=applicant)


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"seen_on": ON + dt.timedelta(days=1)}, "seen_on"),
        ({"seen_on": dt.date(2019, 7, 1)}, "seen_on"),  # before the lot was received
        ({"what": "  "}, "what"),
        ({"what": "x" * 2001}, "what"),
        ({"what": "nul \x00"}, "what"),
        ({"plants_seen": 0}, "plants_seen"),
        ({"plants_seen": -1}, "plants_seen"),
        ({"plants_seen": 2.5}, "plants_seen"),
        ({"plants_looked_at": 0}, "plants_looked_at"),
        ({"plants_seen": 5, "plants_looked_at": 4}, "plants_seen"),
        ({"on": dt.date(2100, 1, 1)}, "on"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(report, facts, field):
    with pytest.raises(Refused) as refusal:
        report(**facts)

    assert refusal.value.field == field
    assert not OffTypeReport.objects.exists()


def test_the_same_said_twice_by_the_same_person_is_one_report(report, other_member):
    report()

    with pytest.raises(Conflict):
        report()
    report(by=other_member)

    assert OffTypeReport.objects.count() == 2


def test_it_can_be_said_again_once_it_was_lifted(report, coordinator):
    lift_report(report=report(), reason="mislabelled bed", by=coordinator, on=ON)

    assert report().stands


def test_a_coordinator_lifts_it_with_a_reason_and_it_stays_readable(
    report, child, lot, coordinator
):
    made = report()

    lift_report(report=made, reason=" A mislabelled bed. ", by=coordinator, on=ON)

    made.refresh_from_db()
    assert not made.stands
    assert (made.lifted_by, made.lift_reason) == (coordinator, "A mislabelled bed.")
    assert warnings_of(lot) == warnings_of(child) == []


def test_lifting_twice_is_a_conflict_and_the_first_reason_stays(report, coordinator):
    made = report()
    lift_report(report=made, reason="first", by=coordinator, on=ON)

    with pytest.raises(Conflict):
        lift_report(report=made, reason="second", by=coordinator, on=ON)

    made.refresh_from_db()
    assert made.lift_reason == "first"


@pytest.mark.parametrize("reason", ["", "   ", "x" * 2001])
def test_neither_is_done_without_a_reason(report, child, coordinator, reason):
    made = report()

    with pytest.raises(Refused):
        lift_report(report=made, reason=reason, by=coordinator, on=ON)
    with pytest.raises(Refused):
        clear_of_report(report=made, lot=child, reason=reason, by=coordinator, on=ON)


def test_neither_is_for_the_desk(report, child, desk):
    made = report()

    with pytest.raises(NotAllowed):
        lift_report(report=made, reason="no", by=desk, on=ON)
    with pytest.raises(NotAllowed):
        clear_of_report(report=made, lot=child, reason="no", by=desk, on=ON)


def test_nor_before_it_was_seen(report, coordinator):
    with pytest.raises(Refused):
        lift_report(report=report(), reason="early", by=coordinator, on=dt.date(2026, 7, 2))


def test_a_cleared_descendant_and_what_is_grown_from_it_are_warned_no_more(
    report, lot, child, grow, coordinator
):
    made = report()
    grandchild, other = grow(child, year=2025), grow(lot, year=2025)

    clear_of_report(report=made, lot=child, reason="60 plants true", by=coordinator, on=ON)

    assert warnings_of(child) == warnings_of(grandchild) == []
    assert [w.report for w in warnings_of(other)] == [made]
    assert [w.report for w in warnings_of(lot)] == [made]


def test_a_lot_is_cleared_once(report, child, coordinator):
    made = report()
    clear_of_report(report=made, lot=child, reason="true", by=coordinator, on=ON)

    with pytest.raises(Conflict):
        clear_of_report(report=made, lot=child, reason="again", by=coordinator, on=ON)

    assert OffTypeClearance.objects.count() == 1


def test_only_what_carries_the_report_is_cleared_of_it(report, lot, child, start, coordinator):
    made = report(lot=child, seen_on=SEEN)
    stranger = start(lot.variety)

    for other in (child, lot, stranger):
        with pytest.raises(Refused) as refusal:
            clear_of_report(report=made, lot=other, reason="true", by=coordinator, on=ON)
        assert refusal.value.field == "lot"


def test_nothing_is_cleared_of_a_report_that_was_lifted(report, child, coordinator):
    made = report()
    lift_report(report=made, reason="mislabelled", by=coordinator, on=ON)

    with pytest.raises(Conflict):
        clear_of_report(report=made, lot=child, reason="true", by=coordinator, on=ON)


# What the database itself refuses, on both databases.


def test_verifying_notices_a_guard_of_the_reports_that_is_down(db, capsys):
    guards.lift(connection, GUARDS[:1])

    with pytest.raises(CommandError):
        call_command("verify_stock")

    assert capsys.readouterr().err == (
        "The database's guard off_type_report_never_changes is not up.\n"
    )


@pytest.mark.django_db(transaction=True)
def test_the_guards_of_the_reports_stand_again_after_the_database_was_emptied(report):
    report()

    call_command("flush", interactive=False, verbosity=0)

    assert not OffTypeReport.objects.exists()
    assert guards.missing(connection) == []


@pytest.mark.parametrize(
    "change",
    [
        {"what": "something else"},
        {"seen_on": dt.date(2026, 1, 1)},
        {"plants_seen": 1},
        {"plants_looked_at": 99},
    ],
)
def test_the_database_keeps_what_was_reported(report, change):
    made = report()

    with pytest.raises(Error, match="never changed"), transaction.atomic():
        OffTypeReport.objects.filter(pk=made.pk).update(**change)


def test_the_database_keeps_a_lifted_report_lifted(report, coordinator):
    made = report()
    lift_report(report=made, reason="mislabelled", by=coordinator, on=ON)

    with pytest.raises(Error, match="stays lifted"), transaction.atomic():
        OffTypeReport.objects.filter(pk=made.pk).update(lifted_at=None, lift_reason="")
    with pytest.raises(Error, match="stays lifted"), transaction.atomic():
        OffTypeReport.objects.filter(pk=made.pk).update(lift_reason="another")


def test_the_database_loses_no_report_and_no_clearance(report, child, coordinator):
    made = report()
    cleared = clear_of_report(report=made, lot=child, reason="true", by=coordinator, on=ON)

    with pytest.raises(Error, match="never changed"), transaction.atomic():
        OffTypeClearance.objects.filter(pk=cleared.pk).update(reason="another")
    with pytest.raises(Error, match="never deleted"), transaction.atomic():
        cleared.delete()
    with pytest.raises(Error, match="never deleted"), transaction.atomic():
        OffTypeReport.objects.filter(pk=made.pk)._raw_delete("default")


def test_who_left_is_forgotten_and_the_report_stays(report, member, coordinator, child):
    made = report()
    clear_of_report(report=made, lot=child, reason="true", by=coordinator, on=ON)

    OffTypeReport.objects.filter(pk=made.pk).update(reported_by=None)
    OffTypeClearance.objects.update(cleared_by=None)

    made.refresh_from_db()
    assert made.reported_by is None
