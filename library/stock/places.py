"""The tree of storage places, read in one query: paths, climates, what lies within."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal

from library.stock.models import Lot, StoragePlace

# Common practice, no source: a freezer set to -18 °C that is opened at times.
FROZEN_BELOW_C = Decimal(-15)
COLD = (StoragePlace.Kind.REFRIGERATOR, StoragePlace.Kind.FREEZER)


@dataclass(frozen=True)
class Climate:
    """What is known of the air around a place; each figure with the place that says it."""

    temperature_c: Decimal | None = None
    temperature_from: StoragePlace | None = None
    humidity_percent: Decimal | None = None
    humidity_from: StoragePlace | None = None

    @property
    def is_frozen(self) -> bool:
        return self.temperature_c is not None and self.temperature_c <= FROZEN_BELOW_C


@dataclass(frozen=True)
class PlaceRow:
    """One place as a line of the tree's list."""

    place: StoragePlace
    depth: int
    path: str
    climate: Climate
    within: list[StoragePlace] = field(default_factory=list)


class PlaceTree:
    """All storage places; a library has dozens, so they are read whole."""

    def __init__(self) -> None:
        self._places = {place.pk: place for place in StoragePlace.objects.all()}
        self._inside: dict[int | None, list[StoragePlace]] = {}
        for place in self._places.values():
            self._inside.setdefault(place.inside_id, []).append(place)

    def path(self, pk: int | None) -> str:
        """``Cellar › Freezer › Box 2``; empty for no place."""
        return " › ".join(place.name for place in reversed(list(self._upward(pk))))

    def top(self, pk: int) -> StoragePlace:
        """The place at the top in which a place lies: the building, as a rule."""
        return list(self._upward(pk))[-1]

    def climate(self, pk: int | None) -> Climate:
        """Each figure from the nearest place, upward, that gives it.

        What is warmed or cooled of its own has air of its own: the humidity of the room around
        a freezer says nothing about that inside it, so it is then not known. Nor does the
        warmth of the room say how cold a freezer in it is that nobody measured.
        """
        upward = self._up_to_the_cold(pk)
        warm = next((p for p in upward if p.temperature_c is not None), None)
        same_air = upward[: upward.index(warm) + 1] if warm else upward
        damp = next((p for p in same_air if p.humidity_percent is not None), None)
        return Climate(
            temperature_c=warm.temperature_c if warm else None,
            temperature_from=warm,
            humidity_percent=damp.humidity_percent if damp else None,
            humidity_from=damp,
        )

    def kind(self, pk: int | None) -> str:
        """What keeps the air: the nearest room, cupboard, refrigerator or freezer around a
        place; empty when there is none.
        """
        of_boxes = (StoragePlace.Kind.BOX, StoragePlace.Kind.SHELF)
        return next((p.kind for p in self._upward(pk) if p.kind not in of_boxes), "")

    def within(self, pk: int) -> list[int]:
        """The keys of a place and of all that lies in it."""
        found = [pk]
        for place in self._inside.get(pk, []):
            found += self.within(place.pk)
        return found

    def rows(self, inside: int | None = None, depth: int = 0) -> Iterator[PlaceRow]:
        """The tree from the top, each place before what lies in it."""
        for place in self._inside.get(inside, []):
            yield PlaceRow(
                place,
                depth,
                self.path(place.pk),
                self.climate(place.pk),
                self._inside.get(place.pk, []),
            )
            yield from self.rows(place.pk, depth + 1)

    def choices(self) -> list[tuple[int, str]]:
        """For a form's list, by path."""
        return [(row.place.pk, row.path) for row in self.rows()]

    def _up_to_the_cold(self, pk: int | None) -> list[StoragePlace]:
        found = []
        for place in self._upward(pk):
            found.append(place)
            if place.kind in COLD:
                break
        return found

    def _upward(self, pk: int | None) -> Iterator[StoragePlace]:
        while pk is not None:
            place = self._places[pk]
            yield place
            pk = place.inside_id


def climate_of(lot: Lot) -> Climate:
    """The climate in which a lot's jar lies, as far as it is known."""
    return PlaceTree().climate(lot.storage_place_id)
