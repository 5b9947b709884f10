"""Which lots of a chain the picture shows, and what lies behind those that open."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from library.provenance.chain import Chain, came_about
from library.provenance.walking import Link
from library.stock.models import Lot, Origin


@dataclass(frozen=True)
class Behind:
    """What is not shown behind a lot: so many lots, of them so many deposits."""

    lots: int
    deposits: int


@dataclass(frozen=True)
class Shown:
    """The lots that are shown, by key, the links between them, and what is behind each."""

    lots: Mapping[int, Lot]
    links: tuple[Link, ...]
    behind: Mapping[int, Behind]

    @property
    def order(self) -> list[int]:
        return sorted(self.lots)


def shown_of(chain: Chain, *, generations: int | None, opened: Iterable[int]) -> Shown:
    """The lots within so many links of where the chain begins, and of each opened lot; None
    shows all.
    """
    onward = _onward(chain)
    keys = set(chain.lots) if generations is None else set()
    if generations is not None:
        for start in (chain.lot.pk, *opened):
            if start in chain.lots:
                keys |= _within(start, onward, generations)
        keys = _reached(chain.lot.pk, onward, keys)
    links = tuple(
        link for link in chain.walk.links if link.child in keys and link.parent in keys
    )
    behind = {key: _behind(key, onward, keys, chain) for key in keys}
    return Shown(
        lots={key: chain.lots[key] for key in sorted(keys)},
        links=links,
        behind={key: found for key, found in behind.items() if found.lots},
    )


def _onward(chain: Chain) -> Mapping[int, list[int]]:
    """Away from where the walk began: to parents, or of descendants to children."""
    if chain.lot.pk == max(chain.lots):
        return {pk: [link.parent for link in links] for pk, links in chain.parents.items()}
    return {pk: [link.child for link in links] for pk, links in chain.children.items()}


def _within(start: int, onward: Mapping[int, list[int]], links: int) -> set[int]:
    distance, waiting = {start: 0}, deque([start])
    while waiting:
        here = waiting.popleft()
        if distance[here] == links:
            continue
        for there in onward.get(here, ()):
            if there not in distance:
                distance[there] = distance[here] + 1
                waiting.append(there)
    return set(distance)


def _reached(start: int, onward: Mapping[int, list[int]], keys: set[int]) -> set[int]:
    """Those that hang together with the beginning; an opened lot that is not shown is not."""
    found, waiting = {start}, [start]
    while waiting:
        for there in onward.get(waiting.pop(), ()):
            if there in keys and there not in found:
                found.add(there)
                waiting.append(there)
    return found


def _behind(key: int, onward: Mapping[int, list[int]], shown: set[int], chain: Chain) -> Behind:
    hidden = [there for there in onward.get(key, ()) if there not in shown]
    found = set(hidden)
    while hidden:
        for there in onward.get(hidden.pop(), ()):
            if there not in found and there not in shown:
                found.add(there)
                hidden.append(there)
    deposits = sum(came_about(chain.lots[pk]) == Origin.DEPOSIT for pk in found)
    return Behind(len(found), deposits)
