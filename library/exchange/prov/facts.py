"""Reading one fact of a record: its type, its length, its range; else a problem on its line."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils.translation import gettext as _

from library.exchange.prov.document import Document, Record, short
from library.exchange.prov.vocabulary import PROV, SOWBACK

MOST_PLANTS = 1_000_000_000


class Facts:
    """The facts of one record. Whatever is wrong is noted; then the answer is empty or None."""

    def __init__(self, document: Document, record: Record, whose: str) -> None:
        self._document = document
        self._record = record
        self._whose = whose

    def wrong(self, name: str, sentence: str) -> None:
        line = self._record.line_of(_full(name))
        words = {"whose": self._whose, "sentence": sentence}
        self._document.wrong(line, _("%(whose)s: %(sentence)s") % words)

    def one(self, name: str, *, needed: bool = False) -> Any:
        values = [v for v in self._record.facts.get(_full(name), []) if v is not None]
        if len(values) > 1:
            self.wrong(name, _("“%(name)s” is given several times; give one.") % {"name": name})
            return None
        if needed and not values:
            self.wrong(name, _("“%(name)s” is missing.") % {"name": name})
        return values[0] if values else None

    def text(self, name: str, *, most: int, needed: bool = False) -> str:
        value = self.one(name, needed=needed)
        if value is None:
            return ""
        if not isinstance(value, str):
            self.wrong(name, _("“%(name)s” must be text.") % {"name": name})
            return ""
        value = value.strip()
        if needed and not value:
            self.wrong(name, _("“%(name)s” is empty.") % {"name": name})
        if len(value) > most:
            words = {"name": name, "n": len(value), "most": most}
            self.wrong(
                name, _("“%(name)s” has %(n)s characters; at most %(most)s fit.") % words
            )
            return ""
        if not _can_be_kept(value):
            self.wrong(
                name, _("“%(name)s” has a character that cannot be kept.") % {"name": name}
            )
            return ""
        return value

    def choice(self, name: str, known: Iterable[str], *, needed: bool = False) -> str:
        value = self.text(name, most=200, needed=needed)
        if value and value not in (known := list(known)):
            self.wrong(
                name,
                _("“%(value)s” is not a value of “%(name)s”; it is one of: %(known)s.")
                % {"value": short(value), "name": name, "known": ", ".join(known)},
            )
            return ""
        return value

    def whole(self, name: str, *, least: int = 0, most: int = MOST_PLANTS) -> int | None:
        value = self.one(name)
        if value is None:
            return None
        number = _whole(value)
        if number is None:
            self.wrong(name, _("“%(name)s” must be a whole number.") % {"name": name})
        elif not least <= number <= most:
            words = {"name": name, "least": least, "most": most, "n": number}
            self.wrong(
                name, _("“%(name)s” is %(n)s; it must be from %(least)s to %(most)s.") % words
            )
            number = None
        return number

    def day(self, name: str, *, latest: dt.date) -> dt.date | None:
        value = self.one(name, needed=True)
        if value is None:
            return None
        try:
            day = dt.date.fromisoformat(value)
        except (TypeError, ValueError):
            self.wrong(name, _("“%(name)s” must be a day such as 2024-09-30.") % {"name": name})
            return None
        if day.year < 1900:
            self.wrong(name, _("“%(name)s” is before 1900.") % {"name": name})
            return None
        if day > latest:
            words = {"name": name, "day": day.isoformat(), "latest": latest.isoformat()}
            self.wrong(
                name,
                _("“%(name)s” is %(day)s, still to come; give a day up to %(latest)s.") % words,
            )
            return None
        return day

    def share(self, name: str) -> Decimal | None:
        value = self.one(name, needed=True)
        if value is None:
            return None
        try:
            share = Decimal(str(value))
        except InvalidOperation:
            share = Decimal("NaN")
        if isinstance(value, bool) or not share.is_finite() or not 0 < share <= 1:
            self.wrong(name, _("“%(name)s” must be a part of 1, such as 0.5.") % {"name": name})
            return None
        return share


def _full(name: str) -> str:
    return PROV + name.removeprefix("prov:") if name.startswith("prov:") else SOWBACK + name


def _whole(value: Any) -> int | None:
    if isinstance(value, bool):
        return None
    if isinstance(value, int):
        return value
    text = value.strip() if isinstance(value, str) else ""
    digits = text.removeprefix("-")
    return int(text) if digits.isascii() and digits.isdigit() and len(digits) < 12 else None


def _can_be_kept(text: str) -> bool:
    """PostgreSQL keeps no NUL, and half a surrogate pair is no character at all."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return "\x00" not in text
