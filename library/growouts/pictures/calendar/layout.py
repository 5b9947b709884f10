"""Where everything of the calendar is drawn: pure arithmetic over rows, days and words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from library.germination.pictures.labels import LETTER, LINE, Box, text_width
from library.growouts.pictures.calendar.facts import Row, Step, months

MARK = 11.0  # half the width and height that any mark takes
LANE = 2 * MARK + 2
GAP = 6.0
LEAST_MONTHS = (1, 2, 3, 6, 12)


@dataclass(frozen=True, kw_only=True)
class Shape:
    """A size of the picture, in pixels. ``beside`` is the width of the names at the left of
    the strips; 0 writes them above.
    """

    name: str
    width: float
    beside: float
    size: float


WIDE = Shape(name="wide", width=1000, beside=270, size=14)
NARROW = Shape(name="narrow", width=340, beside=0, size=13.5)


@dataclass(frozen=True)
class Written:
    """Words from ``x`` to the right, standing on ``y``; ``full`` where they were cut short."""

    text: str
    x: float
    y: float
    box: Box
    full: str = ""


@dataclass(frozen=True)
class Mark:
    """A step where it is drawn."""

    step: Step
    x: float
    y: float

    @property
    def box(self) -> Box:
        return Box(self.x - MARK, self.y - MARK, self.x + MARK, self.y + MARK)


@dataclass(frozen=True)
class Strip:
    """A row where it is drawn: its names, its line of time, its marks."""

    row: Row
    box: Box
    variety: Written
    state: Written
    y: float
    marks: Sequence[Mark]

    @property
    def line(self) -> tuple[float, float] | None:
        """From the first mark to the last, where there are two."""
        xs = [mark.x for mark in self.marks]
        return (min(xs), max(xs)) if len(xs) > 1 else None


@dataclass(frozen=True)
class Group:
    """A grower's name over their strips."""

    grower: str
    head: Written
    strips: Sequence[Strip]


@dataclass(frozen=True)
class Month:
    """A month's line, and its name where there is room for it."""

    x: float
    name: Written | None
    year: Written | None


@dataclass(frozen=True)
class Drawn:
    """The whole picture in one size."""

    shape: Shape
    height: float
    left: float
    right: float
    top: float
    months: Sequence[Month]
    groups: Sequence[Group]
    today: tuple[float, Written] | None

    @property
    def frame(self) -> Box:
        return Box(0, 0, self.shape.width, self.height)


@dataclass(frozen=True, kw_only=True)
class Words:
    """What the picture writes, in the reader's language."""

    month: Callable[[dt.date], str]
    today: str
    state: Callable[[Row], str]


def draw(
    rows: Sequence[Row],
    shape: Shape,
    words: Words,
    *,
    start: dt.date,
    end: dt.date,
    today: dt.date,
) -> Drawn:
    """Lay out rows (those of one grower together) between two days, both shown."""
    axis = _Axis(shape, start, end)
    line = LINE * shape.size
    at_today = axis.x(today) if start <= today <= end else None
    top = 3 * line + GAP  # years, months, "today"
    y, groups = top, []
    for grower, its in groupby(rows, key=lambda row: row.grower):
        y += GAP
        head = _written(grower, MARK / 2, y, shape.size, shape.width - MARK / 2)
        y, strips = _strips(its, axis, words, y + line)
        groups.append(Group(grower, head, strips))
    return Drawn(
        shape=shape,
        height=round(y + GAP),
        left=axis.left,
        right=axis.right,
        top=round(3 * line, 2),
        months=_months(axis, words, line),
        groups=groups,
        today=None if at_today is None else (at_today, _today(words.today, at_today, axis)),
    )


class _Axis:
    """Time from left to right; marks of the first and last day lie wholly inside."""

    def __init__(self, shape: Shape, start: dt.date, end: dt.date) -> None:
        self.shape, self.start, self.end = shape, start, end
        self.left, self.right = shape.beside + MARK + 1, shape.width - MARK - 1
        self.days = max(1, (end - start).days)

    def x(self, day: dt.date) -> float:
        inside = min(max(day, self.start), self.end)
        share = (inside - self.start).days / self.days
        return round(self.left + share * (self.right - self.left), 2)


