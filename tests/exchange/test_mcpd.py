"""Lots as passport descriptors: the file, its rows, and what never stands in it."""

from __future__ import annotations

import csv
import datetime as dt
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.services import save_community
from library.catalogue.services import edit_variety
from library.exchange.mcpd import writing
from library.exchange.mcpd.fields import NAMES
from library.exchange.mcpd.rules import problems_of_file
from library.stock import services as stock
from library.stock.models import Lot
from tests.exchange.conftest import STORY

ADDRESS = reverse("api-mcpd")


@pytest.fixture
def table(api):
    """``table(crop="tomato")``: the rows of the file, which keeps the format's rules."""

    def get(**asked) -> list[dict[str, str]]:
        answer = api.get(ADDRESS, asked)
        assert answer.status_code == 200, answer.content
        reader = csv.DictReader(io.StringIO(answer.getvalue().decode(), newline=""))
        rows = list(reader)
        assert problems_of_file(reader.fieldnames, rows) == []
        return rows

    return get


@pytest.fixture
def row(table):
    """The one row of the file."""

    def get(**asked) -> dict[str, str]:
        [only] = table(**asked)
        return only

    return get


def known(row: dict[str, str]) -> dict[str, str]:
    return {name: value for name, value in row.items() if value}


def test_a_plain_deposit_says_what_is_known_and_no_more(row, make_lot, variety, community):
    lot = make_lot(variety, on=dt.date(2024, 3, 9), harvest_year=2023, source_name="Old Tam")

    assert known(row()) == {
        "PUID": f"urn:uuid:{lot.identifier}",
        "ACCENUMB": lot.number,
        "GENUS": "Phaseolus",
        "SPECIES": "vulgaris",
        "CROPNAME": "drying bean",
        "ACCENAME": "Tarn Kettle",
        "ACQDATE": "20240309",
        "DONORNAME": "Old Tam",
        "STORAGE": "10",
        "REMARKS": "INSTCODE:Tarn Hollow Seed Library;ACQDATE:harvest of 2023;"
        "SAMPSTAT:open-pollinated",
    }


def test_a_german_reader_gets_the_same_file(api, make_lot, variety):
    make_lot(variety)
    file = api.get(ADDRESS).getvalue()

    assert b",drying bean," in file
    assert api.get(ADDRESS, headers={"Accept-Language": "de"}).getvalue() == file


def test_it_is_a_file_with_the_41_names(api, db):
    answer = api.get(ADDRESS)

    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert answer["Content-Disposition"] == 'attachment; filename="mcpd.csv"'
    assert answer.getvalue().decode() == ",".join(NAMES) + "\r\n"


@pytest.mark.parametrize(
    ("status", "card", "code"),
    [
        ("landrace", {}, "300"),
        ("f1", {}, "412"),
        ("segregating", {"generation": 3}, "415"),
        ("stabilised", {}, "500"),
        ("open-pollinated", {}, ""),
    ],
)
def test_sampstat_is_its_breeding_status(row, make_variety, make_lot, status, card, code):
    make_lot(make_variety(breeding_status=status, **card))

    found = row()

    assert found["SAMPSTAT"] == code
    assert ("SAMPSTAT:F3" in found["REMARKS"]) == (status == "segregating")


@pytest.mark.parametrize(
    ("kind", "temperature", "code"),
    [
        ("freezer", "-18", "13"),
        ("freezer", "-15", "13"),
        ("freezer", "-14.9", "12"),
        ("refrigerator", "5", "12"),
        ("refrigerator", "10", "12"),
        ("cupboard", "10.1", "11"),
        ("cupboard", None, "10"),
    ],
)
def test_storage_is_where_it_lies(row, make_lot, coordinator, kind, temperature, code):
    place = stock.add_storage_place(
        name="There", kind=kind, temperature_c=temperature, by=coordinator
    )
    make_lot(storage_place=place)

    assert row()["STORAGE"] == code


def test_a_jar_and_packets_in_two_places_are_two_codes(row, make_lot, coordinator, desk):
    cold, warm = (
        stock.add_storage_place(name=name, kind=kind, temperature_c=degrees, by=coordinator)
        for name, kind, degrees in [("Chest", "freezer", -18), ("Case", "cupboard", 18)]
    )
    lot = make_lot(storage_place=cold)
    stock.pack(
        lot=lot, packets=2, seeds_each=20, storage_place=warm, on=lot.received_on, by=desk
    )

    assert row()["STORAGE"] == "11;13"


def test_of_a_lot_that_is_used_up_no_storage_is_said(row, make_lot, desk):
    lot = make_lot(seeds=20)
    stock.discard(lot=lot, seeds=20, reason="mould", on=lot.received_on, by=desk)

    found = row()

    assert found["STORAGE"] == ""
    assert "STORAGE:nothing of it is left" in found["REMARKS"]


def test_plant_parts_are_no_seed_collection(row, make_variety, make_lot):
    make_lot(make_variety(crop="potato", breeding_status="clone"))

    found = row()

    assert found["STORAGE"] == "99"
    assert "STORAGE:kept as tuber" in found["REMARKS"]


