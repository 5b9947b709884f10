"""A mail server that misbehaves on purpose, with dice that can be thrown again."""

from __future__ import annotations

import asyncio
import email
import random
import re
import threading
from collections import Counter, defaultdict
from email import policy

from aiosmtpd.controller import Controller

WAYS = {
    "takes it": 60,
    "takes it late": 10,
    "busy at the address": 8,
    "busy after the text": 8,
    "no conversation": 6,
    "takes it and hangs up": 8,
}
UNKNOWN = "550 5.1.1 no such mailbox"


class RoughMail:
    """Keeps what it takes by address, and says in how many ways it misbehaved.

    "takes it and hangs up" is the one that nobody can tell from a loss: the text arrived, and
    the connection is cut before the answer. The sender has to send it again.
    """

    def __init__(self, port: int, seed: int) -> None:
        self.dice = random.Random(seed)
        self.ways = dict(WAYS)
        self.did: Counter[str] = Counter()
        self.letters: dict[str, list] = defaultdict(list)
        self.unknown: set[str] = set()
        self.lock = threading.Lock()
        self.server = Controller(self, hostname="127.0.0.1", port=port)
        self.port = port

    def start(self) -> None:
        self.server.start()

    def stop(self) -> None:
        self.server.stop()

    def be_kind(self) -> None:
        self.ways = {"takes it": 1}

    def _way(self) -> str:
        (way,) = self.dice.choices(list(self.ways), list(self.ways.values()))
        self.did[way] += 1
        return way

    async def handle_MAIL(self, server, session, envelope, address, options):
        session.way = self._way()
        if session.way == "no conversation":
            return "421 4.3.2 not now"
        envelope.mail_from = address
        return "250 OK"

    async def handle_RCPT(self, server, session, envelope, address, options):
        if address in self.unknown:
            return UNKNOWN
        if session.way == "busy at the address":
            return "450 4.2.1 busy"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        if session.way == "busy after the text":
            return "451 4.3.0 try later"
        if session.way == "takes it late":
            await asyncio.sleep(self.dice.uniform(0.2, 1.5))
        letter = email.message_from_bytes(envelope.content, policy=policy.default)
        with self.lock:
            for address in envelope.rcpt_tos:
                self.letters[address].append(letter)
        if session.way == "takes it and hangs up":
            server.transport.abort()
        return "250 OK"

    def letters_to(self, address: str, words: str) -> list:
        """What came to the address with these words in its text."""
        with self.lock:
            kept = list(self.letters[address])
        alone = re.compile(rf"(?<!\w){re.escape(words)}(?!\w)")  # 9 May is not 19 May
        return [letter for letter in kept if alone.search(_text(letter))]


def _text(letter) -> str:
    body = letter.get_body(("plain",))
    return " ".join(body.get_content().split()) if body else ""
