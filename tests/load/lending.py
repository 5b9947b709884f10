"""How fast packets are lent, beside plain SQL for the same loans.

``DATABASE_URL=postgres://… python -m tests.load.lending [--packets N] [--repeats N]``

It makes a database of its own beside the one named, and drops it. The service and two floors
(see ``floor``) take turns in the same run on the same shelf, with 1, 4 and 16 clients: as
processes, like the web server's workers, and as threads, which share one interpreter lock.
After each turn the loans are counted against the packets; at the end sixteen people reach for
each of forty packets, and the whole ledger is added up.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import sys
import threading
import time
from collections.abc import Callable
from statistics import median
from typing import Any

from tests.load import floor
from tests.load.floor import LENT
from tests.load.stage import own_database, settle, spread

VARIETIES, LOTS, PACKETS, MEMBERS = 1_000, 2, 2, 200
CLIENTS = [(kind, clients) for kind in ("processes", "threads") for clients in (1, 4, 16)]
FLOORS = {"by hand": "by hand, prepared", "replay": "the same statements, prepared"}
WAYS = ("service", *FLOORS)
RUSHING, RUSHED_FOR = 16, 40
WARMING = 7  # loans that each client makes and takes back before the clock starts
PATIENCE_S = 180
FORK = multiprocessing.get_context("fork")
Job = tuple[int, int]  # a packet's key and a borrower's
Figures = dict[tuple[str, int, str], list[float]]


def main() -> None:
    asked = _arguments()
    with own_database(os.environ["DATABASE_URL"]) as url:
        _fill()
        jobs = _jobs(asked.packets, seed=1)
        recorded = _record(jobs)
        _print_statements(recorded[jobs[0]])
        figures = _measure(Library(url, recorded), jobs, asked.repeats)
        _print_table(figures)
        _rush()
        _verify_ledger()


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--packets", type=int, default=320, help="lent in one turn")
    parser.add_argument("--repeats", type=int, default=5, help="turns of each")
    asked = parser.parse_args()
    if not os.environ.get("DATABASE_URL", "").startswith("postgres"):
        parser.error("Name a PostgreSQL server in DATABASE_URL.")
    return asked


def _fill() -> None:
    from accounts.models import Community
    from library.germination.models import BenchRules
    from library.lending.models import LendingRules
    from tests.load import shelf

    for one_row in (Community, BenchRules, LendingRules):
        one_row.current()
    shelf.fill_members(MEMBERS)
    shelf.fill_lots(shelf.fill_varieties(VARIETIES), lots=LOTS, packets=PACKETS)
    settle()


def _jobs(how_many: int, *, seed: int) -> list[Job]:
    """Packets of many varieties, each for the next member: nobody comes to a limit."""
    from accounts.models import Member
    from library.stock.models import Packet

    dice = random.Random(seed)
    packets = dice.sample(sorted(Packet.objects.values_list("pk", flat=True)), how_many)
    members = sorted(Member.objects.values_list("pk", flat=True))
    return [(packet, members[n % len(members)]) for n, packet in enumerate(packets)]


def _record(jobs: list[Job]) -> dict[Job, list[floor.Statement]]:
    """What the service sends for each loan, from a loan that is taken back at once."""
    from django.db import connection, transaction

    recorded = {}
    for job in jobs:
        sent: list[floor.Statement] = []

        def listen(execute, sql, params, many, context, sent=sent):
            sent.append((sql, params and tuple(params)))
            return execute(sql, params, many, context)

        with transaction.atomic(), connection.execute_wrapper(listen):
            _lend(*_people_and_packets([job])[0])
            transaction.set_rollback(True)
        # The first two fetch packet and member. Then comes the savepoint that stands here
        # for the service's BEGIN, and the last stands for its COMMIT.
        recorded[job] = sent[3:-1]
    return recorded


# What is measured ------------------------------------------------------------------------


class Library:
    """The three ways to lend; each is called with a client's share and the starting gate."""

    def __init__(self, url: str, recorded: dict[Job, list[floor.Statement]]) -> None:
        self.url = url
        self.recorded = recorded

    def lend(self, way: str, share: list[Job], gate: Any) -> None:
        if way == "service":
            self._by_service(share, gate)
        elif way == "by hand":
            self._by_sql(
                share, gate, lambda c, job: floor.by_hand(c, packet=job[0], member=job[1])
            )
        else:
            self._by_sql(share, gate, lambda c, job: floor.replay(c, self.recorded[job]))

    def _by_service(self, share: list[Job], gate: Any) -> None:
        from django.db import connections, transaction

        work = _people_and_packets(share)
        for _ in range(WARMING):
            with transaction.atomic():
                _lend(*work[0])
                transaction.set_rollback(True)
        gate.wait(PATIENCE_S)
        for packet, member in work:
            _lend(packet, member)
        connections.close_all()

    def _by_sql(self, share: list[Job], gate: Any, lend: Callable) -> None:
        import psycopg

        with psycopg.connect(self.url, autocommit=True) as connection:
            for _ in range(WARMING):
                with connection.transaction(force_rollback=True):
                    lend(connection, share[0])
            gate.wait(PATIENCE_S)
            for job in share:
                with connection.transaction():
                    lend(connection, job)


