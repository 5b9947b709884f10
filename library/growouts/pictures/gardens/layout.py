"""Where everything of the plan of gardens is drawn: metres become pixels, words find room."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from library.germination.pictures.labels import LINE, Box, Label, label_at, place
from library.growouts.pictures.gardens.facts import Conflict, Kind, Stand

MARK = 7.0  # half the width and height that any mark takes
PAD = 2 * MARK + 4
LEAST_SPAN_M = 300.0  # a plan of one garden is still a plan
MOST_CIRCLES = 40
ROUND = (1, 2, 5)


@dataclass(frozen=True, kw_only=True)
class Shape:
    """A size of the picture: its width, and what its height may be, in pixels."""

    name: str
    width: float
    least: float
    most: float
    size: float


WIDE = Shape(name="wide", width=900, least=360, most=760, size=14)
NARROW = Shape(name="narrow", width=340, least=260, most=480, size=13.5)


@dataclass(frozen=True, kw_only=True)
class Ground:
    """What is drawn, in metres east and north of a middle: gardens, stands, conflicts.

    ``numbers`` are written beside the gardens that have one.
    """

    places: Mapping[int, tuple[float, float]]
    stands: Sequence[Stand]
    conflicts: Sequence[Conflict]
    numbers: Mapping[int, int]


@dataclass(frozen=True)
class Mark:
    """A garden: the weightiest of what stands there gives the shape; None is an empty one."""

    garden: int
    x: float
    y: float
    kind: Kind | None
    in_conflict: bool
    number: int | None
    label: Label | None

    @property
    def box(self) -> Box:
        return Box(self.x - MARK, self.y - MARK, self.x + MARK, self.y + MARK)

    @property
    def shape(self) -> str:
        return self.kind.value if self.kind else "empty"


@dataclass(frozen=True)
class Circle:
    """How far a stand's species crosses; in pixels. It may reach out of the picture."""

    x: float
    y: float
    r: float
    metres: float
    in_conflict: bool


@dataclass(frozen=True)
class Between:
    """A conflict's line; of two in one garden it has no length and a ring is drawn."""

    conflict: Conflict
    x1: float
    y1: float
    x2: float
    y2: float
    label: Label | None

    @property
    def is_ring(self) -> bool:
        return self.conflict.in_one_garden


@dataclass(frozen=True)
class Scale:
    """A bar of a round number of metres."""

    x1: float
    x2: float
    y: float
    metres: float
    label: Label


@dataclass(frozen=True)
class Drawn:
    """The plan in one size."""

    shape: Shape
    height: float
    per_metre: float
    marks: Sequence[Mark]
    circles: Sequence[Circle]
    circles_left_out: int
    conflicts: Sequence[Between]
    scale: Scale
    north: Label

    @property
    def frame(self) -> Box:
        return Box(0, 0, self.shape.width, self.height)

    @property
    def numbers_left_out(self) -> int:
        return sum(mark.number is not None and mark.label is None for mark in self.marks)


@dataclass(frozen=True, kw_only=True)
class Words:
    """What the picture writes, in the reader's language."""

    metres: Callable[[float], str]
    between: Callable[[Conflict], str]
    north: str


def draw(ground: Ground, shape: Shape, words: Words) -> Drawn:
    """Lay out gardens by their places; circles only around those in conflict where there are
    too many to tell apart.
    """
    sheet = _sheet(ground, shape)
    crossing = {stand.key for c in ground.conflicts for stand in (c.one, c.other)}
    circles = _circles(ground, sheet, crossing)
    shown = circles if len(circles) <= MOST_CIRCLES else [c for c in circles if c.in_conflict]
    writer = _Writer(ground, sheet, shape, words)
    return Drawn(
        shape=shape,
        height=sheet.height,
        per_metre=sheet.per_metre,
        scale=writer.scale,
        north=writer.north,
        conflicts=writer.conflicts(),
        marks=writer.marks({stand.garden for stand in ground.stands if stand.key in crossing}),
        circles=shown,
        circles_left_out=len(circles) - len(shown),
    )


@dataclass(frozen=True)
class _Sheet:
    """From metres to pixels."""

    west: float
    north: float
    per_metre: float
    left: float
    top: float
    height: float

    def at(self, place: tuple[float, float]) -> tuple[float, float]:
        east, north = place
        return (
            round(self.left + (east - self.west) * self.per_metre, 2),
            round(self.top + (self.north - north) * self.per_metre, 2),
        )


def _sheet(ground: Ground, shape: Shape) -> _Sheet:
    """All gardens inside, the scale below them; as much of the circles as half the span."""
    east = [place[0] for place in ground.places.values()] or [0.0]
    north = [place[1] for place in ground.places.values()] or [0.0]
    wide, high = max(east) - min(east), max(north) - min(north)
    span = max(wide, high, LEAST_SPAN_M)
    reach = max((stand.radius_m for stand in ground.stands), default=0.0)
    around = max(min(reach, span / 2), span / 20)
    wide, high = max(wide, LEAST_SPAN_M) + 2 * around, max(high, LEAST_SPAN_M) + 2 * around
    foot = 2 * LINE * shape.size + 8
    per_metre = min((shape.width - 2 * PAD) / wide, (shape.most - 2 * PAD - foot) / high)
    drawn = high * per_metre
    height = max(shape.least, round(drawn + 2 * PAD + foot))
    return _Sheet(
        west=(min(east) + max(east)) / 2 - wide / 2,
        north=(min(north) + max(north)) / 2 + high / 2,
        per_metre=per_metre,
        left=(shape.width - wide * per_metre) / 2,
        top=PAD + (height - foot - 2 * PAD - drawn) / 2,
        height=height,
    )


