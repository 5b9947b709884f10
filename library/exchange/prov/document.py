"""A PROV-JSON document as records with full names: prefixes resolved, values unwrapped."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from library.exchange.prov.lines import Lines, Problem
from library.exchange.prov.vocabulary import PROV, XSD

MOST_PROBLEMS = 50
_SHORT = 60


@dataclass(frozen=True)
class Record:
    """A thing or a relation: its name in full, its facts by their full names, its line."""

    name: str
    key: str
    section: str
    facts: dict[str, list[Any]]
    lines: dict[str, int]
    line: int

    def line_of(self, fact: str) -> int:
        return self.lines.get(fact, self.line)

    def types(self) -> set[str]:
        return {value for value in self.facts.get(PROV + "type", []) if isinstance(value, str)}

    def end(self, fact: str) -> str:
        """The name of what a relation points at; empty where that is missing or no name."""
        values = self.facts.get(PROV + fact, [])
        return values[0] if len(values) == 1 and isinstance(values[0], str) else ""


def short(text: Any) -> str:
    """What a file says, cut so that a sentence about it stays one."""
    said = str(text)
    return said if len(said) <= _SHORT else said[: _SHORT - 1] + "…"


class Document:
    """The records of a document; what is wrong with them is gathered in ``problems``."""

    def __init__(self, data: Any, lines: Lines) -> None:
        self.problems: list[Problem] = []
        self._lines = lines
        self._data = data if isinstance(data, dict) else {}
        if not isinstance(data, dict):
            self.wrong(1, _("the file is no PROV-JSON document: it must be an object, {…}."))
        for path, line in lines.twice:
            self.wrong(
                line, _("“%(key)s” stands here a second time.") % {"key": short(path[-1])}
            )
        self._prefixes = self._read_prefixes()

    def wrong(self, line: int, sentence: str) -> None:
        """Note a problem; the first ``MOST_PROBLEMS`` are enough."""
        if len(self.problems) < MOST_PROBLEMS:
            self.problems.append(Problem(line, sentence))

    def _read_prefixes(self) -> dict[str, str]:
        told = self._data.get("prefix", {})
        if not isinstance(told, dict):
            self.wrong(self._lines.of("prefix"), _("“prefix” must be an object, {…}."))
            told = {}
        known = {key: uri for key, uri in told.items() if isinstance(uri, str)}
        return {"prov": PROV, "xsd": XSD, **known}

    def full(self, name: str) -> str:
        """A qualified name with its prefix resolved; a name without a known one as it is."""
        prefix, colon, rest = name.partition(":")
        if colon and prefix in self._prefixes:
            return self._prefixes[prefix] + rest
        return self._prefixes.get("default", "") + name if not colon else name

    def records(self, section: str) -> Iterator[Record]:
        """Every record of a section, such as ``entity`` or ``wasDerivedFrom``."""
        found = self._data.get(section, {})
        if not isinstance(found, dict):
            line = self._lines.of(section)
            self.wrong(line, _("“%(key)s” must be an object, {…}.") % {"key": section})
            return
        for key, value in found.items():
            line = self._lines.of(section, key)
            # PROV-JSON lets several records of one name stand in a list.
            for facts in value if isinstance(value, list) else [value]:
                if isinstance(facts, dict):
                    yield self._record(section, key, facts, line)
                else:
                    self.wrong(
                        line, _("“%(key)s” must be an object, {…}.") % {"key": short(key)}
                    )

    def _record(self, section: str, key: str, facts: dict[str, Any], line: int) -> Record:
        names = {self.full(name): name for name in facts}
        return Record(
            name=self.full(key),
            key=key,
            section=section,
            facts={full: self._values(full, facts[name]) for full, name in names.items()},
            lines={full: self._lines.of(section, key, name) for full, name in names.items()},
            line=line,
        )

    def _values(self, fact: str, value: Any) -> list[Any]:
        values = value if isinstance(value, list) else [value]
        return [self._value(fact, each) for each in values]

    def _value(self, fact: str, value: Any) -> Any:
        """A literal without its wrapping; a name, and what a relation points at, in full."""
        if isinstance(value, dict) and "$" in value:
            kind = value.get("type")
            plain = value["$"]
            is_name = isinstance(kind, str) and self.full(kind) in _NAMES
            return self.full(plain) if is_name and isinstance(plain, str) else plain
        points = fact.removeprefix(PROV) in _NAMED
        return self.full(value) if points and isinstance(value, str) else value


_NAMES = {PROV + "QUALIFIED_NAME", XSD + "QName"}
# Facts of PROV whose values are names of things.
_NAMED = {"entity", "activity", "agent", "generatedEntity", "usedEntity", "type"}