def _people_and_packets(share: list[Job]) -> list[tuple]:
    """As a view has them before it calls the service."""
    from accounts.models import Member
    from library.stock.models import Packet

    packets = Packet.objects.in_bulk([packet for packet, _ in share])
    members = Member.objects.in_bulk([member for _, member in share])
    return [(packets[packet], members[member]) for packet, member in share]


def _lend(packet: Any, member: Any) -> None:
    from library.lending.services import lend_packet

    lend_packet(packet=packet, borrower=member, on=LENT, by=member)


def _measure(library: Library, jobs: list[Job], repeats: int) -> Figures:
    """Loans per second of each way with each number of clients, turn by turn."""
    figures: Figures = {}
    for turn in range(repeats):
        for kind, clients in CLIENTS:
            for way in WAYS if turn % 2 else reversed(WAYS):
                seconds = _turn(library, way, kind, [jobs[n::clients] for n in range(clients)])
                _count(jobs)
                _bring_back()
                figures.setdefault((kind, clients, way), []).append(len(jobs) / seconds)
    return figures


def _turn(library: Library, way: str, kind: str, shares: list[list[Job]]) -> float:
    """Seconds from when all clients are ready until all have lent their share."""
    from django.db import connections

    connections.close_all()  # a connection cannot be shared with a forked process
    of_kind, with_gate = {
        "threads": (threading.Thread, threading.Barrier),
        "processes": (FORK.Process, FORK.Barrier),
    }[kind]
    gate = with_gate(len(shares) + 1)
    clients = [of_kind(target=library.lend, args=(way, share, gate)) for share in shares]
    for client in clients:
        client.start()
    gate.wait(PATIENCE_S)
    begun = time.perf_counter()
    for client in clients:
        client.join(PATIENCE_S)
    return time.perf_counter() - begun


# What must be true afterwards ------------------------------------------------------------


def _count(jobs: list[Job]) -> None:
    """As many open loans, with their event, as packets, and just those gone from the shelf."""
    from library.lending.models import Loan
    from library.stock.models import Packet

    wanted = sorted(packet for packet, _ in jobs)
    lent = sorted(Loan.objects.open().values_list("packet", flat=True))
    gone = sorted(Packet.objects.filter(state="lent").values_list("pk", flat=True))
    events = Loan.objects.open().filter(events__what="lent").count()
    if not wanted == lent == gone or events != len(wanted):
        sys.exit(f"{len(wanted)} packets, {len(lent)} loans, {len(gone)} gone from the shelf.")


