"""The viability curve of a lot, laid out: every line, point and word where it is drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from library.germination.pictures.axis import PERCENT_TICKS, Frame, Ticks, time_ticks
from library.germination.pictures.facts import CurveFacts, DayMark, Mark, Stay, TestMark
from library.germination.pictures.labels import (
    LINE,
    Box,
    Label,
    flags,
    label_at,
    place,
    text_width,
)

GAP = 4.0
HALF_POINT = 6.0  # of a test's point with its rim
STRIP = 1.7  # height of the storage strip, in lines of text
DROP = 0.75  # from the axis to the names of its days, in heights of a letter
MOST_LANES = 4
SWEEP = 12  # places along the line at which its label is tried
ORDER = (Mark.RETEST, Mark.TODAY, Mark.SOWING)


@dataclass(frozen=True, kw_only=True)
class Shape:
    """The size of a picture and of its words, in pixels."""

    name: str
    width: float
    height: float
    size: float
    values: bool = True  # whether tests say their percentage beside them


WIDE = Shape(name="wide", width=680, height=400, size=14)
NARROW = Shape(name="narrow", width=340, height=400, size=14)
SMALL = Shape(name="small", width=340, height=260, size=13.5, values=False)


@dataclass(frozen=True)
class Tick:
    """A named place on an axis."""

    at: float
    text: str
    label: Label | None


@dataclass(frozen=True)
class DrawnTest:
    """A test's point and its interval."""

    test: TestMark
    x: float
    y: float
    low_y: float
    high_y: float
    label: Label | None = None

    @property
    def box(self) -> Box:
        left, right = self.x - HALF_POINT, self.x + HALF_POINT
        top = min(self.high_y, self.y - HALF_POINT)
        return Box(left, top, right, max(self.low_y, self.y + HALF_POINT))

    @property
    def point(self) -> Box:
        x, y, r = self.x, self.y, HALF_POINT
        return Box(x - r, y - r, x + r, y + r)

    @property
    def diamond(self) -> str:
        """The points of the shape that stands for a test not counted."""
        x, y, r = self.x, self.y, HALF_POINT
        return f"{x},{y - r:g} {x + r:g},{y} {x},{y + r:g} {x - r:g},{y}"

    @property
    def cap_left(self) -> float:
        return self.x - GAP

    @property
    def cap_right(self) -> float:
        return self.x + GAP


@dataclass(frozen=True)
class DrawnMark:
    """A day's line, from its label down."""

    mark: DayMark
    x: float
    top: float
    label: Label | None

    @property
    def kind(self) -> str:
        return self.mark.mark.value


@dataclass(frozen=True)
class DrawnStay:
    """A piece of the storage strip."""

    stay: Stay
    left: float
    right: float
    letter: str
    label: Label | None

    @property
    def width(self) -> float:
        return max(round(self.right - self.left, 2), 0.5)

    @property
    def is_named(self) -> bool:
        return self.label is not None and self.label.text == self.stay.short


@dataclass(frozen=True)
class Curve:
    """A picture ready to be drawn."""

    shape: Shape
    frame: Frame
    median: str
    band: str
    low: str
    high: str
    percents: Sequence[Tick]
    times: Sequence[Tick]
    standard_y: float
    standard_label: Label | None
    tests: Sequence[DrawnTest]
    marks: Sequence[DrawnMark]
    stays: Sequence[DrawnStay]
    strip_top: float
    strip_height: float
    ticks: Ticks
    now_x: float
    taken: Sequence[Box] = field(default=(), repr=False)

    @property
    def area(self) -> Box:
        return Box(0, 0, self.shape.width, self.shape.height)

    @property
    def strip_bottom(self) -> float:
        return round(self.strip_top + self.strip_height, 2)

    @property
    def ahead_width(self) -> float:
        return max(round(self.frame.right - self.now_x, 2), 0)


@dataclass(frozen=True, kw_only=True)
class Words:
    """What the layout has to write itself, in the reader's language."""

    month: Callable[..., str]
    year: Callable[..., str]
    percent: Callable[[float], str]
    standard: str
    disagrees: str


