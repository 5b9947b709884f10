"""Where the lots of a chain go: columns by harvest year, rows so that links cross little.

Pure arithmetic over keys. Lots of one year that were made of one another (poured together, or
taken out of another jar) get columns of their own within the year. A link that passes over
columns is led through them in a lane of its own, so that it never runs under a mark.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

Key = Any  # whatever can be looked up
SWEEPS = 8
LANE = 0.35  # the height of a passing link, in rows


@dataclass(frozen=True)
class Placed:
    """A lot's place: its column, counted from 0, and its row, which need not be whole."""

    column: int
    row: float


@dataclass(frozen=True)
class Layout:
    """Places by key; each link with the rows at which it passes the columns in between;
    ``years`` tells each column's year, None where nobody knows any year.
    """

    places: Mapping[Key, Placed]
    ways: Mapping[tuple[Key, Key], tuple[Placed, ...]]
    years: Sequence[int | None]
    rows: float

    @property
    def columns(self) -> int:
        return len(self.years)


def lay_out(
    years: Mapping[Key, int | None], links: Iterable[tuple[Key, Key]], order: Sequence[Key]
) -> Layout:
    """Place lots with these harvest years and links (parent, child).

    ``order`` has parents before children. A lot whose year is not known stands in the year of
    its latest parent, or of its earliest child. Raises KeyError for a link to a lot that is
    not there.
    """
    links = list(dict.fromkeys(links))
    told = _told_years(years, links, order)
    steps = _steps_in_year(told, links, order)
    spots = sorted({(_early(told[key]), steps[key]) for key in order})
    column_of = {spot: i for i, spot in enumerate(spots)}
    column = {key: column_of[_early(told[key]), steps[key]] for key in order}
    net = _Net(order, links, column, len(spots))
    net.sweep()
    rows = net.rows()
    places = {key: Placed(column[key], rows[key]) for key in order}
    ways = {
        link: tuple(Placed(net.column[lane], rows[lane]) for lane in lanes)
        for link, lanes in net.lanes.items()
    }
    height = max((place.row for place in places.values()), default=0.0) + 1
    passing = max((lane.row for way in ways.values() for lane in way), default=0.0) + LANE
    return Layout(places, ways, _column_years(told, column, len(spots)), max(height, passing))


def _early(year: int | None) -> int:
    """Nobody knows any year of this family: it stands before all that is dated."""
    return -1 if year is None else year


def _column_years(
    told: Mapping[Key, int | None], column: Mapping[Key, int], columns: int
) -> list[int | None]:
    years: list[int | None] = [None] * columns
    for key, at in column.items():
        years[at] = told[key]
    return years


def _told_years(
    years: Mapping[Key, int | None], links: Iterable[tuple[Key, Key]], order: Sequence[Key]
) -> dict[Key, int | None]:
    parents, children = _relations(links)
    told: dict[Key, int | None] = {}
    for key in order:
        known = [year for p in parents[key] if (year := told[p]) is not None]
        told[key] = years[key] if years[key] is not None else max(known, default=None)
    for key in reversed(order):
        if told[key] is None:
            known = [year for c in children[key] if (year := told[c]) is not None]
            told[key] = min(known, default=None)
    for key in order:  # what hangs on a lot that was only now placed
        known = [year for p in parents[key] if (year := told[p]) is not None]
        if told[key] is None:
            told[key] = max(known, default=None)
    return told


def _steps_in_year(
    told: Mapping[Key, int | None], links: Iterable[tuple[Key, Key]], order: Sequence[Key]
) -> dict[Key, int]:
    """How many links lie between a lot and the first of its line in the same year."""
    parents, _children = _relations(links)
    steps: dict[Key, int] = {}
    for key in order:
        same = [steps[p] + 1 for p in parents[key] if _early(told[p]) == _early(told[key])]
        steps[key] = max(same, default=0)
    return steps


