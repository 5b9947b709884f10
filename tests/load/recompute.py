"""How long it takes to compute all test days of a large library again, and in what memory.

``python -m tests.load.recompute [--lots N] [--tests N] [--rounds N]``

With ``DATABASE_URL=postgres://…`` on PostgreSQL, else on SQLite; either way on a database of
its own, gone afterwards. The lots are of all crops and of eleven harvests, lie in three places,
some were moved; each has its tests of two dishes. A round is ``manage.py recompute_dates
--again``, start of the process included, with one process and with two in turn. The very first
round, which writes every row anew, is not in the table; the others are what happens each night.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import random
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from tests.load.stage import own_database, settle, spread

HERE = Path(__file__).parents[2]
TODAY = dt.date.today()  # noqa: DTZ011
CHUNK = 2_000
DISH = 50


def main() -> None:
    asked = _arguments()
    with own_database(os.environ.get("DATABASE_URL", "")) as url:
        fill(asked.lots, asked.tests)
        settle()
        first = _round(url, 1)
        settle()
        rounds = {one: [_round(url, one) for _ in range(asked.rounds)] for one in (1, 2)}
    print(f"{asked.lots:,} lots with {asked.tests} tests each; first round {first[0]:.0f} s")
    print("\n| processes | seconds | CPU, s | most memory of one, MB |\n|--:|--:|--:|--:|")
    for processes, turns in rounds.items():
        columns = [spread(list(figures)) for figures in zip(*turns, strict=True)]
        print(f"| {processes} | {' | '.join(columns)} |")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lots", type=int, default=100_000)
    parser.add_argument("--tests", type=int, default=3, help="of each lot")
    parser.add_argument("--rounds", type=int, default=3, help="of each number of processes")
    return parser.parse_args()


def _round(url: str, processes: int) -> tuple[float, float, float]:
    """Seconds, seconds of CPU, and the most memory that any process held so far."""
    command = [sys.executable, str(HERE / "manage.py"), "recompute_dates", "--again"]
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(
        [*command, "--processes", str(processes)],
        check=True,
        capture_output=True,
        text=True,
        env=os.environ | {"DATABASE_URL": url},
    )
    seconds, after = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    print(f"{processes}: {seconds:.1f} s, {done.stdout.strip()}", file=sys.stderr, flush=True)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return seconds, cpu, after.ru_maxrss / 1024


# The library


def fill(lots: int, tests: int, *, varieties: int = 2_000) -> None:
    """So many lots, evenly of so many varieties."""
    from django.db import transaction

    from library.stock.models import StoragePlace
    from tests.load import shelf

    cards = shelf.fill_varieties(varieties)
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
            made = _lots(chance, cards, places, range(start, min(start + CHUNK, lots)))
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