def test_the_chain_is_told_as_pedigree(table, chain_of_all):
    rows = {found["ACCENUMB"]: found for found in table()}

    lots = {lot.number: lot for lot in Lot.objects.kept_here()}
    assert set(rows) == set(lots)  # and not the lot of another library
    part = next(lot for lot in lots.values() if lot.source_name)
    children = part.child_links.get().child, chain_of_all
    assert rows[part.number]["ANCEST"] == "part of FC-7 of Ford Common Seeds"
    assert rows[part.number]["OTHERNUMB"] == ":FC-7"
    assert rows[children[0].number]["ANCEST"] == f"grown from {part.number}"
    [first, second] = [
        link.parent.number for link in chain_of_all.parent_links.order_by("share")
    ]
    assert rows[chain_of_all.number]["ANCEST"] == (
        f"bulked from {second} 66.6667 %, {first} 33.3333 %"
    )


def test_the_donor_is_who_agreed_to_be_named_else_the_library_it_came_from(
    table, make_lot, variety, chain_of_all
):
    elsewhere = Lot.objects.get(origin="elsewhere")
    make_lot(variety, part_of=elsewhere, on=dt.date(2020, 2, 1))

    donors = {(found["DONORNAME"], found["DONORNUMB"]) for found in table(origin="deposit")}

    assert donors == {("Old Tam", ""), ("Ford Common Seeds", "FC-7"), ("", "")}


def test_all_its_names_stand_with_an_initial_capital(row, make_variety, make_lot, desk):
    variety = make_variety("tarn Kettle", crop="drying bean")
    edit_variety(variety=variety, by=desk, changes={"synonyms": ["aunt's bean; the old one"]})
    make_lot(variety)

    assert row()["ACCENAME"] == "Tarn Kettle;Aunt's bean, the old one"


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "＝", "＠"])
def test_nothing_in_it_is_calculated_by_a_spreadsheet(
    table, make_variety, make_lot, desk, sign
):
    variety = make_variety(f"{sign}cmd|' /C calc'!A0", crop="drying bean")
    edit_variety(variety=variety, by=desk, changes={"synonyms": [f"{sign}2+5", "Plain"]})
    make_lot(variety, source_name=f"{sign}HYPERLINK(1)", origin_region=f"{sign}1")

    [found] = table()

    cells = [part for value in found.values() for part in value.split(";")]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "＝", "＠"))]
    assert {f"'{sign}2+5", "Plain"} < set(found["ACCENAME"].split(";"))


def test_nothing_private_stands_in_it(table, chain_of_all, make_lot, variety):
    make_lot(variety, origin_story=STORY, source_name="ada.rook@example.org")

    text = "\n".join(",".join(found.values()) for found in table())

    secrets = ["@", "example.org", "54.40", "3.10", "7946", "mill", "Mill", "key", "Giver"]
    assert [secret for secret in secrets if secret in text] == []
    assert "Rook" not in text  # who grew it has no field
    assert "COLLSITE:Lower Beck, near [left out]" in text


@pytest.mark.parametrize(
    ("asked", "numbers"),
    [
        ({}, {0, 1}),
        ({"on_shelf": "true"}, {1}),
        ({"crop": "tomato"}, {1}),
        ({"harvest_year": "2021"}, {0}),
        ({"origin": "elsewhere"}, set()),
    ],
)
def test_it_is_asked_as_the_list_of_lots(table, make_lot, variety, asked, numbers):
    lots = [make_lot(variety, harvest_year=2021), make_lot(packets=2)]

    assert {found["ACCENUMB"] for found in table(**asked)} == {lots[n].number for n in numbers}


def test_a_question_that_cannot_be_is_refused_in_json(api, db):
    answer = api.get(ADDRESS, {"harvest_year": "old"}, headers={"Accept": "text/csv"})

    assert (answer.status_code, answer["Content-Type"]) == (400, "application/json")
    assert answer.json()["field"] == "harvest_year"


def test_where_the_catalogue_is_kept_to_members_an_outsider_gets_nothing(
    api, make_lot, administrator, member
):
    make_lot()
    save_community(by=administrator, catalogue_is_public=False)

    assert api.get(ADDRESS).status_code == 401
    api.force_authenticate(member)
    assert api.get(ADDRESS).getvalue().count(b"\r\n") == 2


def test_the_queries_of_a_part_are_the_same_for_few_and_many(
    table, make_lot, variety, community, monkeypatch
):
    monkeypatch.setattr(writing, "AT_ONCE", 6)
    counts = []
    for more in (1, 5):  # one lot, then six, a whole part
        for _ in range(more):
            make_lot(variety, packets=1)
        with CaptureQueriesContext(connection) as queries:
            rows = table()
        counts.append((len(rows), len(queries)))
    assert counts == [(1, counts[0][1]), (6, counts[0][1])]


def test_the_parts_make_one_file(table, make_lot, variety, monkeypatch):
    monkeypatch.setattr(writing, "AT_ONCE", 2)
    numbers = [make_lot(variety).number for _ in range(5)]

    assert [found["ACCENUMB"] for found in table()] == numbers
