"""Where cells and one's own gardens are drawn: a grid of tenths of a degree."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from library.germination.pictures.labels import LINE, Box, Label, label_at, place

CELL = 0.1  # degrees
MARK = 7.0
MOST_PIXELS = 150.0  # of a cell
PAD = 12.0


@dataclass(frozen=True, kw_only=True)
class Shape:
    """A size of the picture, in pixels."""

    name: str
    width: float
    most: float
    size: float


WIDE = Shape(name="wide", width=720, most=640, size=14)
NARROW = Shape(name="narrow", width=340, most=480, size=13.5)


@dataclass(frozen=True)
class Square:
    """A cell with its count, where that fits into it."""

    x: float
    y: float
    width: float
    height: float
    growers: int
    label: Label | None

    @property
    def box(self) -> Box:
        return Box(self.x, self.y, self.x + self.width, self.y + self.height)


@dataclass(frozen=True)
class Dot:
    """One's own garden."""

    x: float
    y: float
    name: str
    label: Label | None

    @property
    def box(self) -> Box:
        return Box(self.x - MARK, self.y - MARK, self.x + MARK, self.y + MARK)


@dataclass(frozen=True)
class Drawn:
    """The picture in one size."""

    shape: Shape
    height: float
    squares: Sequence[Square]
    dots: Sequence[Dot]

    @property
    def frame(self) -> Box:
        return Box(0, 0, self.shape.width, self.height)


def draw(
    cells: Sequence[tuple[float, float, int]],
    own: Sequence[tuple[float, float, str]],
    shape: Shape,
) -> Drawn:
    """Cells as (latitude, longitude, growers) of their middles, gardens as (latitude,
    longitude, name). At least one of either.
    """
    south = min([c[0] - CELL / 2 for c in cells] + [g[0] for g in own])
    north = max([c[0] + CELL / 2 for c in cells] + [g[0] for g in own])
    west = min([c[1] - CELL / 2 for c in cells] + [g[1] for g in own])
    east = max([c[1] + CELL / 2 for c in cells] + [g[1] for g in own])
    # A degree of longitude is as much shorter as the middle lies away from the equator.
    narrow = max(0.05, math.cos(math.radians((south + north) / 2)))
    high, wide = max(north - south, CELL), max((east - west) * narrow, CELL * narrow)
    inner = shape.width - 2 * PAD - 2 * MARK
    scale = min(inner / wide, (shape.most - 2 * PAD - 2 * MARK) / high, MOST_PIXELS / CELL)
    height = round(high * scale + 2 * PAD + 2 * MARK)
    left = (shape.width - wide * scale) / 2

    def at(latitude: float, longitude: float) -> tuple[float, float]:
        return (
            round(left + (longitude - west) * narrow * scale, 2),
            round(PAD + MARK + (north - latitude) * scale, 2),
        )

    squares = [_square(cell, at, scale, narrow, shape) for cell in cells]
    return Drawn(shape, height, squares, _dots(own, at, squares, shape, height))


def _square(cell, at, scale: float, narrow: float, shape: Shape) -> Square:
    latitude, longitude, growers = cell
    x, y = at(latitude + CELL / 2, longitude - CELL / 2)
    width, height = round(CELL * narrow * scale, 2), round(CELL * scale, 2)
    top = y + (height - LINE * shape.size) / 2
    spots = [(x + width / 2, top)]
    inside = Box(x, y, x + width, y + height)
    label = place(str(growers), spots, size=shape.size, within=inside, taken=())
    return Square(x, y, width, height, growers, label)


def _dots(own, at, squares: Sequence[Square], shape: Shape, height: float) -> list[Dot]:
    places = [at(latitude, longitude) for latitude, longitude, _name in own]
    taken = [square.label.box for square in squares if square.label]
    taken += [Box(x - MARK, y - MARK, x + MARK, y + MARK) for x, y in places]
    within = Box(0, 0, shape.width, height)
    dots = []
    for (x, y), (_latitude, _longitude, name) in zip(places, own, strict=True):
        spots = _around(x, y, name, shape.size)
        label = place(name, spots, size=shape.size, within=within, taken=taken)
        if label is not None:
            taken.append(label.box)
        dots.append(Dot(x, y, name, label))
    return dots


def _around(x: float, y: float, name: str, size: float) -> Iterator[tuple[float, float]]:
    half = label_at(name, middle=0, top=0, size=size).box.right
    high = LINE * size
    yield x, y + MARK + 1
    yield x, y - MARK - 1 - high
    yield x + MARK + 2 + half, y - high / 2
    yield x - MARK - 2 - half, y - high / 2
