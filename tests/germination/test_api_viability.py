"""A lot's viability over the API: today, over time, and all that it rests on."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from scipy.stats import beta

from accounts.models import Community
from library.catalogue.models import ViabilityConstants
from library.germination import services
from library.germination.estimates import estimate_of
from library.stock import services as stock

TODAY = dt.date(2026, 3, 1)
DISHES = [{"seeds": 50, "normal": 46}, {"seeds": 50, "normal": 44}]


@pytest.fixture(autouse=True)
def spring():
    """It is noon of 1 March 2026."""
    with time_machine.travel(dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC), tick=False):
        yield


@pytest.fixture
def lot(make_lot, variety):
    return make_lot(variety, seeds=2000, harvest_year=2025)


@pytest.fixture
def tested(lot, desk):
    return services.record_test(
        lot=lot,
        replicates=DISHES,
        started_on=dt.date(2025, 11, 1),
        closed_on=dt.date(2025, 11, 9),
        by=desk,
    )


@pytest.fixture
def ask(api):
    def answer(lot, **asked):
        return api.get(f"/api/lots/{lot.number}/viability/", asked)

    return answer


def test_it_is_what_the_page_is_told(ask, lot, tested):
    known = estimate_of(lot).on(TODAY)

    body = ask(lot).json()

    assert body["today"] == {
        "on": "2026-03-01",
        "low_percent": round(100 * known.low, 2),
        "median_percent": round(100 * known.median, 2),
        "high_percent": round(100 * known.high, 2),
        "chance_percent": round(100 * known.chance_above, 2),
    }
    assert (body["lot"], body["variety_name"]) == (lot.number, "Tarn Kettle")
    assert (body["standard_percent"], body["level_percent"]) == (70, 80)
    assert (body["predictable"], body["cannot"], body["then"]) == (True, None, None)


def test_a_day_can_be_asked_for(ask, lot, tested):
    body = ask(lot, on="2031-06-01").json()

    assert body["then"]["on"] == "2031-06-01"
    assert body["then"]["chance_percent"] < body["today"]["chance_percent"]


def test_the_band_is_told_over_time(ask, lot, tested):
    asked = {"from": "2026-01-01", "until": "2026-01-31", "points": 4}

    points = ask(lot, **asked).json()["over_time"]

    assert [point["on"] for point in points] == [
        "2026-01-01",
        "2026-01-11",
        "2026-01-21",
        "2026-01-31",
    ]
    for point in points:
        assert point["low_percent"] <= point["median_percent"] <= point["high_percent"]
    medians = [point["median_percent"] for point in points]
    assert medians == sorted(medians, reverse=True)


def test_it_is_told_from_storage_on_for_ten_years_unless_asked_otherwise(ask, lot):
    points = ask(lot).json()["over_time"]

    assert len(points) == 41
    assert (points[0]["on"], points[-1]["on"]) == ("2025-10-01", "2036-03-01")


def test_no_day_is_told_twice(ask, lot):
    points = ask(lot, **{"from": "2026-01-01", "until": "2026-01-03", "points": 200}).json()

    assert [point["on"][-2:] for point in points["over_time"]] == ["01", "02", "03"]


def test_tests_are_points_with_exact_intervals(ask, lot, tested):
    # Clopper and Pearson 1934, by scipy's beta distribution: 90 of 100, 95 %.
    low, high = beta.ppf([0.025, 0.975], [90, 91], [11, 10])

    points = ask(lot).json()["tests"]

    assert points == [
        {
            "test": tested.pk,
            "on": "2025-11-09",
            "germinated": 90,
            "sown": 100,
            "percent": 90.0,
            "low_percent": round(100 * low, 2),
            "high_percent": round(100 * high, 2),
            "counts": True,
        }
    ]


def test_a_test_whose_dishes_disagree_is_shown_and_does_not_count(ask, lot, desk):
    untested = ask(lot).json()["today"]
    services.record_test(
        lot=lot,
        replicates=[{"seeds": 50, "normal": 49}, {"seeds": 50, "normal": 20}],
        started_on=dt.date(2025, 11, 1),
        closed_on=dt.date(2025, 11, 9),
        by=desk,
    )

    body = ask(lot).json()

    assert [point["counts"] for point in body["tests"]] == [False]
    assert body["today"] == untested
    assert body["retest"]["rule"] == "replicates_disagree"


def test_a_test_set_aside_is_no_point(ask, lot, tested, desk):
    services.void_test(test=tested, reason="mixed up", by=desk)

    assert ask(lot).json()["tests"] == []


def test_the_next_test_says_why(ask, lot, tested):
    date = lot.test_date

    retest = ask(lot).json()["retest"]

    assert retest == {
        "kind": "retest",
        "due_on": date.due_on.isoformat(),
        "rule": date.rule,
        "why": date.why,
        "inputs": date.inputs,
        "source": date.source,
    }
    assert "2026-" not in retest["why"]  # days are written out
    assert retest["inputs"]["tested_on"] == "2025-11-09"


def test_a_poor_lot_is_to_be_regrown(ask, lot, desk):
    services.record_test(
        lot=lot,
        replicates=[{"seeds": 50, "normal": 12}, {"seeds": 50, "normal": 14}],
        started_on=dt.date(2025, 11, 1),
        closed_on=dt.date(2025, 11, 9),
        by=desk,
    )

    regrow = ask(lot).json()["regrow"]

    assert (regrow["rule"], regrow["decided"]) == ("regrow_below_standard", "")
    assert regrow["why"] == lot.estimate.why_regrow
    assert regrow["inputs"] == lot.estimate.inputs


def test_storage_is_told_with_what_was_assumed_and_never_where(ask, lot, desk):
    shed = stock.add_storage_place(name="Shed at Mill Lane", kind="room", by=desk)
    stock.move_lot(lot=lot, storage_place=shed, on=dt.date(2025, 12, 1), by=desk)

    answer = ask(lot)

    storage = answer.json()["storage"]
    assert storage["stored_on"] == "2025-10-01"
    assert [(row["since"], row["until"]) for row in storage["stretches"]] == [
        ("2025-10-01", "2025-12-01"),
        ("2025-12-01", "2026-03-01"),
    ]
    assert [row["rule"] for row in storage["assumptions"]] == [
        "age_from_harvest",
        "storage_place_unknown",
        "moisture_assumed",
        "temperature_assumed",
    ]
    assert all(row["sentence"] and row["source"] for row in storage["assumptions"])
    assert b"Mill Lane" not in answer.content


def test_the_constants_are_those_of_the_species(ask, lot):
    kept = ViabilityConstants.objects.get(species=lot.variety.crop.species)

    longevity = ask(lot).json()["longevity"]

    assert longevity["known"] == "constants"
    assert [longevity[name] for name in ("ke", "cw", "ch", "cq")] == [
        kept.ke,
        kept.cw,
        kept.ch,
        kept.cq,
    ]
    assert longevity["source"] == kept.source


def test_what_nothing_predicts_says_so(ask, make_lot, make_variety):
    cloves = make_lot(make_variety(crop="garlic"), counted_as="clove")

    body = ask(cloves, on="2027-01-01").json()

    assert (body["predictable"], body["cannot"]["rule"]) == (False, "unpredicted_clonal")
    assert (body["today"], body["then"], body["over_time"]) == (None, None, [])
    assert (body["longevity"], body["falls_on"], body["regrow"]) == (None, None, None)


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"on": "2025-09-30"}, "on"),
        ({"on": "2076-03-02"}, "on"),
        ({"on": "9999-12-31"}, "on"),
        ({"on": "soon"}, "on"),
        ({"on": "2026-02-30"}, "on"),
        ({"from": "2025-09-30"}, "from"),
        ({"from": "x"}, "from"),
        ({"until": "2076-03-02"}, "until"),
        ({"until": "2025-09-30"}, "until"),
        ({"from": "2027-01-02", "until": "2027-01-01"}, "until"),
        ({"points": "1"}, "points"),
        ({"points": "201"}, "points"),
        ({"points": "many"}, "points"),
        ({"points": str(10**30)}, "points"),
    ],
)
def test_days_that_cannot_be_are_refused_at_their_field(ask, lot, asked, field):
    answer = ask(lot, **asked)

    assert (answer.status_code, answer.json()["field"]) == (400, field)
    assert answer.json()["detail"].endswith((".", "?"))


def test_a_day_before_storage_is_told_what_would_be_right(ask, lot):
    assert ask(lot, on="2025-09-30").json()["detail"] == (
        "30 September 2025 cannot be asked for; give a day from 1 October 2025, when its "
        "storage began, to 1 March 2076."
    )


@pytest.mark.parametrize("number", ["L999999-9", "nonsense", "1", "%00"])
def test_a_lot_that_is_not_there_is_not_found(api, db, number):
    assert api.get(f"/api/lots/{number}/viability/").status_code == 404


def test_it_is_read_like_the_catalogue(api, ask, lot, applicant, member):
    Community.objects.update_or_create(pk=1, defaults={"catalogue_is_public": False})

    stranger = ask(lot).status_code
    api.force_authenticate(applicant)
    hopeful = ask(lot).status_code
    api.force_authenticate(member)

    assert (stranger, hopeful, ask(lot).status_code) == (401, 404, 200)


def test_it_costs_the_same_with_one_test_and_with_six(ask, lot, tested, desk):
    def count() -> int:
        ask(lot)
        with CaptureQueriesContext(connection) as queries:
            assert ask(lot).status_code == 200
        return len(queries)

    with_one = count()
    for day in range(1, 6):
        services.record_test(
            lot=lot,
            replicates=DISHES,
            started_on=dt.date(2025, 12, day),
            closed_on=dt.date(2025, 12, day + 9),
            by=desk,
        )
        place = stock.add_storage_place(name=f"Shelf {day}", kind="room", by=desk)
        stock.move_lot(lot=lot, storage_place=place, on=dt.date(2026, 1, day), by=desk)

    assert count() == with_one
