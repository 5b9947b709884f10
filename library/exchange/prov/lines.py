"""JSON with the line of everything in it, so that a refusal can say where to look."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from typing import Any, NoReturn

from django.utils.translation import gettext as _

DEEPEST = 20
_TOKENS = re.compile(r'"(?:[^"\\]|\\.)*"|[{}\[\],:]')
_KEPT = 3  # a section, a record in it, a fact of the record


@dataclass(frozen=True, order=True)
class Problem:
    """What is wrong on a line of the file, and what would be right."""

    line: int
    sentence: str

    def __str__(self) -> str:
        return _("Line %(line)s: %(sentence)s") % {
            "line": self.line,
            "sentence": self.sentence,
        }


class Broken(Exception):
    """The text is no JSON that could be read on; ``problem`` says why."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(str(problem))
        self.problem = problem


@dataclass
class Lines:
    """On which line each key stands, by its path; and the keys that stand there twice."""

    of_path: dict[tuple[str, ...], int] = field(default_factory=dict)
    twice: list[tuple[tuple[str, ...], int]] = field(default_factory=list)

    def of(self, *path: str) -> int:
        """The line of the longest part of the path that is in the file; 1 where none is."""
        while path and path not in self.of_path:
            path = path[:-1]
        return self.of_path.get(path, 1)


def parsed(text: str) -> tuple[Any, Lines]:
    """The data, and where it stands. Raises Broken for what is no plain JSON."""
    lines = _lines_of(text)
    try:
        return json.loads(text, parse_constant=_no_constant), lines
    except json.JSONDecodeError as error:
        raise Broken(
            Problem(
                error.lineno,
                _("here the file stops being JSON (%(why)s). Take it as it was sent.")
                % {"why": error.msg},
            )
        ) from None
    except _NotANumber as error:
        raise Broken(
            Problem(
                _line_of_word(text, str(error)),
                _("“%(word)s” is not a number; leave out what is not known.")
                % {"word": str(error)},
            )
        ) from None
    except (ValueError, RecursionError):
        raise Broken(
            Problem(1, _("a number of the file has more digits than can be read."))
        ) from None


class _NotANumber(Exception):
    pass


def _no_constant(word: str) -> NoReturn:
    raise _NotANumber(word)


def _line_of_word(text: str, word: str) -> int:
    outside = re.compile(rf'"(?:[^"\\]|\\.)*"|({re.escape(word)})')
    found = next((m for m in outside.finditer(text) if m.group(1)), None)
    return text.count("\n", 0, found.start()) + 1 if found else 1


@dataclass
class _Open:
    """An object or a list that is being read, and the key whose value comes."""

    is_object: bool
    key: str | None = None


def _lines_of(text: str) -> Lines:
    """One pass over the words of the text; what is wrong with them the parser says."""
    lines, opened, at, line = Lines(), [], 0, 1
    word, word_line = "", 1
    for token in _TOKENS.finditer(text):
        line += text.count("\n", at, token.start())
        at = token.start()
        mark = token.group()
        if mark in "{[":
            opened.append(_Open(mark == "{"))
            if len(opened) > DEEPEST:
                raise Broken(
                    Problem(
                        line,
                        _("the file is nested more than %(most)s deep; a chain is not.")
                        % {"most": DEEPEST},
                    )
                )
        elif mark in "}]":
            if opened:
                opened.pop()
        elif mark == ":":
            if opened and opened[-1].is_object:
                opened[-1].key = word
                _note(lines, opened, word_line)
        elif mark != ",":
            word, word_line = _plain(mark), line
    return lines


def _note(lines: Lines, opened: list[_Open], line: int) -> None:
    if len(opened) > _KEPT or not all(each.is_object for each in opened):
        return
    path = tuple(each.key or "" for each in opened)
    if path in lines.of_path:
        lines.twice.append((path, line))
    lines.of_path.setdefault(path, line)


def _plain(mark: str) -> str:
    if "\\" not in mark:
        return mark[1:-1]
    try:
        return str(json.loads(mark, strict=False))
    except ValueError:
        return mark
