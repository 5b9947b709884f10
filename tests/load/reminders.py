"""Reminders at network scale: planning, sending, and a calendar of 500 entries.

``python -m tests.load.reminders plan  [--lots N] [--due N] [--turns N]``
``python -m tests.load.reminders send  [--mails N] [--workers 1 2 4]``
``python -m tests.load.reminders feed  [--entries N] [--turns N]``

With ``DATABASE_URL=postgres://…`` on PostgreSQL, else on SQLite; either way on a database of
its own, gone afterwards.

``plan`` writes the reminders of ``--due`` retests among ``--lots`` lots for one coordinator,
in turns with a floor: the bare ``INSERT … SELECT`` of the same rows into a table of that shape.
Each turn is a process of its own, whose memory before and after is read. ``send`` has processes
sweep the outbox into a mail server on loopback that takes everything. ``feed`` reads a calendar
through the WSGI handler, and brings it up to date.
"""

from __future__ import annotations

import argparse
import asyncio
import datetime as dt
import multiprocessing
import os
import resource
import socket
import time
from statistics import median

from tests.load.stage import own_database, settle, spread

SPAWN = multiprocessing.get_context("spawn")
FORK = multiprocessing.get_context("fork")
CHUNK = 2_000
TODAY = dt.date.today()  # noqa: DTZ011
MB = 1024


def main() -> None:
    asked = _arguments()
    with own_database(os.environ.get("DATABASE_URL", "")) as url:
        {"plan": measure_planning, "send": measure_sending, "feed": measure_feed}[asked.what](
            url, asked
        )


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", choices=["plan", "send", "feed"])
    parser.add_argument("--lots", type=int, default=1_000_000)
    parser.add_argument("--due", type=int, default=20_000)
    parser.add_argument("--turns", type=int, default=5)
    parser.add_argument("--mails", type=int, default=10_000)
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2, 4])
    parser.add_argument("--entries", type=int, default=500)
    return parser.parse_args()


# Planning --------------------------------------------------------------------------------


def measure_planning(url: str, asked: argparse.Namespace) -> None:
    began = time.perf_counter()
    _fill_lots(asked.lots, asked.due)
    settle()
    print(
        f"{asked.lots:,} lots, {asked.due:,} due: filled in {time.perf_counter() - began:.0f} s"
    )
    ways = {
        "floor": _floor,
        "written down": _written_down,
        "and queued as mail": _queued,
        "planned again": _planned_again,
    }
    figures: dict[str, list[tuple[float, int, float]]] = {}
    for _turn in range(asked.turns):
        for name, way in ways.items():
            figures.setdefault(name, []).append(_in_a_process(way, url))
    floor = median(seconds for seconds, _n, _mb in figures["floor"])
    print("\n| what | rows | seconds | of the floor | more memory, MB |\n|---|--:|--:|--:|--:|")
    for name, turns in figures.items():
        seconds, rows, memory = zip(*turns, strict=True)
        ratio = median(seconds) / floor
        print(
            f"| {name} | {rows[0]:,} | {spread(list(seconds), 2)} | {ratio:.1f} "
            f"| {spread(list(memory))} |"
        )


