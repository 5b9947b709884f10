"""How long it takes to rank a large library by what is at risk, beside the bare SQL.

``python -m tests.load.risk [--varieties N] [--lots N] [--tests N] [--rounds N]``

With ``DATABASE_URL=postgres://…`` on PostgreSQL, else on SQLite; either way on a database of
its own, gone afterwards. The lots are those of ``tests.load.recompute``: of eleven harvests, in
three places, some moved, each with tests of two dishes; every tenth variety has a promise. The
first ranking works out every lot's posterior; the others find it remembered, as all do but the
first after a night. The bare SQL reads the same rows into plain tuples and does nothing more.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import time
from collections.abc import Callable

from tests.load.stage import own_database, settle, spread

TODAY = dt.date.today()  # noqa: DTZ011
BARE = (
    "SELECT v.*, c.*, s.* FROM catalogue_variety v JOIN catalogue_crop c ON c.id = v.crop_id "
    "JOIN catalogue_species s ON s.id = c.species_id",
    "SELECT l.*, e.* FROM stock_lot l LEFT JOIN germination_lotestimate e ON e.lot_id = l.id "
    "WHERE l.loose > 0 OR l.packed > 0",
    "SELECT m.*, u.display_name FROM growouts_commitment m "
    "JOIN accounts_member u ON u.id = m.grower_id WHERE m.state = 'accepted'",
    "SELECT * FROM growouts_elsewhere",
    "SELECT * FROM stock_storageplace",
    "SELECT p.lot_id, count(*) FROM lending_loan n JOIN stock_packet p ON p.id = n.packet_id "
    "WHERE n.closed_on IS NULL GROUP BY p.lot_id",
)
OF_EACH_LOT = (
    "SELECT * FROM stock_keeping",
    "SELECT t.lot_id, t.id, t.closed_on, r.normal, r.seeds FROM germination_replicate r "
    "JOIN germination_germinationtest t ON t.id = r.test_id WHERE t.state = 'closed' "
    "ORDER BY t.closed_on, t.id, r.number",
)


def main() -> None:
    asked = _arguments()
    with own_database(os.environ.get("DATABASE_URL", "")):
        _fill(asked)
        settle()
        _measure(asked)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--varieties", type=int, default=5_000)
    parser.add_argument("--lots", type=int, default=20_000)
    parser.add_argument("--tests", type=int, default=2, help="of each lot")
    parser.add_argument("--rounds", type=int, default=5)
    return parser.parse_args()


def _fill(asked: argparse.Namespace) -> None:
    from django.core.management import call_command

    from library.catalogue.models import Variety
    from library.growouts.models import Commitment, Season
    from tests.load import recompute, shelf

    recompute.fill(asked.lots, asked.tests, varieties=asked.varieties)
    call_command("recompute_dates", again=True, verbosity=0)
    growers = shelf.fill_members(max(1, asked.varieties // 50))
    season = Season.objects.create(year=TODAY.year, opened_by=None)
    Commitment.objects.bulk_create(
        Commitment(
            season=season,
            variety=variety,
            grower=growers[number % len(growers)],
            state="accepted",
            plants=20,
            answer_by=TODAY,
        )
        for number, variety in enumerate(Variety.objects.order_by("pk")[::10])
    )


def _measure(asked: argparse.Namespace) -> None:
    from django.core.cache import cache

    from library.growouts.risk import at_risk

    cold, warm = [], []
    for _round in range(asked.rounds):
        cache.clear()
        cold.append(_seconds(lambda: at_risk(on=TODAY)))
        warm.append(_seconds(lambda: at_risk(on=TODAY)))
    bare = [_seconds(lambda: _read(BARE)) for _round in range(asked.rounds)]
    whole = [_seconds(lambda: _read(BARE + OF_EACH_LOT)) for _round in range(asked.rounds)]
    print(f"{asked.varieties:,} varieties, {asked.lots:,} lots with {asked.tests} tests each")
    print("\n| what | seconds, median [least–most] |\n|:--|--:|")
    print(f"| ranked, nothing remembered | {spread(cold, 2)} |")
    print(f"| bare SQL of the same rows | {spread(whole, 2)} |")
    print(f"| ranked again | {spread(warm, 2)} |")
    print(f"| bare SQL of the same rows | {spread(bare, 2)} |")


def _seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def _read(statements: tuple[str, ...]) -> None:
    from django.db import connection

    for statement in statements:
        with connection.cursor() as cursor:
            cursor.execute(statement)
            cursor.fetchall()


if __name__ == "__main__":
    main()