def draw(facts: CurveFacts, shape: Shape, words: Words) -> Curve:
    """Lay the facts out in a picture of a shape."""
    line = LINE * shape.size
    across = Frame(_left(shape, words), shape.width - shape.size, 0, 1, facts.start, facts.end)
    marks, used = _marks(facts.marks, across, shape)
    strip_height = STRIP * shape.size
    strip_top = round(shape.height - line - GAP - strip_height - 2, 2)
    top, bottom = round(used * line + DROP * shape.size, 2), round(strip_top - GAP, 2)
    frame = replace(across, top=top, bottom=bottom)
    tests = [_test(test, frame) for test in facts.tests]
    taken = [test.box for test in tests]
    plot = Box(frame.left, frame.top, frame.right, frame.bottom)
    lines = [Box(mark.x - 2, frame.top, mark.x + 2, frame.bottom) for mark in marks]
    standard_label = _standard(facts, words, shape, frame, tests, lines)
    if standard_label:
        taken.append(standard_label.box)
    taken += lines
    tests = list(_with_words(tests, shape, words, plot, taken))
    ticks = ticks_of(facts, shape, words)
    return Curve(
        shape=shape,
        frame=frame,
        median=_line(frame, ((p.on, p.median) for p in facts.points)),
        band=_line(frame, _outline(facts)),
        low=_line(frame, ((p.on, p.low) for p in facts.points)),
        high=_line(frame, ((p.on, p.high) for p in facts.points)),
        percents=[_percent(frame, shape, words, value) for value in PERCENT_TICKS],
        times=list(_times(ticks, frame, shape, words, strip_top + strip_height + 2)),
        standard_y=frame.y(facts.standard),
        standard_label=standard_label,
        tests=tests,
        marks=marks,
        stays=list(_stays(facts, frame, shape, strip_top)),
        strip_top=strip_top,
        strip_height=round(strip_height, 2),
        ticks=ticks,
        now_x=frame.x(facts.today),
        taken=taken,
    )


def _line(frame: Frame, days: Iterable[tuple]) -> str:
    return " ".join(f"{frame.x(on):g},{frame.y(percent):g}" for on, percent in days)


def _outline(facts: CurveFacts) -> Iterator[tuple]:
    """Around the band: there along its upper edge, back along the lower."""
    yield from ((p.on, p.high) for p in facts.points)
    yield from ((p.on, p.low) for p in reversed(facts.points))


def _marks(
    marks: Sequence[DayMark], across: Frame, shape: Shape
) -> tuple[list[DrawnMark], int]:
    """The marked days with their words in lanes over the plot, and how many lanes that took."""
    marks = sorted(marks, key=lambda each: (ORDER.index(each.mark), each.on))
    found = flags(
        [(each.short, across.x(each.on)) for each in marks],
        size=shape.size,
        left=0,
        right=shape.width,
        most=MOST_LANES,
    )
    used = 1 + max((flag.lane for flag in found if flag), default=-1)
    line = LINE * shape.size
    drawn = []
    for each, flag in zip(marks, found, strict=True):
        top, label = used * line, None
        if flag:
            top = (used - 1 - flag.lane) * line
            label = label_at(each.short, middle=flag.middle, top=top, size=shape.size)
        drawn.append(DrawnMark(each, across.x(each.on), round(top + 1, 2), label))
    return drawn, used


def _test(test: TestMark, frame: Frame) -> DrawnTest:
    return DrawnTest(
        test, frame.x(test.on), frame.y(test.percent), frame.y(test.low), frame.y(test.high)
    )


def _standard(
    facts: CurveFacts,
    words: Words,
    shape: Shape,
    frame: Frame,
    tests: list[DrawnTest],
    lines: list[Box],
) -> Label | None:
    """The words on the standard's line, as clear of the rest as can be; at least of points."""
    plot = Box(frame.left, frame.top, frame.right, frame.bottom)
    whole, points = [test.box for test in tests], [test.point for test in tests]
    for taken in (whole + lines, whole, points):
        label = _along(frame, shape, words.standard, facts.standard, plot, taken)
        if label:
            return label
    return None


def _along(
    frame: Frame, shape: Shape, text: str, percent: float, plot: Box, taken: list[Box]
) -> Label | None:
    """Words on a level line, over it or under it, from the right to the left."""
    y, half = frame.y(percent), text_width(text, shape.size) / 2
    run = frame.width - 2 * half - 2 * GAP
    spots = (
        (frame.right - GAP - half - run * step / SWEEP, top)
        for step in range(SWEEP + 1)
        for top in (y - LINE * shape.size - 1, y + 2)
    )
    return place(text, spots, size=shape.size, within=plot, taken=taken)