def _circles(ground: Ground, sheet: _Sheet, crossing: set[str]) -> list[Circle]:
    """One for each radius in each garden, the largest first, so that small ones lie on top."""
    found: dict[tuple[int, float], bool] = {}
    for stand in ground.stands:
        if stand.radius_m > 0 and stand.garden in ground.places:
            key = stand.garden, stand.radius_m
            found[key] = found.get(key, False) or stand.key in crossing
    circles = []
    for (garden, metres), in_conflict in sorted(found.items(), key=lambda f: (-f[0][1], f[0])):
        x, y = sheet.at(ground.places[garden])
        r = round(metres * sheet.per_metre, 2)
        circles.append(Circle(x, y, r, metres, in_conflict))
    return circles


class _Writer:
    """Marks first, then words wherever they touch nothing."""

    def __init__(self, ground: Ground, sheet: _Sheet, shape: Shape, words: Words) -> None:
        self.ground, self.sheet, self.shape, self.words = ground, sheet, shape, words
        self.at = {garden: sheet.at(spot) for garden, spot in ground.places.items()}
        self.within = Box(0, 0, shape.width, sheet.height)
        self.scale = _scale(sheet, shape, words)
        self.north = _north(shape, words)
        top = self.scale.label.box.top
        self.taken = [Box(0, top, self.scale.x2 + 8, sheet.height), self.north.box]
        self.taken += [Box(x - MARK, y - MARK, x + MARK, y + MARK) for x, y in self.at.values()]

    def marks(self, in_conflict: set[int]) -> list[Mark]:
        kinds: dict[int, list[Kind]] = defaultdict(list)
        for stand in self.ground.stands:
            kinds[stand.garden].append(stand.kind)
        order = sorted(self.at, key=lambda g: (self.ground.numbers.get(g, math.inf), g))
        labels = {garden: self._number(garden) for garden in order}
        return [
            Mark(
                garden,
                *self.at[garden],
                min(kinds[garden], key=list(Kind).index, default=None),
                garden in in_conflict,
                self.ground.numbers.get(garden),
                labels[garden],
            )
            for garden in order
        ]

    def _number(self, garden: int) -> Label | None:
        number = self.ground.numbers.get(garden)
        if number is None:
            return None
        x, y = self.at[garden]
        return self._placed(str(number), _around(x, y, self.shape.size))

    def _placed(self, text: str, at: Iterable[tuple[float, float]]) -> Label | None:
        label = place(text, at, size=self.shape.size, within=self.within, taken=self.taken)
        if label is not None:
            self.taken.append(label.box)
        return label

    def conflicts(self) -> list[Between]:
        drawn = []
        for conflict in self.ground.conflicts:
            if {conflict.one.garden, conflict.other.garden} <= self.at.keys():
                (x1, y1), (x2, y2) = (
                    self.at[conflict.one.garden],
                    self.at[conflict.other.garden],
                )
                spots = _along(x1, y1, x2, y2, self.shape.size)
                label = self._placed(self.words.between(conflict), spots)
                drawn.append(Between(conflict, x1, y1, x2, y2, label))
        return drawn


def _around(x: float, y: float, size: float) -> Iterator[tuple[float, float]]:
    """(middle, top) of a short word above, below, right and left of a mark, then aslant."""
    high, far = LINE * size, MARK + size
    for dx, dy in ((0, -1), (0, 1), (1, 0), (-1, 0), (1, -1), (-1, -1), (1, 1), (-1, 1)):
        top = y - high / 2 + dy * (MARK + high / 2 + 1)
        yield x + dx * far, top


def _along(
    x1: float, y1: float, x2: float, y2: float, size: float
) -> Iterator[tuple[float, float]]:
    """(middle, top) of words on a line, from its middle outwards, then above and below it."""
    high = LINE * size
    for share in (0.5, 0.4, 0.6, 0.3, 0.7):
        x, y = x1 + share * (x2 - x1), y1 + share * (y2 - y1)
        for off in (0, -high, high, -2 * high, 2 * high):
            yield x, y - high / 2 + off


def _scale(sheet: _Sheet, shape: Shape, words: Words) -> Scale:
    """The longest bar of a round number that takes at most a third of the width."""
    metres = round_below(shape.width / 3 / sheet.per_metre)
    x1, y = 10.0, sheet.height - 8.0
    x2 = round(x1 + metres * sheet.per_metre, 2)
    text = words.metres(metres)
    top = y - 5 - LINE * shape.size
    probe = label_at(text, middle=0, top=top, size=shape.size)
    half = probe.box.right
    middle = max((x1 + x2) / 2, 4 + half)
    return Scale(x1, x2, y, metres, label_at(text, middle=middle, top=top, size=shape.size))


def _north(shape: Shape, words: Words) -> Label:
    probe = label_at(words.north, middle=0, top=4, size=shape.size)
    middle = shape.width - 6 - probe.box.right
    return label_at(words.north, middle=middle, top=4, size=shape.size)


def round_below(metres: float) -> float:
    """The largest of 1, 2 and 5 times a power of ten that is not more."""
    power = 10 ** math.floor(math.log10(metres))
    return float(max(n * power for n in ROUND if n * power <= metres * (1 + 1e-9)))
