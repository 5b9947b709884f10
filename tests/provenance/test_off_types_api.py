"""Off-types and purity over the API."""

from __future__ import annotations

import datetime as dt

import pytest

from library.provenance.models import OffTypeClearance, OffTypeReport
from library.provenance.services import clear_of_report, lift_report, report_off_types

pytestmark = pytest.mark.usefixtures("november")
ON = dt.date(2026, 11, 20)
REPORTS = "/api/off-type-reports/"


@pytest.fixture
def as_(api):
    def person(who):
        api.force_authenticate(who)
        return api

    return person


@pytest.fixture
def lot(squash, start):
    return start(squash)


@pytest.fixture
def child(lot, grow):
    return grow(lot, year=2024, isolation="bag")


@pytest.fixture
def report(lot, member):
    def make(**facts):
        facts = {"lot": lot, "seen_on": ON, "what": "two plants with green stripes"} | facts
        return report_off_types(**{"by": member, "on": ON} | facts)

    return make


def test_a_member_reports_and_everybody_reads(as_, api, member, lot):
    sent = {"lot": lot.number, "seen_on": "2026-07-03", "what": "stripes", "plants_seen": 2}

    answer = as_(member).post(REPORTS, sent, format="json")

    assert answer.status_code == 201
    told = answer.json()
    assert told["lot"] == lot.number
    assert told["standing"] is True
    assert told["reported_by"] == member.display_name
    assert told["clearances"] == []
    one = as_(None).get(f"{REPORTS}{told['id']}/").json()
    assert one == told | {"reported_by": None}


def test_sent_again_with_its_key_it_is_written_once(as_, member, lot):
    sent = {"lot": lot.number, "seen_on": "2026-07-03", "what": "stripes"}
    key = {"Idempotency-Key": "one"}

    first = as_(member).post(REPORTS, sent, format="json", headers=key)
    again = as_(member).post(REPORTS, sent, format="json", headers=key)

    assert again["Idempotent-Replay"] == "true"
    assert again.json() == first.json()
    assert OffTypeReport.objects.count() == 1