def _fill_lots(lots: int, due: int) -> None:
    """Lots with a test date each, ``due`` of them within the lead time and the others in some
    eight years after it; one coordinator.
    """
    from django.db import connection, transaction

    from library.stock.models import Lot
    from tests.load import shelf

    shelf.fill_members(200)
    shelf.fill_members(1, role="coordinator")
    shelf.fill_lots(shelf.fill_varieties(100), lots=1, packets=0)
    first = Lot.objects.order_by("pk").first()
    own = ("id", "number", "identifier")
    columns = [f.column for f in Lot._meta.concrete_fields if f.column not in own]
    names = ", ".join(f'"{name}"' for name in columns)
    if connection.vendor == "postgresql":
        numbers = "SELECT n FROM generate_series(1, %s) AS s(n)"
        uuid, json = "gen_random_uuid()", "CAST('{}' AS jsonb)"
        day = "CAST(%s AS date) + CAST(id %% 3000 AS integer)"
        now: object = dt.datetime.now(dt.UTC)
    else:
        numbers = (
            "WITH RECURSIVE s(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM s WHERE n < %s)"
            " SELECT n FROM s"
        )
        uuid, json = "lower(hex(randomblob(16)))", "'{}'"
        day = "date(%s, '+' || (id %% 3000) || ' days')"
        now = str(dt.datetime.now(dt.UTC))
    with transaction.atomic(), connection.cursor() as cursor:
        # One lot a million times: planning reads no more of it than its key.
        cursor.execute(
            f"INSERT INTO stock_lot (number, identifier, {names})"  # noqa: S608
            f" SELECT 'X' || s.n, {uuid}, {names} FROM stock_lot, ({numbers}) s"
            f" WHERE stock_lot.id = {first.pk}",
            [lots - Lot.objects.count()],
        )
        cursor.execute(
            "INSERT INTO germination_testdate"  # noqa: S608
            " (lot_id, kind, due_on, rule, inputs, source, set_at)"
            f" SELECT id, 'retest', {day}, 'clonal_season', {json}, '', %s FROM stock_lot",
            [str(TODAY + dt.timedelta(days=30)), now],
        )
        cursor.execute(
            "UPDATE germination_testdate SET due_on = %s WHERE id %% %s = 0",
            [str(TODAY), lots // due],
        )


def _in_a_process(way, url: str) -> tuple[float, int, float]:
    """Seconds, rows, and how much its memory grew in MB."""
    mine, theirs = SPAWN.Pipe()
    process = SPAWN.Process(target=_measured, args=(way, url, theirs))
    process.start()
    answer = mine.recv()
    process.join()
    return answer


def _measured(way, url: str, pipe) -> None:
    from tests.load.stage import join_database

    join_database(url)
    from django.db import connection

    connection.ensure_connection()
    way(warm=True)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.perf_counter()
    rows = way()
    seconds = time.perf_counter() - began
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    pipe.send((seconds, rows, (after - before) / MB))


def _floor(*, warm: bool = False) -> int:
    """The same rows, keys and indexes, by one statement that checks nothing."""
    from django.db import connection

    from accounts.models import Member

    with connection.cursor() as cursor:
        if warm:
            _like_reminders(cursor)
            return 0
        coordinator = Member.objects.get(role="coordinator").pk
        cursor.execute(
            "INSERT INTO load_floor (recipient_id, kind, subject, due_on, title, detail, url,"
            " times_sent_again, planned_at) SELECT %s, 'retest', 'stock.Lot:' || lot_id,"
            " due_on, '', '', '', 0, %s FROM germination_testdate"
            " WHERE kind = 'retest' AND due_on <= %s",
            [coordinator, str(dt.datetime.now(dt.UTC)), str(TODAY + dt.timedelta(days=14))],
        )
        return cursor.rowcount


def _like_reminders(cursor) -> None:
    """An empty table with the columns, keys and indexes of the reminders."""
    from django.db import connection

    cursor.execute("DROP TABLE IF EXISTS load_floor")
    if connection.vendor == "postgresql":
        cursor.execute("CREATE TABLE load_floor (LIKE reminders_reminder INCLUDING ALL)")
        cursor.execute(
            "ALTER TABLE load_floor ADD FOREIGN KEY (recipient_id) REFERENCES accounts_member"
            " DEFERRABLE INITIALLY DEFERRED"
        )
        return
    found = cursor.execute(
        "SELECT sql FROM sqlite_master WHERE tbl_name = 'reminders_reminder' AND sql <> ''"
        " ORDER BY type DESC"
    ).fetchall()
    for (statement,) in found:
        named = statement.replace("reminders_reminder", "load_floor")
        for word in ("reminder_waiting", "reminder_once"):
            named = named.replace(word, f"load_{word}")
        cursor.execute(named)


def _written_down(*, warm: bool = False) -> int:
    """A reminder of everything that is due, for whoever it concerns."""
    from accounts.current import one_reading
    from library.outbox.models import Message
    from library.reminders.models import Reminder
    from library.reminders.services import write_down

    with one_reading():
        if warm:
            Reminder.objects.all().delete()
            Message.objects.all().delete()
            write_down(at=_noon(TODAY - dt.timedelta(days=900)))  # a server's modules are read
            return 0
        write_down(at=_noon(TODAY))
    return Reminder.objects.count()


def _queued(*, warm: bool = False) -> int:
    """A mail of each, that the turn before wrote down."""
    from library.reminders.queueing import queue_singles

    return 0 if warm else queue_singles(_noon(TODAY))


def _planned_again(*, warm: bool = False) -> int:
    """Everything is planned already: what each later hour of the day costs."""
    from library.reminders.services import plan_reminders

    if warm:
        return plan_reminders(on=TODAY - dt.timedelta(days=900))
    return plan_reminders(on=TODAY)


def _noon(day: dt.date) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(12), tzinfo=dt.UTC)


# Sending ---------------------------------------------------------------------------------


