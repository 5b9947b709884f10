"""Putting words into a picture so that none lies on another and none leaves it."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

# A letter is at most so wide, on average, in the plain faces that the pages ask for.
LETTER = 0.6
LINE = 1.25
REORDERED = 3  # flags of which every order and side is tried


@dataclass(frozen=True)
class Box:
    """An area of a picture, in pixels; y from the top down."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def inside(self, other: Box) -> bool:
        return (
            other.left <= self.left
            and self.right <= other.right
            and other.top <= self.top
            and self.bottom <= other.bottom
        )


@dataclass(frozen=True)
class Label:
    """Words centred on ``x``, standing on ``y``, and the area that they take."""

    text: str
    x: float
    y: float
    box: Box


def text_width(text: str, size: float) -> float:
    """How long words are at most, at a size in pixels."""
    return len(text) * LETTER * size


def label_at(text: str, *, middle: float, top: float, size: float) -> Label:
    """Words around a middle, below a top."""
    half = text_width(text, size) / 2
    box = Box(middle - half, top, middle + half, top + LINE * size)
    return Label(text, round(middle, 2), round(top + size, 2), box)


def place(
    text: str,
    at: Iterable[tuple[float, float]],
    *,
    size: float,
    within: Box,
    taken: Sequence[Box],
) -> Label | None:
    """The words at the first (middle, top) where they are free and inside; None if nowhere."""
    for middle, top in at:
        label = label_at(text, middle=middle, top=top, size=size)
        if label.box.inside(within) and not any(label.box.overlaps(box) for box in taken):
            return label
    return None


@dataclass(frozen=True)
class Flag:
    """Words beside the top of a line: in which lane, counted from the plot up, and where."""

    lane: int
    middle: float


def flags(
    words: Sequence[tuple[str, float]], *, size: float, left: float, right: float, most: int
) -> list[Flag | None]:
    """Where the words of lines at these x stand: right or left of their line, in some lane.

    Words come with the most important first; those for which nothing is free get None. No
    word touches another, none crosses ``left`` or ``right``, and no line runs through a word:
    a line ends at its own words, so only those below them are in its way.
    """
    spots = [_spots(x, text_width(text, size) + size / 2, left, right) for text, x in words]
    lines = [x for _text, x in words]
    tries = (_hung(lines, turned, order, most) for order, turned in _orders(spots))
    # The first of the best: named by importance, in as few lanes as that takes.
    return max(tries, key=lambda found: ([flag is not None for flag in found], -_lanes(found)))


def _orders(spots: list[list[Box]]) -> Iterator[tuple[list[int], list[list[Box]]]]:
    """Orders in which to hang, and on which side of their lines: these decide whether the
    others find room. The most important few are tried in every way.
    """
    few, number = min(len(spots), REORDERED), len(spots)
    for order in itertools.permutations(range(few)):
        for sides in itertools.product((1, -1), repeat=few):
            turned = [spot[::side][:1] for spot, side in zip(spots, sides, strict=False)]
            yield [*order, *range(few, number)], turned + spots[few:]


def _lanes(found: Iterable[Flag | None]) -> int:
    return max((flag.lane + 1 for flag in found if flag), default=0)


def _hung(
    lines: Sequence[float], spots: Sequence[list[Box]], order: Iterable[int], most: int
) -> list[Flag | None]:
    """The flags hung one after the other, each in the lowest lane that is free."""
    hung: list[tuple[int, float, Box]] = []  # lane, x of the line, words
    found: list[Flag | None] = [None] * len(lines)
    for n in order:
        for lane, box in itertools.product(range(most), spots[n]):
            if _is_free(lane, lines[n], box, hung):
                hung.append((lane, lines[n], box))
                found[n] = Flag(lane, round((box.left + box.right) / 2, 2))
                break
    return found


def _spots(x: float, width: float, left: float, right: float) -> list[Box]:
    """Right of the line, else left of it, inside the picture."""
    sides = (Box(x, 0, x + width, 1), Box(x - width, 0, x, 1))
    return [box for box in sides if left <= box.left and box.right <= right]


def _is_free(lane: int, x: float, box: Box, hung: Sequence[tuple[int, float, Box]]) -> bool:
    for other_lane, other_x, other in hung:
        same = other_lane == lane and box.overlaps(other)
        runs_through = other_lane < lane and other.left < x < other.right
        is_run_through = other_lane > lane and box.left < other_x < box.right
        if same or runs_through or is_run_through:
            return False
    return True