@pytest.mark.parametrize(
    ("sent", "code", "field"),
    [
        ({"seen_on": "2027-01-01"}, 400, "seen_on"),
        ({"seen_on": "2019-01-01"}, 400, "seen_on"),
        ({"what": ""}, 400, "what"),
        ({"what": "nul \x00"}, 400, "what"),
        ({"lot": "L99999-9"}, 400, "lot"),
        ({"lot": "\x00"}, 400, "lot"),
        ({"lot": None}, 400, "lot"),
        ({"lot": ["x"]}, 400, "lot"),
        ({"plants_seen": 5, "plants_looked_at": 4}, 400, "plants_seen"),
        ({"plants_seen": 10**12}, 400, "plants_seen"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(as_, member, lot, sent, code, field):
    sent = {"lot": lot.number, "seen_on": "2026-07-03", "what": "stripes"} | sent

    answer = as_(member).post(REPORTS, sent, format="json")

    assert answer.status_code == code
    assert field in answer.content.decode()
    assert not OffTypeReport.objects.exists()


def test_the_list_is_filtered_by_lot_and_by_whether_a_report_stands(
    as_, report, lot, child, coordinator
):
    old, other = report(), report(lot=child)
    stands = report(what="white flowers")
    lift_report(report=old, reason="mislabelled", by=coordinator, on=ON)

    def found(query):
        answer = as_(None).get(f"{REPORTS}?{query}")
        assert answer.status_code == 200
        return {row["id"] for row in answer.json()["results"]}

    assert found("") == {old.pk, other.pk, stands.pk}
    assert found(f"lot={lot.number}") == {old.pk, stands.pk}
    assert found("standing=true") == {other.pk, stands.pk}
    assert found(f"lot={lot.number}&standing=false") == {old.pk}
    assert as_(None).get(f"{REPORTS}?standing=perhaps").status_code == 400
    assert as_(None).get(f"{REPORTS}?lot=%00").status_code == 400


def test_a_coordinator_lifts_it_once(as_, report, coordinator):
    address = f"{REPORTS}{report().pk}/lift/"

    first = as_(coordinator).post(address, {"reason": "mislabelled"}, format="json")
    again = as_(coordinator).post(address, {"reason": "twice"}, format="json")

    assert first.status_code == 200
    assert first.json()["standing"] is False
    assert first.json()["lift_reason"] == "mislabelled"
    assert again.status_code == 409


def test_a_coordinator_clears_a_descendant_once(as_, report, lot, child, coordinator):
    address = f"{REPORTS}{report().pk}/clear/"
    sent = {"lot": child.number, "reason": "sixty true"}

    first = as_(coordinator).post(address, sent, format="json")
    again = as_(coordinator).post(address, sent, format="json")
    wrong = as_(coordinator).post(address, sent | {"lot": lot.number}, format="json")

    assert first.status_code == 200
    assert [row["lot"] for row in first.json()["clearances"]] == [child.number]
    assert again.status_code == 409
    assert wrong.status_code == 400
    assert OffTypeClearance.objects.count() == 1


def test_the_purity_of_a_lot_link_by_link_with_what_warns_of_it(as_, report, child, grow):
    made = report()
    last = grow(
        child,
        year=2025,
        isolation="distance",
        isolation_distance_m=161,
        crossing_neighbour="marrows by the ford",
    )

    told = as_(None).get(f"/api/lots/{last.number}/purity/").json()

    assert told["lot"] == told["weakest"] == last.number
    assert told["grade"] == "weak"
    assert "644 m short" in told["sentence"]
    safe, weak = told["links"]
    assert (safe["lot"], safe["grade"], safe["isolation"]) == (child.number, "safe", "bag")
    assert weak["isolation_distance_m"] == 161
    assert weak["crossing_neighbour"] == "marrows by the ford"
    assert weak["home_distance"]["metres"] == 805
    assert "Seed Saving Chart" in weak["home_distance"]["source"]
    assert weak["share"] == 1.0
    (warning,) = told["warnings"]
    assert (warning["report"], warning["own"], warning["share"]) == (made.pk, False, 1.0)


def test_a_lot_of_which_nothing_was_grown_yet(as_, lot):
    told = as_(None).get(f"/api/lots/{lot.number}/purity/").json()

    assert told["grade"] == "nothing_grew"
    assert told["weakest"] is None
    assert told["links"] == told["warnings"] == []


@pytest.mark.parametrize("how_many", [1, 6])
def test_the_list_costs_the_same_for_one_row_and_for_six(
    as_, report, lot, grow, coordinator, member, how_many, django_assert_num_queries
):
    for number in range(how_many):
        made = report(what=f"kind {number}")
        clear_of_report(
            report=made, lot=grow(lot, year=2024), reason="true", by=coordinator, on=ON
        )
    as_(member).get(REPORTS)

    with django_assert_num_queries(4):  # the community, how many, reports, clearances
        rows = as_(member).get(REPORTS).json()["results"]

    assert len(rows) == how_many
    assert all(row["clearances"] for row in rows)


@pytest.mark.parametrize("length", [1, 6])
def test_purity_costs_the_same_for_one_link_and_for_six(
    as_, member, squash, start, grow, make_garden, length, django_assert_num_queries
):
    lot, garden = start(squash), make_garden("Upper Beck plot")
    for year in range(2021, 2021 + length):
        lot = grow(lot, year=year, garden=garden)
        report_off_types(lot=lot, seen_on=ON, what="stripes", by=member, on=ON)
    as_(member).get(f"/api/lots/{lot.number}/purity/")

    with django_assert_num_queries(10):
        told = as_(member).get(f"/api/lots/{lot.number}/purity/").json()

    assert len(told["links"]) == len(told["warnings"]) == length
