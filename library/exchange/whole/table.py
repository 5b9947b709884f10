"""What a table of the export is: its rows, its columns, and what each of them means."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from library.exchange.private import shown_name, without_private

AT_ONCE = 1000
Words = str | Promise
TEXT = "string"  # the words of Table Schema for what a column holds
WHOLE = "integer"
NUMBER = "number"
DAY = "date"
TIME = "datetime"
YES_NO = "boolean"


@dataclass(frozen=True)
class Column:
    """``of`` is where the value stands, as Django follows it; ``links`` the table it points to.

    ``written`` are words that somebody wrote: they go through ``without_private``. ``name`` is
    somebody's chosen name: it goes through ``shown_name``.
    """

    title: str
    kind: str
    meaning: Words
    of: str = ""
    links: str = ""
    written: bool = False
    chosen: bool = False

    @property
    def path(self) -> str:
        return self.of or self.title

    def value(self, kept: Any) -> Any:
        if self.written and kept:
            return without_private(str(kept))
        return shown_name(kept) if self.chosen and kept else kept


@dataclass(frozen=True)
class Table:
    """``rows`` are all of it, each read once; ``mine`` is how a member's own part is found."""

    name: str
    title: Words
    meaning: Words
    rows: Callable[[], QuerySet]
    columns: tuple[Column, ...]
    mine: tuple[str, ...] = ()

    @property
    def model(self) -> Any:
        return self.rows().model

    def rows_of(self, member: Any) -> QuerySet:
        """The part that concerns this member: what they did, hold, or are named in."""
        concerns = Q()
        for path in self.mine:
            concerns |= Q(**{path: member.pk})
        return self.rows().filter(concerns)

    def read(self, rows: QuerySet | None = None) -> Iterator[dict[str, Any]]:
        """A row at a time by column, ``AT_ONCE`` in memory, in the order in which they came."""
        rows = self.rows() if rows is None else rows
        paths = [column.path for column in self.columns]
        kept = rows.order_by("pk").values_list(*paths).iterator(chunk_size=AT_ONCE)
        for values in kept:
            yield {
                column.title: column.value(value)
                for column, value in zip(self.columns, values, strict=True)
            }


def key() -> Column:
    return Column("id", WHOLE, _("the row's key in this export"))


def link(title: str, table: str, meaning: Words, of: str = "") -> Column:
    """``of`` the field; the key is what is written."""
    return Column(title, WHOLE, meaning, of=f"{of or title}_id", links=table)


def member(title: str, meaning: Words) -> Column:
    return link(title, "members", meaning)


def text(title: str, meaning: Words, of: str = "") -> Column:
    return Column(title, TEXT, meaning, of=of)


def words(title: str, meaning: Words, of: str = "") -> Column:
    """What somebody wrote."""
    return Column(title, TEXT, meaning, of=of, written=True)


def whole(title: str, meaning: Words, of: str = "") -> Column:
    return Column(title, WHOLE, meaning, of=of)


def number(title: str, meaning: Words, of: str = "") -> Column:
    return Column(title, NUMBER, meaning, of=of)


def day(title: str, meaning: Words, of: str = "") -> Column:
    return Column(title, DAY, meaning, of=of)


def time(title: str, meaning: Words, of: str = "") -> Column:
    return Column(title, TIME, meaning, of=of)


def yes_no(title: str, meaning: Words, of: str = "") -> Column:
    return Column(title, YES_NO, meaning, of=of)
