"""How long all estimates and test days of a large library take to compute again, and in what
memory.

``python -m tests.load.recompute [--lots N] [--tests N] [--rounds N]``

With ``DATABASE_URL=postgres://…`` on PostgreSQL, else on SQLite; either way on a database of
its own, gone afterwards. The lots are of all crops and of ten harvests, lie in three places,
some were moved; each has its tests of two dishes. Each round is a process of its own, as the
command is, and computes another day: the first writes every row anew, the later ones are what
happens each night.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import random
import resource
import subprocess
import sys
import time
from collections.abc import Iterator

from tests.load.stage import join_database, own_database, settle

TODAY = dt.date(2026, 11, 20)
CHUNK = 2_000
DISH = 50


def main() -> None:
    asked = _arguments()
    if asked.round_of:
        return _round(asked.round_of, TODAY + dt.timedelta(days=asked.day))
    with own_database(os.environ.get("DATABASE_URL", "")) as url:
        _fill(asked.lots, asked.tests)
        settle()
        print("| round | seconds | lots/s | CPU, s | peak, MB | at a tenth, MB | moved |")
        print("|---|--:|--:|--:|--:|--:|--:|")
        for day in range(asked.rounds):
            row = _in_a_process(url, day)
            print(f"| {day + 1} | {' | '.join(row)} |", flush=True)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lots", type=int, default=100_000)
    parser.add_argument("--tests", type=int, default=3, help="of each lot")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--round-of", default="", help=argparse.SUPPRESS)
    parser.add_argument("--day", type=int, default=0, help=argparse.SUPPRESS)
    return parser.parse_args()


def _in_a_process(url: str, day: int) -> list[str]:
    command = [sys.executable, "-m", "tests.load.recompute", "--round-of", url]
    done = subprocess.run(
        [*command, "--day", str(day)], check=True, capture_output=True, text=True
    )
    found = json.loads(done.stdout)
    rate = found["lots"] / found["seconds"]
    return [
        f"{found['seconds']:.1f}",
        f"{rate:.0f}",
        f"{found['cpu']:.1f}",
        f"{found['peak']:.0f}",
        f"{found['early']:.0f}",
        f"{found['moved']}",
    ]


def _round(url: str, on: dt.date) -> None:
    join_database(url)
    from library.germination.recompute import Recomputed, recompute

    early: list[float] = []

    def watch(so_far: Recomputed) -> None:
        if so_far.lots >= so_far.total / 10 and not early:
            early.append(_peak())

    began = time.perf_counter()
    done = recompute(on=on, progress=watch)
    found = {
        "lots": done.lots,
        "moved": done.moved,
        "seconds": time.perf_counter() - began,
        "cpu": time.process_time(),
        "peak": _peak(),
        "early": early[0],
    }
    print(json.dumps(found))


def _peak() -> float:
    """The most memory that this process ever held, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


# The library


def _fill(lots: int, tests: int) -> None:
    from django.db import transaction

    from library.stock.models import StoragePlace
    from tests.load import shelf

    varieties = shelf.fill_varieties(2_000)
    places = [
        StoragePlace.objects.create(name=name, kind=kind, temperature_c=warmth)
        for name, kind, warmth in (
            ("Cupboard", "cupboard", None),
            ("Fridge", "refrigerator", 5),
            ("Freezer", "freezer", -18),
        )
    ]
    chance = random.Random(1)
    for start in range(0, lots, CHUNK):
        with transaction.atomic():
            made = _lots(chance, varieties, places, range(start, min(start + CHUNK, lots)))
            _tests(chance, made, tests)


def _lots(chance: random.Random, varieties, places, numbers: range):
    from library.science.codes import lot_number
    from library.stock.models import Keeping, Lot

    rows = []
    for number in numbers:
        year = 2014 + number % 11
        rows.append(
            Lot(
                number=lot_number(number + 1),
                variety=varieties[number % len(varieties)],
                origin="deposit",
                harvest_year=year,
                received_on=dt.date(year, 11, 1) + dt.timedelta(days=number % 60),
                loose=500,
                storage_place=chance.choice(places),
            )
        )
    made = Lot.objects.bulk_create(rows, CHUNK)
    Keeping.objects.bulk_create(_keepings(chance, made, places), CHUNK)
    return made


def _keepings(chance: random.Random, lots, places) -> Iterator:
    from library.stock.models import Keeping

    for lot in lots:
        yield Keeping(lot=lot, storage_place=places[0], since=lot.received_on)
        if lot.storage_place != places[0]:
            since = lot.received_on + dt.timedelta(days=chance.randrange(300))
            yield Keeping(lot=lot, storage_place=lot.storage_place, since=since)


def _tests(chance: random.Random, lots, tests: int) -> None:
    from library.germination.models import GerminationTest, Replicate

    made = GerminationTest.objects.bulk_create(
        (
            GerminationTest(lot=lot, state="running", started_on=day, closed_on=day)
            for lot in lots
            for day in _test_days(chance, lot, tests)
        ),
        CHUNK,
    )
    Replicate.objects.bulk_create(
        (
            Replicate(
                test=test,
                number=dish,
                seeds=DISH,
                normal=chance.randint(30, 49),
                counted_on=test.closed_on,
            )
            for test in made
            for dish in (1, 2)
        ),
        CHUNK,
    )
    GerminationTest.objects.filter(pk__in=[test.pk for test in made]).update(state="closed")


def _test_days(chance: random.Random, lot, tests: int) -> list[dt.date]:
    until = (TODAY - lot.received_on).days
    return sorted(
        lot.received_on + dt.timedelta(days=chance.randrange(until)) for _ in range(tests)
    )


if __name__ == "__main__":
    main()