def _relations(
    links: Iterable[tuple[Key, Key]],
) -> tuple[dict[Key, list[Key]], dict[Key, list[Key]]]:
    parents: dict[Key, list[Key]] = defaultdict(list)
    children: dict[Key, list[Key]] = defaultdict(list)
    for parent, child in links:
        parents[child].append(parent)
        children[parent].append(child)
    return parents, children


class _Net:
    """Lots and lanes, column by column, and the order within each."""

    def __init__(
        self,
        order: Sequence[Key],
        links: Iterable[tuple[Key, Key]],
        column: Mapping[Key, int],
        columns: int,
    ) -> None:
        self.column: dict[Key, int] = dict(column)
        self.lanes: dict[tuple[Key, Key], list[Key]] = {}
        self.left: dict[Key, list[Key]] = defaultdict(list)
        self.right: dict[Key, list[Key]] = defaultdict(list)
        self.in_column: list[list[Key]] = [[] for _ in range(columns)]
        for key in order:
            self.in_column[column[key]].append(key)
        for parent, child in links:
            self._join(parent, child)

    def _join(self, parent: Key, child: Key) -> None:
        lanes: list[Key] = []
        before = parent
        for at in range(self.column[parent] + 1, self.column[child]):
            lane = ("lane", parent, child, at)
            self.column[lane] = at
            self.in_column[at].append(lane)
            self._beside(before, lane)
            lanes.append(lane)
            before = lane
        self._beside(before, child)
        self.lanes[parent, child] = lanes

    def _beside(self, left: Key, right: Key) -> None:
        self.right[left].append(right)
        self.left[right].append(left)

    def sweep(self) -> None:
        """Order each column by the mean place of what it is linked to, to and fro."""
        for turn in range(SWEEPS):
            forward = turn % 2 == 0
            columns = self.in_column if forward else self.in_column[::-1]
            beside = self.left if forward else self.right
            for before, column in pairwise(columns):
                place = {key: i for i, key in enumerate(before)}
                mean = {
                    key: _mean([place[k] for k in beside[key]], default=i)
                    for i, key in enumerate(column)
                }
                column.sort(key=mean.__getitem__)

    def rows(self) -> dict[Key, float]:
        """A row for everything: in order, apart, and near what it is linked to."""
        rows: dict[Key, float] = {}
        for column in self.in_column:
            at = 0.0
            for key in column:
                rows[key] = at
                at += self._height(key)
        for turn in range(SWEEPS):
            columns = self.in_column if turn % 2 == 0 else self.in_column[::-1]
            for column in columns:
                self._settle(column, rows)
        lowest = min(rows.values(), default=0.0)
        return {key: row - lowest for key, row in rows.items()}

    def _height(self, key: Key) -> float:
        return LANE if isinstance(key, tuple) and key[:1] == ("lane",) else 1.0

    def _settle(self, column: list[Key], rows: dict[Key, float]) -> None:
        """Move each as near to the middle of its neighbours as the others leave room.

        What wants to be in one place is packed around its mean (as in isotonic regression).
        """
        blocks: list[tuple[float, float, list[Key]]] = []  # wish, height, members
        for key in column:
            wish = _mean([rows[k] for k in self.left[key] + self.right[key]], default=rows[key])
            block = (wish, self._height(key), [key])
            while blocks and blocks[-1][0] + blocks[-1][1] > block[0] + 1e-9:
                block = _joined(blocks.pop(), block)
            blocks.append(block)
        for start, _height, members in blocks:
            at = start
            for key in members:
                rows[key] = at
                at += self._height(key)


def _joined(
    upper: tuple[float, float, list[Key]], lower: tuple[float, float, list[Key]]
) -> tuple[float, float, list[Key]]:
    """Two blocks as one, starting where its members wish on average."""
    ours, theirs = len(upper[2]), len(lower[2])
    start = (upper[0] * ours + (lower[0] - upper[1]) * theirs) / (ours + theirs)
    return start, upper[1] + lower[1], upper[2] + lower[2]


def _mean(numbers: Sequence[float], *, default: float) -> float:
    return sum(numbers) / len(numbers) if numbers else default
