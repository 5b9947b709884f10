"""Walking, measuring and showing chains in a library of a million lots, beside bare SQL.

``python -m tests.load.chains [--lots 1000000] [--repeats 7]``

With ``DATABASE_URL=postgres://…`` on PostgreSQL, else on SQLite; either way on a database of
its own, gone afterwards. The lots hang together in families of up to 17 generations, one lot in
ten poured together from two; besides them a chain of 50 lots and one of 1,000. Their rows are
written with the constraints and triggers on. Turn by turn: our function, then the same
recursive statement through a bare cursor; pages beside a view that does nothing.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import random
import statistics
import time
from collections.abc import Callable
from typing import Any

from tests.load.stage import own_database, settle, spread

FAMILY, GENERATIONS = 120, 17
FIRST_YEAR = 2009
CHUNK = 5_000
BARE = """
WITH RECURSIVE walked(child, parent, share) AS (
    SELECT child_id, parent_id, share FROM stock_lotparent WHERE child_id = %s
    UNION
    SELECT link.child_id, link.parent_id, link.share
    FROM stock_lotparent link JOIN walked ON link.child_id = walked.parent
)
SELECT child, parent, share FROM walked
"""
BARE_DOWN = """
WITH RECURSIVE walked(child, parent, share) AS (
    SELECT child_id, parent_id, share FROM stock_lotparent WHERE parent_id = %s
    UNION
    SELECT link.child_id, link.parent_id, link.share
    FROM stock_lotparent link JOIN walked ON link.parent_id = walked.child
)
SELECT child, parent, share FROM walked
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lots", type=int, default=1_000_000)
    parser.add_argument("--repeats", type=int, default=7)
    asked = parser.parse_args()
    with own_database(os.environ.get("DATABASE_URL", "")):
        began = time.perf_counter()
        fifty, thousand = _fill(asked.lots)
        settle()
        print(f"{asked.lots:,} lots made in {time.perf_counter() - began:.0f} s")
        _measure(fifty, thousand, asked.repeats)


def _fill(lots: int) -> tuple[str, str]:
    """Families of lots, then the two chains; the numbers of the two lots they lead to."""
    from library.catalogue.models import Variety
    from tests.load import shelf

    shelf.fill_varieties(500)
    varieties = list(Variety.objects.order_by("pk").values_list("pk", flat=True)[:500])
    chance = random.Random(4)
    writer = _Writer()
    while writer.lots < lots:
        _family(
            writer, chance, chance.choice(varieties), FAMILY, chance.randint(8, GENERATIONS)
        )
    fifty = _chain(writer, chance, varieties[0], 50)
    thousand = _chain(writer, chance, varieties[0], 1000)
    writer.finish()
    return fifty, thousand


class _Writer:
    """Gathers rows and writes them many at once."""

    def __init__(self) -> None:
        self.lots = 0
        self.rows: list[Any] = []
        self.links: list[Any] = []
        self.grown: list[Any] = []

    def lot(
        self, variety: int, year: int, parents: list[tuple[int, float]], plants: int
    ) -> int:
        from library.science.codes import lot_number
        from library.stock.models import Growing, Lot, LotParent

        self.lots += 1
        pk, day = self.lots, dt.date(year, 10, 1)
        origin = "deposit" if not parents else "bulk" if plants == 0 else "return"
        self.rows.append(
            Lot(
                pk=pk,
                number=lot_number(pk),
                variety_id=variety,
                origin=origin,
                harvest_year=year,
                received_on=day,
            )
        )
        self.links += [LotParent(child_id=pk, parent_id=p, share=s) for p, s in parents]
        if plants:
            self.grown.append(Growing(lot_id=pk, plants_gave_seed=plants))
        if len(self.rows) >= CHUNK:
            self.finish()
        return pk

    def finish(self) -> None:
        from django.db import transaction

        from library.stock.models import Growing, Lot, LotParent

        with transaction.atomic():
            Lot.objects.bulk_create(self.rows, batch_size=CHUNK)
            LotParent.objects.bulk_create(self.links, batch_size=CHUNK)
            Growing.objects.bulk_create(self.grown, batch_size=CHUNK)
        self.rows, self.links, self.grown = [], [], []


