"""How fast the browse page is, beside a view that does nothing behind the same middleware.

``python -m tests.load.browse [--varieties N] [--repeats N] [--seconds S]``

With ``DATABASE_URL=postgres://…`` on PostgreSQL, else on SQLite; either way on a database of
its own, gone afterwards. Both pages take turns in the same run: (a) through the WSGI
application in this process, (b) through gunicorn with two sync workers on loopback, where
``wrk`` is installed (Debian's package), with sixteen connections; it shares the cores with the
server.
"""

from __future__ import annotations

import argparse
import io
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from statistics import median

from tests.load.stage import own_database, settle, spread

WORKERS, CONNECTIONS = 2, 16
LOTS, PACKETS = 4, 2
PAGE = 50
AIM = 200
Figures = dict[tuple[str, str], list[float]]


def main() -> None:
    asked = _arguments()
    with own_database(os.environ.get("DATABASE_URL", "")):
        cookie = _fill(asked.varieties)
        pages = _pages(asked.varieties, cookie)
        _print_queries(pages)
        figures: Figures = {}
        for _turn in range(asked.repeats):
            for name, (address, headers) in pages.items():
                rate = _in_process(address, headers, asked.seconds)
                figures.setdefault(("in process", name), []).append(rate)
        _serve(pages, asked, figures)
        _print_table(figures)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--varieties", type=int, default=5_000)
    parser.add_argument("--repeats", type=int, default=5, help="turns of each")
    parser.add_argument("--seconds", type=int, default=4, help="length of a turn")
    return parser.parse_args()


def _fill(varieties: int) -> str:
    """The cookie of a member who is signed in."""
    from django.conf import settings
    from django.test import Client

    from tests.load import shelf

    member, *_ = shelf.fill_members(40)
    shelf.fill_lots(shelf.fill_varieties(varieties), lots=LOTS, packets=PACKETS)
    settle()
    client = Client()
    client.force_login(member)
    return client.cookies[settings.SESSION_COOKIE_NAME].OutputString().partition(";")[0]


def _pages(varieties: int, cookie: str) -> dict[str, tuple[str, dict[str, str]]]:
    """By name an address, and the headers it is asked with."""
    from django.urls import reverse

    from tests.load.site import EMPTY

    browse = reverse("browse")
    middle = f"{browse}?page={varieties // PAGE // 2}"
    member = {"Cookie": cookie}
    return {
        "empty": (EMPTY, {}),
        "browse": (browse, {}),
        "browse, middle page": (middle, {}),
        "empty, signed in": (EMPTY, member),
        "browse, signed in": (middle, member),
    }


# In this process -------------------------------------------------------------------------


def _in_process(address: str, headers: dict[str, str], seconds: float) -> float:
    """Pages per second of one thread, without a server or a socket."""
    ask = _asking(address, headers)
    ask()
    pages, begun = 0, time.perf_counter()
    while (taken := time.perf_counter() - begun) < seconds:
        ask()
        pages += 1
    return pages / taken


def _asking(address: str, headers: dict[str, str]) -> Callable[[], bytes]:
    from tests.load.site import application

    path, _, query = address.partition("?")
    environ = {
        "REQUEST_METHOD": "GET",
        "PATH_INFO": path,
        "QUERY_STRING": query,
        "SERVER_NAME": "127.0.0.1",
        "SERVER_PORT": "80",
        "wsgi.url_scheme": "http",
        **{f"HTTP_{name.upper()}": value for name, value in headers.items()},
    }

    def ask() -> bytes:
        told: list[str] = []
        body = application(
            environ | {"wsgi.input": io.BytesIO(), "wsgi.errors": sys.stderr},
            lambda status, headers, exc_info=None: told.append(status),
        )
        content = b"".join(body)
        body.close()
        if told != ["200 OK"]:
            sys.exit(f"{address} answered {told}.")
        return content

    return ask


def _print_queries(pages: dict) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    for name, (address, headers) in pages.items():
        ask = _asking(address, headers)
        ask()
        with CaptureQueriesContext(connection) as seen:
            content = ask()
        rows = content.count(b'<th scope="row">')
        print(f"{name}: {len(seen)} queries, {rows} rows, {len(content) / 1024:.0f} KiB")


# Through a server ------------------------------------------------------------------------


def _serve(pages: dict, asked: argparse.Namespace, figures: Figures) -> None:
    if not shutil.which("wrk"):
        print("wrk is not installed, so gunicorn is not measured.")
        return
    with _gunicorn() as port:
        for address, headers in pages.values():  # every worker warm
            _wrk(port, address, headers, seconds=1)
        for _turn in range(asked.repeats):
            for name, (address, headers) in pages.items():
                rate = _wrk(port, address, headers, asked.seconds)
                figures.setdefault((f"gunicorn, {WORKERS} workers", name), []).append(rate)


@contextmanager
def _gunicorn() -> Iterator[int]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "gunicorn", "tests.load.site:application"]
    command += [
        "--bind",
        f"127.0.0.1:{port}",
        "--workers",
        str(WORKERS),
        "--log-level",
        "error",
    ]
    server = subprocess.Popen(command)
    try:
        _wait_for(port)
        yield port
    finally:
        server.terminate()
        server.wait(30)


def _wait_for(port: int) -> None:
    for _ in range(300):
        try:
            connection = HTTPConnection("127.0.0.1", port, timeout=30)
            connection.request("GET", "/healthz")
            connection.getresponse().read()
            return
        except OSError:
            time.sleep(0.1)
    sys.exit("gunicorn did not start.")


def _wrk(port: int, address: str, headers: dict[str, str], seconds: int) -> float:
    """Pages per second; ends the run when any answer was not a page."""
    command = ["wrk", "-t1", f"-c{CONNECTIONS}", f"-d{seconds}s"]
    for name, value in headers.items():
        command += ["-H", f"{name}: {value}"]
    command.append(f"http://127.0.0.1:{port}{address}")
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    if "Non-2xx" in told or "Socket errors" in told:
        sys.exit(told)
    (line,) = (line for line in told.splitlines() if line.startswith("Requests/sec"))
    return float(line.split()[1])


def _print_table(figures: Figures) -> None:
    print("\n| how | page | pages/s | of the empty view |\n|---|---|---|---|")
    for (how, name), rates in figures.items():
        empty = figures[how, "empty, signed in" if "signed in" in name else "empty"]
        ratio = median(ours / base for ours, base in zip(rates, empty, strict=True))
        print(f"| {how} | {name} | {spread(rates)} | {ratio:.2f} |")
    slowest = min(
        (median(rates) for (how, name), rates in figures.items() if how.startswith("gunicorn")),
        default=0,
    )
    print(f"\nSlowest median through gunicorn: {slowest:.0f} pages/s (aim: {AIM})")


if __name__ == "__main__":
    main()
