"""How long a long list takes to come in, in what memory, and against what floor.

``python -m tests.load.cardbox [--rows N] [--kind varieties|lots]``

With ``DATABASE_URL=postgres://…`` on PostgreSQL, else on SQLite; on a database of its own. The
list is looked at, confirmed and written by the same functions that the background calls, and
undone. The floors: the file read by ``csv`` alone, and the rows that were written, read back
and written again into bare tables by bulk INSERTs.
"""

from __future__ import annotations

import argparse
import csv
import io
import os
import resource
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
    steps: list[tuple[str, float]] = []

    def timed(what: str, do: Callable[[], Any]) -> Any:
        began = time.perf_counter()
        done = do()
        steps.append((what, time.perf_counter() - began))
        return done

    def work() -> None:
        assert work_on(claim(card.pk, worker="load"))

    card = timed(
        "brought in",
        lambda: services.bring_in(kind=kind, file_name="l.csv", content=content, by=by),
    )
    services.choose_columns(
        card_import=card, by=by, fields=card.columns["fields"], day_first=True
    )
    timed("looked at", work)
    services.confirm(card_import=card, by=by, on=today())
    timed("written", work)
    fates = card.rows.by_fate()
    peak = memory()
    timed(
        "floor: bare csv", lambda: sum(1 for _row in csv.reader(io.StringIO(content.decode())))
    )
    timed("floor: the same rows by bulk INSERT", lambda: bulk(kind))
    print(f"{rows:,} {kind}, {len(content) / 1e6:.1f} MB: {fates}")
    for what, seconds in steps:
        print(f"{what}: {seconds:.2f} s, {rows / seconds:,.0f} rows/s")
    print(f"most memory: {peak:.0f} MB ({before:.0f} MB before the file was read)")


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
