"""A drill: one of everything is written into a file, the library is emptied and comes back."""

from __future__ import annotations

import json
import shutil
import threading
import zipfile
from types import SimpleNamespace

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from library.errors import Conflict, Refused
from library.exchange.backup import writing
from library.exchange.backup.reading import check_backup, restore_backup
from library.exchange.backup.tables import digest_of
from library.exchange.backup.writing import MANIFEST, write_backup
from library.stock import services as stock
from library.stock.models import Lot, Movement
from tests.permissions.asking import everything
from tests.permissions.world import NOW, build

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def drill(django_db_setup, django_db_blocker, tmp_path_factory) -> SimpleNamespace:
    """A library with one of everything, its backup, and all its rows; then it is gone."""
    path = tmp_path_factory.mktemp("drill") / "library.backup"
    with (
        django_db_blocker.unblock(),
        time_machine.travel(NOW, tick=False),
        transaction.atomic(),
    ):
        world = build()
        write_backup(path, at=NOW)
        found = SimpleNamespace(path=path, rows=everything(), world=world)
        with pytest.raises(Conflict, match="empty one only"):
            restore_backup(path)
        assert everything() == found.rows
        transaction.set_rollback(True)
    return found


@pytest.fixture
def backup(drill):
    return drill.path


@pytest.fixture
def changed(backup, tmp_path):
    """``changed(name, change)`` is a copy of the backup with one of its files changed."""

    def change_in(name: str, change) -> object:
        path = tmp_path / "changed.backup"
        with zipfile.ZipFile(backup) as old, zipfile.ZipFile(path, "w") as new:
            for entry in old.namelist():
                content = old.read(entry)
                new.writestr(entry, change(content) if entry == name else content)
        return path

    return change_in


def test_everything_comes_back_and_goes_on(drill):
    filled = {label for label, rows in drill.rows.items() if rows}
    assert {"stock.Movement", "accounts.Member", "photos.Photo", "accounts.ApiToken"} <= filled
    assert not Lot.objects.exists()

    call_command("restore", drill.path)

    assert everything() == drill.rows
    call_command("verify_stock")
    # New rows get keys of their own, and the ledger is guarded.
    lot, desk = Lot.objects.get(pk=drill.world.lot.pk), drill.world.members["desk"]
    stock.discard(lot=lot, seeds=1, on=NOW.date(), by=desk, reason="mouse")
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE stock_movement SET loose_change = 7")


def test_what_is_restored_makes_the_same_backup_again(backup, tmp_path):
    restore_backup(backup)

    assert write_backup(tmp_path / "again.backup", at=NOW) == check_backup(backup)


def test_the_file_is_for_its_owner_only_and_never_half_there(tmp_path, monkeypatch):
    path = tmp_path / "library.backup"
    write_backup(path, at=NOW)
    assert path.stat().st_mode & 0o777 == 0o600
    with pytest.raises(Conflict, match="there already"):
        write_backup(path, at=NOW)

    def full_disk(*_):
        raise OSError("no space left")

    monkeypatch.setattr(writing, "_write_table", full_disk)
    with pytest.raises(CommandError, match="no space left"):
        call_command("backup", tmp_path / "second.backup")
    assert [file.name for file in tmp_path.iterdir()] == ["library.backup"]


@pytest.mark.parametrize(
    ("name", "change", "says"),
    [
        ("stock.movement.jsonl", lambda c: c.replace(b": 2000,", b": 9,"), "differs"),
        ("stock.lot.jsonl", lambda c: c.partition(b"\n")[2], "stock.lot” differs"),
        (MANIFEST, lambda c: b"{}", "not a backup"),
        (MANIFEST, lambda c: c.replace(b'"version": 1', b'"version": 99'), "form 99"),
        (MANIFEST, lambda c: b"[" * 100_000, "not a backup"),
    ],
)
def test_a_damaged_backup_is_refused_and_nothing_is_written(changed, name, change, says):
    path = changed(name, change)

    with pytest.raises(Refused, match=says):
        restore_backup(path)
    assert not Lot.objects.exists()


def test_a_backup_whose_ledger_was_forged_throughout_is_refused(changed):
    """Rows and list agree with each other, but the stock does not add up."""
    forged = changed(
        "stock.movement.jsonl",
        lambda c: c.replace(b'"loose_change": 2000', b'"loose_change": 2001'),
    )
    with zipfile.ZipFile(forged) as archive:
        lines = archive.read("stock.movement.jsonl").decode().splitlines(keepends=True)
        files = {name: archive.read(name) for name in archive.namelist()}
    told = json.loads(files[MANIFEST])
    told["tables"]["stock.movement"]["sha256"] = digest_of(lines).sha256
    with zipfile.ZipFile(forged, "w") as archive:
        for name, content in files.items():
            archive.writestr(name, json.dumps(told) if name == MANIFEST else content)

    with pytest.raises(Refused, match="does not add up"):
        restore_backup(forged)
    assert not Lot.objects.exists()


def test_a_backup_of_other_tables_names_a_migration(changed):
    def newer(content: bytes) -> bytes:
        told = json.loads(content)
        told["migrations"].append("stock.9999_after_us")
        return json.dumps(told).encode()

    path = changed(MANIFEST, newer)

    with pytest.raises(Refused, match="9999_after_us"):
        restore_backup(path)


def test_half_a_file_and_no_file_are_told(backup, tmp_path):
    half = tmp_path / "half.backup"
    half.write_bytes(backup.read_bytes()[:5000])

    for path, says in ((half, "not a whole backup"), (tmp_path / "none", "no file")):
        with pytest.raises(CommandError, match=says):
            call_command("restore", path, check=True)


def test_a_name_that_leads_out_of_the_archive_is_refused(backup, tmp_path):
    path = tmp_path / "outside.backup"
    shutil.copy(backup, path)
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("../../elsewhere", b"")

    with pytest.raises(Refused, match="does not hold the files"):
        check_backup(path)


@pytest.mark.django_db(transaction=True)
def test_what_is_written_meanwhile_is_in_no_part_of_it(tmp_path, monkeypatch):
    """The ledger is read after the lots: a movement between the two must not show."""
    with time_machine.travel(NOW, tick=False):
        world = build()
    lot, desk = Lot.objects.get(pk=world.lot.pk), world.members["desk"]

    def meanwhile() -> None:
        try:
            stock.discard(lot=lot, seeds=3, on=NOW.date(), by=desk, reason="mice")
        finally:
            connection.close()

    real = writing.lines_of

    def slowly(model):
        if model is Movement:
            writer = threading.Thread(target=meanwhile)
            writer.start()
            writer.join(10)
            assert not writer.is_alive()  # nobody waits for a backup
        return real(model)

    monkeypatch.setattr(writing, "lines_of", slowly)
    path = tmp_path / "library.backup"
    write_backup(path, at=NOW)
    assert Movement.objects.filter(reason="mice").exists()

    call_command("flush", interactive=False)
    restore_backup(path)  # refuses what does not add up
    assert not Movement.objects.filter(reason="mice").exists()
