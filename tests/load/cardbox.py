"""How long a long list takes to come in, in what memory, and against what floor.

``python -m tests.load.cardbox [--rows N] [--kind varieties|lots]``

With ``DATABASE_URL=postgres://…`` on PostgreSQL, else on SQLite; on a database of its own. The
list is looked at, confirmed and written by the same functions that the background calls. While
that goes on, another thread reads a page and saves a setting again and again; a fifth of the
way through the writing the import is stopped, and then goes on. The floors: the file read by
``csv`` alone, and the rows that were written, read back and written again into bare tables by
bulk INSERTs.
"""

from __future__ import annotations

import argparse
import csv
import io
import os
import resource
import statistics
import threading
import time
from collections.abc import Callable
from typing import Any

from tests.load.stage import own_database


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rows", type=int, default=50_000)
    parser.add_argument("--kind", choices=["varieties", "lots"], default="varieties")
    asked = parser.parse_args()
    with own_database(os.environ.get("DATABASE_URL", "")):
        measure(asked.kind, asked.rows)


def measure(kind: str, rows: int) -> None:
    from accounts.services import make_member
    from library.cardbox import services
    from library.cardbox.running import claim, work_on

    by = make_member(email="a@example.org", display_name="Swan", role="administrator")
    content = {"varieties": varieties_of, "lots": lots_of}[kind](rows, by)
    before = memory()

    def timed(what: str, do: Callable[[], Any]) -> Any:
        began = time.perf_counter()
        done = do()
        took = time.perf_counter() - began
        print(f"{what}: {took:.2f} s, at most {memory():.0f} MB so far", flush=True)
        return done

    def work(to_its_end: bool = True) -> None:
        assert work_on(claim(card.pk, worker="load")) is to_its_end

    card = timed(
        "brought in",
        lambda: services.bring_in(kind=kind, file_name="l.csv", content=content, by=by),
    )
    services.choose_columns(
        card_import=card, by=by, fields=card.columns["fields"], day_first=True
    )
    with Others(by) as looking:
        timed("looked at", work)
    services.confirm(card_import=card, by=by, on=today())
    stopping: list[float] = []
    with Others(by) as writing:
        threading.Thread(target=stop_at, args=[card, rows // 5, by, stopping]).start()
        timed("written until it was stopped", lambda: work(to_its_end=False))
        stopped = time.perf_counter() - stopping[0]
        there = card.rows.by_fate()["written"]
        services.confirm(card_import=card, by=by, on=today())
        timed(f"written from row {there:,} on", work)
    fates = card.rows.by_fate()
    peak = memory()
    timed(
        "floor: bare csv", lambda: sum(1 for _row in csv.reader(io.StringIO(content.decode())))
    )
    timed("floor: the same rows by bulk INSERT", lambda: bulk(kind))
    print(f"{rows:,} {kind}, {len(content) / 1e6:.1f} MB: {fates}")
    print(f"stopped {stopped:.2f} s after it was asked")
    print(f"others while it is looked at: {looking}")
    print(f"others while it is written: {writing}")
    print(f"most memory: {peak:.0f} MB ({before:.0f} MB before the file was read)")


class Others:
    """Somebody else in the same process, who reads a page and saves a setting."""

    def __init__(self, by: Any) -> None:
        self.by = by
        self.took: dict[str, list[float]] = {"a page": [], "a write": []}
        self.over = threading.Event()
        self.thread = threading.Thread(target=self._go_on)

    def __enter__(self) -> Others:
        from django.test import Client

        Client(SERVER_NAME="localhost").get("/browse/")  # the first loads templates
        self.thread.start()
        return self

    def __exit__(self, *raised: object) -> None:
        self.over.set()
        self.thread.join()

    def _go_on(self) -> None:
        from django.db import connections
        from django.test import Client

        from library.germination.services import save_bench_rules

        client = Client(SERVER_NAME="localhost")
        while not self.over.wait(0.5):
            self._time("a page", lambda: client.get("/browse/"))
            self._time("a write", lambda: save_bench_rules(by=self.by, hold_until_tested=True))
        connections.close_all()

    def _time(self, what: str, do: Callable[[], Any]) -> None:
        began = time.perf_counter()
        do()
        self.took[what].append(1000 * (time.perf_counter() - began))

    def __str__(self) -> str:
        return "; ".join(
            f"{what} {statistics.median(all_):.0f} ms, at most {max(all_):.0f} (of {len(all_)})"
            for what, all_ in self.took.items()
            if all_
        )


def stop_at(card: Any, row: int, by: Any, asked: list[float]) -> None:
    """Ask the import to stop once so many rows are written."""
    from django.db import connections

    from library.cardbox import services

    while card.rows.filter(fate="written").count() < row:
        time.sleep(0.2)
    services.stop(card_import=card, by=by)
    asked.append(time.perf_counter())
    connections.close_all()


def today():
    from django.utils import timezone

    return timezone.localdate()


def memory() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def varieties_of(rows: int, by: Any) -> bytes:
    crops = ["tomato", "leek", "carrot", "drying bean", "kale"]
    lines = [
        f"{crops[n % 5]},Row {n:06} of {n * 7919 % 99991:05},{60 + n % 40}" for n in range(rows)
    ]
    return ("Crop,Variety,Days\n" + "\n".join(lines) + "\n").encode()


def lots_of(rows: int, by: Any) -> bytes:
    from library.catalogue.models import Crop
    from library.catalogue.services import add_variety

    tomato = Crop.objects.get(name="tomato")
    for n in range(500):
        add_variety(crop=tomato, name=f"Line {n:03}", breeding_status="open-pollinated", by=by)
    lines = [f"K{n},Line {n % 500:03},{50 + n % 400},{2000 + n % 25}" for n in range(rows)]
    return ("No,Variety,Seeds,Year\n" + "\n".join(lines) + "\n").encode()


def bulk(kind: str) -> None:
    """The rows that the import wrote, taken out and written again by bulk INSERTs alone."""
    from django.db import connection, transaction

    from library.catalogue.models import Variety, VarietyName
    from library.stock.models import Keeping, Lot, Movement

    tables: list[Any] = [Variety, VarietyName]
    if kind == "lots":
        tables = [Lot, Keeping, Movement]
    with transaction.atomic(), connection.cursor() as cursor:
        for model in tables:
            rows = list(model._base_manager.order_by("pk"))
            name = model._meta.db_table
            # The names are our own models'.
            copy = f'CREATE TEMPORARY TABLE "copy_{name}" AS SELECT * FROM "{name}" LIMIT 0'  # noqa: S608
            cursor.execute(copy)
            columns = [field.column for field in model._meta.concrete_fields]
            values = [
                [
                    field.get_db_prep_save(getattr(row, field.attname), connection)
                    for field in model._meta.concrete_fields
                ]
                for row in rows
            ]
            marks = ", ".join(["%s"] * len(columns))
            names = ", ".join(f'"{column}"' for column in columns)
            again = f'INSERT INTO "copy_{name}" ({names}) VALUES ({marks})'  # noqa: S608
            cursor.executemany(again, values)
        transaction.set_rollback(True)


if __name__ == "__main__":
    main()