def _strips(
    rows: Iterable[Row], axis: _Axis, words: Words, y: float
) -> tuple[float, list[Strip]]:
    strips = []
    for row in rows:
        strip = _strip(row, axis, words, y)
        strips.append(strip)
        y = strip.box.bottom
    return y, strips


def _strip(row: Row, axis: _Axis, words: Words, top: float) -> Strip:
    shape = axis.shape
    size, line = shape.size, LINE * shape.size
    until = shape.beside or shape.width - MARK
    variety = _written(row.variety, MARK, top, size, until)
    state = _written(words.state(row), MARK, top + line, size, until)
    written = 2 * line + GAP
    xs = [axis.x(step.day) for step in row.steps]
    lanes = lanes_of(xs, 2 * MARK)
    marked = (max(lanes, default=-1) + 1) * LANE
    first = top if shape.beside else top + written
    height = max(written, marked + GAP) if shape.beside else written + marked + GAP
    spare = (height - marked) / 2 if shape.beside else 0
    marks = [
        Mark(step, x, round(first + spare + lane * LANE + LANE / 2, 2))
        for step, x, lane in zip(row.steps, xs, lanes, strict=True)
    ]
    box = Box(0, top, shape.width, round(top + height, 2))
    return Strip(row, box, variety, state, round(first + spare + LANE / 2, 2), marks)


def lanes_of(xs: Sequence[float], width: float) -> list[int]:
    """The lowest lane for each, so that none of that width touches another in its lane."""
    ends: list[float] = []
    found = [0] * len(xs)
    for i in sorted(range(len(xs)), key=lambda i: (xs[i], i)):
        lane = next((n for n, end in enumerate(ends) if xs[i] >= end), len(ends))
        ends[lane : lane + 1] = [xs[i] + width]
        found[i] = lane
    return found


def _months(axis: _Axis, words: Words, line: float) -> list[Month]:
    """Lines of all months; names of as many as fit side by side, years over their first."""
    size, firsts = axis.shape.size, months(axis.start, axis.end)
    widest = max(text_width(words.month(first), size) for first in firsts) + GAP
    each = (axis.right - axis.left) / len(firsts)
    step = next((n for n in LEAST_MONTHS if n * each >= widest), LEAST_MONTHS[-1])
    drawn, year_end = [], 0.0
    for n, first in enumerate(firsts):
        x, name, year = axis.x(first), None, None
        if (first.month - 1) % step == 0 and x + widest <= axis.shape.width:
            name = _written(words.month(first), x, line, size, axis.shape.width)
        if (n == 0 or first.month == 1) and x >= year_end:
            text = str(first.year)
            if x + text_width(text, size) <= axis.shape.width:
                year = _written(text, x, 0, size, axis.shape.width)
                year_end = year.box.right + GAP
        drawn.append(Month(x, name, year))
    return drawn


def _today(text: str, x: float, axis: _Axis) -> Written:
    """Right of its line, or left of it at the edge."""
    size = axis.shape.size
    width = text_width(text, size)
    left = x + 3 if x + 3 + width <= axis.shape.width else x - 3 - width
    return _written(text, left, 2 * LINE * size, size, axis.shape.width)


def _written(text: str, x: float, top: float, size: float, until: float) -> Written:
    short = fitting(text, size, until - x)
    box = Box(x, top, x + text_width(short, size), top + LINE * size)
    full = text if short != text else ""
    return Written(short, round(x, 2), round(top + size, 2), box, full)


def fitting(text: str, size: float, width: float) -> str:
    """The words, cut short where they would be wider."""
    most = int(width / (LETTER * size))
    return text if len(text) <= most else text[: max(0, most - 1)].rstrip() + "…"