def measure_sending(url: str, asked: argparse.Namespace) -> None:
    from django.db import connections

    from library.outbox.models import Message

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    sink = FORK.Process(target=_sink, args=(port,), daemon=True)
    sink.start()
    print("\n| workers | mails/s | of one |\n|--:|--:|--:|")
    alone = 0.0
    for workers in asked.workers:
        Message.objects.all().delete()
        Message.objects.bulk_create(
            (
                Message(
                    message_key=f"load:{number}",
                    to=f"member-{number}@example.org",
                    subject="Seed of Ember Fan is due",
                    text="Bring it, and how it went.\n" * 20,
                )
                for number in range(asked.mails)
            ),
            CHUNK,
        )
        connections.close_all()
        seconds = _swept(url, port, workers)
        sent = Message.objects.filter(sent_at__isnull=False, attempts=1).count()
        assert sent == asked.mails, f"{sent} of {asked.mails} were sent at the first attempt"
        rate = asked.mails / seconds
        alone = alone or rate
        print(f"| {workers} | {rate:.0f} | {rate / alone:.2f} |", flush=True)
    sink.terminate()


def _swept(url: str, port: int, workers: int) -> float:
    gate = SPAWN.Barrier(workers + 1)
    processes = [
        SPAWN.Process(target=_sweep, args=(url, port, gate, number))
        for number in range(workers)
    ]
    for process in processes:
        process.start()
    gate.wait(300)
    began = time.perf_counter()
    for process in processes:
        process.join()
    return time.perf_counter() - began


def _sweep(url: str, port: int, gate, number: int) -> None:
    from tests.load.stage import join_database

    os.environ["EMAIL_URL"] = f"smtp://127.0.0.1:{port}"
    join_database(url)
    from library.outbox import services

    gate.wait(300)
    services.sweep(worker=f"load-{number}")


def _sink(port: int) -> None:
    """A mail server that takes everything and keeps nothing, as cheaply as can be."""
    asyncio.run(_take_everything(port))


async def _take_everything(port: int) -> None:
    async def talk(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(b"220 sink\r\n")
        in_text = False
        while line := await reader.readline():
            if in_text:
                if line == b".\r\n":
                    in_text = False
                    writer.write(b"250 taken\r\n")
                continue
            verb = line[:4].upper()
            if verb == b"DATA":
                in_text = True
                writer.write(b"354 go on\r\n")
            elif verb == b"QUIT":
                writer.write(b"221 bye\r\n")
                break
            else:
                writer.write(b"250 yes\r\n")
        await writer.drain()
        writer.close()

    server = await asyncio.start_server(talk, "127.0.0.1", port)
    async with server:
        await server.serve_forever()


# A calendar ------------------------------------------------------------------------------


def measure_feed(url: str, asked: argparse.Namespace) -> None:
    from django.core.cache import cache
    from django.test import Client
    from django.urls import reverse
    from django.utils import timezone

    from library.calendars import wanted
    from library.calendars.services import bring_up_to_date, make_feed
    from library.hooks import DueItem
    from tests.load import shelf

    (member,) = shelf.fill_members(1)
    items = [
        DueItem(
            kind="loan",
            subject=f"lending.Loan:{number}",
            due_on=TODAY + dt.timedelta(days=number),
            remind_on=TODAY,
            title=f"Seed of Ember Fan {number} is due",
            url=f"/loans/{number}/",
            recipient_id=member.pk,
            detail="Ripe in the second year; a fortnight to thresh and dry it was added.",
        )
        for number in range(asked.entries)
    ]
    wanted.all_items = lambda *, until, member: items
    feed, secret = make_feed(member=member)
    address = reverse("calendar-file", args=[secret])
    client = Client(headers={"host": "localhost"})
    first = _timed(lambda: bring_up_to_date(feed=feed, now=timezone.now()))
    read, unchanged, compared = [], [], []
    for turn in range(asked.turns * 4):
        cache.clear()  # the limit of readings a minute is not what is measured
        answers: list = []
        read.append(_timed(lambda: answers.append(client.get(address))))  # noqa: B023
        known = {"If-None-Match": answers[0]["ETag"]}
        unchanged.append(_timed(lambda: client.get(address, headers=known)))  # noqa: B023
        later = timezone.now() + dt.timedelta(minutes=10 * (turn + 1))
        compared.append(_timed(lambda: bring_up_to_date(feed=feed, now=later)))  # noqa: B023
    size = len(answers[0].content) / 1024
    print(f"\n{asked.entries} entries, {size:.0f} kB. Milliseconds, median [least–most]:")
    print(
        f"written down the first time {first:.0f}; compared with what is due {spread(compared)}"
    )
    print(f"read {spread(read)}; asked whether it changed {spread(unchanged)}")


def _timed(do) -> float:
    began = time.perf_counter()
    do()
    return (time.perf_counter() - began) * 1000


if __name__ == "__main__":
    main()