def _family(
    writer: _Writer, chance: random.Random, variety: int, lots: int, generations: int
) -> int:
    """So many lots over so many generations; each from one or two of the generation before."""
    before: list[int] = []
    last = 0
    for generation in range(generations):
        year, now = FIRST_YEAR + generation, []
        for _lot in range(max(1, lots // generations)):
            parents = chance.sample(before, min(len(before), chance.choice([1, 1, 2])))
            bulked = len(parents) == 2 and chance.random() < 0.2
            shares = [(pk, round(1 / len(parents), 6)) for pk in parents]
            last = writer.lot(variety, year, shares, 0 if bulked else chance.randint(4, 60))
            now.append(last)
        before = now
    return last


def _chain(writer: _Writer, chance: random.Random, variety: int, lots: int) -> str:
    """A lot with exactly so many lots before it: each parent is taken into somewhere."""
    from library.science.codes import lot_number

    width = max(1, lots // (GENERATIONS - 1))
    made: list[list[int]] = []
    for n in range(lots):
        generation = min(n // width, GENERATIONS - 2)
        if generation == len(made):
            made.append([])
        parents = [] if generation == 0 else _of(made[generation - 1], made, n, chance)
        shares = [(pk, round(1 / len(parents), 6)) for pk in parents]
        made[generation].append(
            writer.lot(variety, FIRST_YEAR + generation, shares, chance.randint(4, 60))
        )
    last = made[-1]
    unused = _without_children(made, writer)
    parents = sorted({*last, *unused})
    shares = [(pk, round(1 / len(parents), 6)) for pk in parents]
    return lot_number(writer.lot(variety, FIRST_YEAR + GENERATIONS, shares, 0))


def _of(before: list[int], made: list[list[int]], n: int, chance: random.Random) -> list[int]:
    return sorted({before[n % len(before)], chance.choice(before)})


def _without_children(made: list[list[int]], writer: _Writer) -> list[int]:
    parents = {link.parent_id for link in writer.links}
    return [pk for lots in made for pk in lots if pk not in parents]


# Measuring


def _turns(
    ours: Callable[[], Any], floor: Callable[[], Any], repeats: int
) -> tuple[list, list]:
    """Milliseconds of both, one after the other, after one turn that warms."""
    times: tuple[list[float], list[float]] = ([], [])
    for turn in range(repeats + 1):
        for which, do in enumerate((ours, floor)):
            began = time.perf_counter()
            do()
            if turn:
                times[which].append(1000 * (time.perf_counter() - began))
    return times


def _row(what: str, times: tuple[list[float], list[float]]) -> None:
    ratio = statistics.median(times[0]) / statistics.median(times[1])
    print(f"| {what} | {spread(times[0], 2)} | {spread(times[1], 2)} | {ratio:.1f} |")


def _bare(pk: int, statement: str = BARE) -> list[tuple]:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(statement, [pk])
        return cursor.fetchall()


def _measure(fifty: str, thousand: str, repeats: int) -> None:
    from library.provenance.chain import chain_up
    from library.provenance.measuring import measure
    from library.provenance.walking import ancestors_of, descendants_of
    from library.stock.models import Lot

    print("| what | ours, ms | floor, ms | ratio |\n|---|--:|--:|--:|")
    for number in (fifty, thousand):
        lot = Lot.objects.get(number=number)
        n = len(ancestors_of(lot).relatives)
        floor = lambda pk=lot.pk: _bare(pk)  # noqa: E731
        _row(f"ancestors, {n} lots", _turns(lambda lot=lot: ancestors_of(lot), floor, repeats))
        _row(f"chain read, {n} lots", _turns(lambda lot=lot: chain_up(lot), floor, repeats))
        chain = chain_up(lot)
        _row(f"measured, {n} lots", _turns(lambda c=chain: measure(c), floor, repeats))
    first = Lot.objects.get(pk=1)
    n = len(descendants_of(first).relatives)
    _row(
        f"descendants, {n} lots",
        _turns(lambda: descendants_of(first), lambda: _bare(first.pk, BARE_DOWN), repeats),
    )
    _pages({"50 lots": fifty, "1,000 lots": thousand}, repeats)


def _pages(lots: dict[str, str], repeats: int) -> None:
    """Whole responses, middleware included, beside a view that does nothing."""
    from django.test import Client
    from django.urls import reverse

    from tests.load import site

    client = Client(headers={"host": "localhost"})

    def get(address: str) -> None:
        answer = client.get(address)
        if answer.status_code != 200:
            raise RuntimeError(f"{address}: {answer.status_code}")
        b"".join(answer) if answer.streaming else answer.content

    names = ("lot", "lot-chain", "lot-chain-picture", "lot-chain-measures", "api-lot-prov")
    for name in names:
        if not _is_there(name):
            continue
        for label, number in lots.items():
            address = reverse(name, args=[number])
            times = _turns(lambda a=address: get(a), lambda: get(site.EMPTY), repeats)
            _row(f"{name}, {label}", times)
            if name == "lot-chain-picture":
                address += "?generations=all"
                times = _turns(lambda a=address: get(a), lambda: get(site.EMPTY), repeats)
                _row(f"{name} with all its lots, {label}", times)
    for address in ("/browse/", "/api/lots/"):
        _row(address, _turns(lambda a=address: get(a), lambda: get(site.EMPTY), repeats))


def _is_there(name: str) -> bool:
    from django.urls import NoReverseMatch, reverse

    try:
        return bool(reverse(name, args=["L00001-1"]))
    except NoReverseMatch:
        return False


if __name__ == "__main__":
    main()
