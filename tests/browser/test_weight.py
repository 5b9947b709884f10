"""What a first visit costs over the wire, from the server and the packing of real use."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest

from library.config.management.commands.serve import take_port, web_server

MOST_BYTES = 150_000


@pytest.fixture
def served(transactional_db, settings) -> Iterator[str]:
    """The address of what ``serve`` serves, with the test's database behind it."""
    settings.ALLOWED_HOSTS = ["127.0.0.1"]
    door = take_port("127.0.0.1", 0)
    server = web_server(door)
    thread = threading.Thread(target=server.run)
    thread.start()
    yield f"http://127.0.0.1:{door.getsockname()[1]}"
    server.trigger.pull_trigger(server.close)  # in its own thread, which then has nothing to do
    thread.join(timeout=10)
    server.task_dispatcher.shutdown()
    assert not thread.is_alive()


class Scales:
    """Weighs whatever comes through a page, headers and all."""

    def __init__(self, page) -> None:
        self.weights: Counter[str] = Counter()
        self.hosts: set[str] = set()
        self._addresses: dict[str, str] = {}
        self._devtools = page.context.new_cdp_session(page)
        self._devtools.send("Network.enable")
        self._devtools.on("Network.requestWillBeSent", self._asked)
        self._devtools.on("Network.loadingFinished", self._came)

    def _asked(self, event: dict) -> None:
        address = urlsplit(event["request"]["url"])
        self.hosts.add(address.netloc)
        self._addresses[event["requestId"]] = address.path

    def _came(self, event: dict) -> None:
        self.weights[self._addresses[event["requestId"]]] += event["encodedDataLength"]


def test_a_first_visit_to_a_card_is_light_and_asks_nobody_else(
    browser, served, variety, make_lot, long_ago
):
    for _ in range(6):
        make_lot(variety, packets=2, on=long_ago, harvest_year=long_ago.year)
    page = browser.new_page(base_url=served)
    scales = Scales(page)

    page.goto(variety.get_absolute_url(), wait_until="networkidle")
    page.context.close()

    kinds = {path.rpartition(".")[2] for path in scales.weights if path.startswith("/static/")}
    assert {"css", "js", "svg"} <= kinds  # else not all of it was weighed
    assert sum(scales.weights.values()) < MOST_BYTES, scales.weights.most_common()
    assert scales.hosts == {urlsplit(served).netloc}