def _with_words(
    tests: list[DrawnTest], shape: Shape, words: Words, plot: Box, taken: list[Box]
) -> Iterator[DrawnTest]:
    """The tests with their words beside them; those that disagree are served first."""
    labels: dict[int, Label | None] = {}
    order = sorted(range(len(tests)), key=lambda n: (tests[n].test.believed, -n))
    for n in order:
        believed = tests[n].test.believed
        if believed and not shape.values:
            continue
        text = words.percent(tests[n].test.percent) if believed else words.disagrees
        spots = _beside(tests[n], text_width(text, shape.size), LINE * shape.size)
        label = labels[n] = place(text, spots, size=shape.size, within=plot, taken=taken)
        if label:
            taken.append(label.box)
    return (replace(test, label=labels.get(n)) for n, test in enumerate(tests))


def _beside(test: DrawnTest, width: float, line: float) -> list[tuple[float, float]]:
    box, away = test.box, HALF_POINT + GAP / 2 + width / 2
    level = test.y - line / 2
    under, over = box.bottom + 1, box.top - line - 1
    near = [(test.x + away, level), (test.x - away, level), (test.x, over), (test.x, under)]
    if test.test.believed:
        return near
    # Words in a colour of their own can stand further off than numbers that are all alike.
    sides = (away, -away, 0)
    tops = [top for n in range(5) for top in (under + n * line, over - n * line)]
    return near + [(test.x + side, top) for top in tops for side in sides]


def ticks_of(facts: CurveFacts, shape: Shape, words: Words) -> Ticks:
    """The days named under a picture of that shape."""
    gap = 2 * shape.size
    longest = max(text_width(month, shape.size) for month in _months(facts, words))
    return time_ticks(
        facts.start,
        facts.end,
        width=shape.width - shape.size - _left(shape, words),
        month_width=longest + gap,
        year_width=text_width(words.year(facts.start), shape.size) + gap,
    )


def _left(shape: Shape, words: Words) -> float:
    """The room that the percentages take."""
    return text_width(words.percent(100), shape.size) + 2 * GAP


def _months(facts: CurveFacts, words: Words) -> list[str]:
    return [words.month(facts.start.replace(month=number, day=1)) for number in range(1, 13)]


def _percent(frame: Frame, shape: Shape, words: Words, value: int) -> Tick:
    text, y = words.percent(value), frame.y(value)
    middle = frame.left - GAP - text_width(text, shape.size) / 2
    top = y - LINE * shape.size / 2 - 1
    return Tick(y, text, label_at(text, middle=middle, top=top, size=shape.size))


def _times(
    ticks: Ticks, frame: Frame, shape: Shape, words: Words, top: float
) -> Iterator[Tick]:
    for day in ticks.days:
        text, x = (words.year if ticks.are_years else words.month)(day), frame.x(day)
        label = label_at(text, middle=x, top=top, size=shape.size)
        fits = label.box.left >= 0 and label.box.right <= shape.width
        yield Tick(x, text, label if fits else None)


def _stays(facts: CurveFacts, frame: Frame, shape: Shape, top: float) -> Iterator[DrawnStay]:
    """The strip's pieces, named inside where the name fits, else by a letter."""
    begins = [frame.x(stay.since) for stay in facts.stays]
    ends = [*begins[1:], frame.right]
    now, top = frame.x(facts.today), top + (STRIP - LINE) / 2 * shape.size
    for n, (stay, left, right) in enumerate(zip(facts.stays, begins, ends, strict=True)):
        # Not across the line between what was and what is to come, if it can be helped.
        rooms = [(left, min(right, now)), (max(left, now), right), (left, right)]
        tries = ((text, room) for text in (stay.short, _letter(n)) for room in rooms)
        fitting = (
            label_at(text, middle=sum(room) / 2, top=top, size=shape.size)
            for text, room in tries
            if text_width(text, shape.size) + GAP <= room[1] - room[0]
        )
        yield DrawnStay(stay, left, right, _letter(n), next(fitting, None))


def _letter(number: int) -> str:
    """A to Z, then AA to ZZ."""
    more, last = divmod(number, 26)
    return (_letter(more - 1) if more else "") + chr(ord("A") + last)
