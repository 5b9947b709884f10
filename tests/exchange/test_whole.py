"""The library's tables, and a member's own: complete, described, nobody's address in them."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import zipfile
from decimal import Decimal

import pytest
import time_machine
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from accounts.services import leave
from library.catalogue.services import write_note
from library.exchange.whole.own import write_own
from library.exchange.whole.tables import LEFT_OUT, TABLES
from library.exchange.whole.writing import write_library
from library.stock import services as stock
from library.stock.models import Lot
from tests.permissions.world import NOW, TODAY, build

pytestmark = pytest.mark.django_db
APPS = {"catalogue", "stock", "germination", "lending", "growouts", "provenance"}
# The types of Table Schema (Frictionless Data) as Python reads them.
READ_AS = {
    "integer": int,
    "number": Decimal,
    "string": str,
    "date": dt.date.fromisoformat,
    "datetime": dt.datetime.fromisoformat,
    "boolean": {"true": True, "false": False}.__getitem__,
}


@pytest.fixture(scope="module")
def world(django_db_setup, django_db_blocker):
    with (
        django_db_blocker.unblock(),
        time_machine.travel(NOW, tick=False),
        transaction.atomic(),
    ):
        yield build()
        transaction.set_rollback(True)


@pytest.fixture(autouse=True)
def _inside(world, db):
    """``world`` first: each test in a savepoint."""


def archive_of(write, **facts) -> zipfile.ZipFile:
    file = io.BytesIO()
    write(file, **facts)
    return zipfile.ZipFile(file)


@pytest.fixture
def archive():
    return archive_of(write_library, on=TODAY)


def rows_in(archive: zipfile.ZipFile, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(archive.read(f"csv/{name}.csv").decode())))


def package_of(archive: zipfile.ZipFile) -> dict:
    return json.loads(archive.read("datapackage.json"))


def test_every_table_is_as_its_description_says(archive):
    """Types, keys and links, as a reader of Table Schema would check them."""
    resources = package_of(archive)["resources"]
    assert len(resources) == len(TABLES)
    keys = {
        one["name"]: {row["id"] for row in rows_in(archive, one["name"])} for one in resources
    }
    for resource in resources:
        schema, rows = resource["schema"], rows_in(archive, resource["name"])
        assert len({row["id"] for row in rows}) == len(rows)
        for field in schema["fields"]:
            for row in rows:
                if row[field["name"]] != "":
                    READ_AS[field["type"]](row[field["name"]])
        for link in schema["foreignKeys"]:
            pointed = {row[link["fields"]] for row in rows} - {""}
            assert pointed <= keys[link["reference"]["resource"]], (resource["name"], link)


def test_json_tells_the_same_as_csv(archive):
    for table in TABLES:
        told = json.loads(archive.read(f"json/{table.name}.json"))
        rows = rows_in(archive, table.name)
        assert len(told) == len(rows) == table.rows().count()
        assert [str(one["id"]) for one in told] == [row["id"] for row in rows]


def test_each_table_of_the_database_is_exported_or_left_out_on_purpose():
    ours = {m._meta.label for m in apps.get_models() if m._meta.app_label in APPS}
    exported = {table.model._meta.label for table in TABLES}

    assert ours - exported == {name for name in LEFT_OUT if name.split(".")[0] in APPS}


def test_the_ledger_adds_up_from_the_files_alone(archive):
    """What a reader elsewhere would do: sum the movements and compare with the lots."""
    sums: dict[str, int] = {}
    for row in rows_in(archive, "movements"):
        change = int(row["loose_change"]) + int(row["packed_change"])
        sums[row["lot"]] = sums.get(row["lot"], 0) + change
    lots = rows_in(archive, "lots")

    assert {r["id"]: int(r["loose"]) + int(r["packed"]) for r in lots} == {
        r["id"]: sums.get(r["id"], 0) for r in lots
    }
    assert sum(sums.values()) > 1000


def test_nobody_can_be_reached_or_found_by_it(world):
    owner = world.members["owner"]
    write_note(
        variety=world.variety,
        by=owner,
        on=TODAY,
        year=2026,
        text="Ring 020 7946 0958 or write to wren@example.org; 54.40123, -3.10045.",
        readers="everyone",
    )
    archive = archive_of(write_library, on=TODAY)
    text = "\n".join(archive.read(name).decode() for name in archive.namelist())

    assert owner.display_name in text
    hidden = ["@example.org", "7946", "54.40123", "Mill Lane plot", "for me."]
    assert [secret for secret in hidden if secret in text] == []


@pytest.mark.parametrize("text", ["=1+1", "+44", "-2+3", "@ A1", "＝1"])
def test_a_spreadsheet_calculates_nothing(world, text):
    stock.discard(
        lot=Lot.objects.get(pk=world.lot.pk),
        seeds=1,
        on=TODAY,
        by=world.members["desk"],
        reason=text,
    )
    archive = archive_of(write_library, on=TODAY)

    assert rows_in(archive, "movements")[-1]["reason"] == f"'{text}"
    assert json.loads(archive.read("json/movements.json"))[-1]["reason"] == text
    negative = [r for r in rows_in(archive, "movements") if r["loose_change"].startswith("-")]
    assert negative  # numbers stay numbers


def test_a_members_archive_holds_their_part_and_nobody_elses(world):
    owner, other = world.members["owner"], world.members["other"]
    mine, theirs = (archive_of(write_own, member=m, on=TODAY) for m in (owner, other))

    assert {r["borrower"] for r in rows_in(mine, "loans")} == {str(owner.pk)}
    assert len(rows_in(mine, "loans")) >= 3
    assert rows_in(theirs, "loans") == []
    assert "for me." in mine.read("csv/notes.csv").decode()  # what only they read is theirs
    assert json.loads(mine.read("account.json"))["gardens"][0]["name"] == "Behind the church"
    held = world.kept_at_home.number
    assert json.loads(mine.read(f"chains/{held}.json"))["entity"]
    text = "\n".join(mine.read(name).decode("utf-8", "replace") for name in mine.namelist())
    assert other.email not in text


def test_a_member_who_left_is_a_number_and_their_lots_chains_stay_whole(world):
    owner = world.members["owner"]
    before = rows_in(archive_of(write_library, on=TODAY), "lot_parents")
    leave(member=owner, by=owner)
    archive = archive_of(write_library, on=TODAY)
    text = "\n".join(archive.read(name).decode() for name in archive.namelist())

    row = next(r for r in rows_in(archive, "members") if r["id"] == str(owner.pk))
    assert (row["name"], row["membership"]) == (f"former member {owner.pk}", "left")
    assert "wren" not in text
    assert rows_in(archive, "lot_parents") == before


def test_pages_and_command_give_the_same_tables(world, tmp_path, client):
    client.force_login(world.members["coordinator"])
    page = client.get("/library-data/file/")
    api = client.get("/api/library-data/")
    path = tmp_path / "tables.zip"
    call_command("export_library", path)
    with pytest.raises(CommandError, match="there already"):
        call_command("export_library", path)

    contents = [
        {name: archive.read(name) for name in archive.namelist() if "movements" in name}
        for archive in (
            zipfile.ZipFile(io.BytesIO(b"".join(page.streaming_content))),
            zipfile.ZipFile(io.BytesIO(b"".join(api.streaming_content))),
            zipfile.ZipFile(path),
        )
    ]
    assert contents[0] == contents[1] == contents[2]
    assert len(contents[0]) == 2
    assert page["Cache-Control"] == "no-store"


def test_as_many_questions_for_one_lot_as_for_many(world):
    def questions() -> int:
        with CaptureQueriesContext(connection) as asked:
            archive_of(write_library, on=TODAY)
        return len(asked)

    before = questions()
    for _ in range(6):
        stock.receive_lot(
            variety=world.variety, origin="deposit", seeds=5, on=TODAY, by=world.members["desk"]
        )
    assert questions() == before