def _bring_back() -> None:
    """Everything that is out comes back unopened, in bulk; the ledger keeps its lines."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(
            """INSERT INTO stock_movement (lot_id, packet_id, kind, loose_change,
                   packed_change, "on", reason, recorded_at)
               SELECT lot_id, id, 'taken_back', 0, seeds, '2026-02-02', '', now()
               FROM stock_packet WHERE state = 'lent'"""
        )
        cursor.execute(
            """UPDATE stock_lot SET packed = packed + back.seeds
               FROM (SELECT lot_id, sum(seeds) AS seeds FROM stock_packet
                     WHERE state = 'lent' GROUP BY lot_id) back
               WHERE stock_lot.id = back.lot_id"""
        )
        cursor.execute("UPDATE stock_packet SET state = 'on_shelf' WHERE state = 'lent'")
        cursor.execute(
            """UPDATE lending_loan SET closed_on = '2026-02-02', outcome = 'taken_back'
               WHERE closed_on IS NULL"""
        )
    settle()


def _rush() -> None:
    """Sixteen clients come to each of forty packets together, each for another member."""
    from accounts.models import Member

    packets = [packet for packet, _ in _jobs(RUSHED_FOR, seed=4)]
    members = sorted(Member.objects.values_list("pk", flat=True))
    gate, answers = threading.Barrier(RUSHING), []

    def client(place: int) -> None:
        people = [members[(place * RUSHED_FOR + n) % len(members)] for n in range(RUSHED_FOR)]
        answers.extend(_reach(list(zip(packets, people, strict=True)), gate))

    threads = [threading.Thread(target=client, args=(place,)) for place in range(RUSHING)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE_S)
    _count([(packet, 0) for packet in packets])
    lent, taken = answers.count("lent"), answers.count("Conflict")
    print(
        f"\n{RUSHING} clients reached for each of {RUSHED_FOR} packets: {lent} loans, "
        f"{taken} refused as taken, {len(answers) - lent - taken} anything else."
    )


def _reach(jobs: list[Job], gate: threading.Barrier) -> list[str]:
    """What a client was told, packet by packet."""
    from django.db import connections

    from library.errors import Refused

    answers = []
    for packet, member in _people_and_packets(jobs):
        gate.wait(PATIENCE_S)
        try:
            _lend(packet, member)
            answers.append("lent")
        except Refused as refusal:
            answers.append(type(refusal).__name__)
    connections.close_all()
    return answers


def _verify_ledger() -> None:
    from django.core.management import call_command

    call_command("verify_stock")


# What is printed -------------------------------------------------------------------------


def _print_statements(statements: list[floor.Statement]) -> None:
    print(f"One loan: BEGIN, {len(statements)} statements, COMMIT", flush=True)
    for number, (sql, _params) in enumerate(statements, 1):
        print(f"{number:3}. {_short(sql)}")


def _short(sql: str) -> str:
    """What is done to which table."""
    bare = sql.replace('"', "")
    verb = bare.partition(" ")[0]
    table = bare.partition(" FROM ")[2] if verb == "SELECT" else bare.partition(" ")[2]
    lock = " … FOR NO KEY UPDATE" if "FOR NO KEY UPDATE" in bare else ""
    return f"{verb} {' '.join(table.split()[:2])}".split(" WHERE")[0].split(" INNER")[0] + lock


def _print_table(figures: Figures) -> None:
    print(f"\n| clients | service, loans/s | {' | '.join(FLOORS.values())} | ratios |")
    print("|---|---|---|---|---|")
    for kind, clients in CLIENTS:
        row = {way: figures[kind, clients, way] for way in WAYS}
        ratios = [f"{_ratio(row, way):.2f}" for way in FLOORS]
        cells = [f"{clients} {kind}", *(spread(row[way]) for way in WAYS), " / ".join(ratios)]
        print(f"| {' | '.join(cells)} |")


def _ratio(row: dict[str, list[float]], way: str) -> float:
    """The median of the turns' ratios: each turn stands beside its own floor."""
    return median(ours / base for ours, base in zip(row["service"], row[way], strict=True))


if __name__ == "__main__":
    main()
