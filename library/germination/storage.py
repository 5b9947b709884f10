"""A lot's way through its storage, from harvest to now, with what had to be assumed of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import accumulate
from operator import add

from library.science.moisture import (
    ORDINARY_ROOM,
    assumed_climate,
    oil_percent,
    seed_moisture,
)
from library.science.reasons import COMMON_PRACTICE, Reason, because
from library.science.viability import Stretch
from library.stock.models import Keeping, Lot, Origin
from library.stock.places import COLD, PlaceTree

# Common practice, no source: most seed of a temperate garden is in by then, and what is kept
# colder than a cellar is sealed up against damp.
HARVEST_MONTH, HARVEST_DAY = 10, 1
COLD_BELOW_C = 10.0
_ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class StorageHistory:
    """Where a lot lay, one stretch after the other from ``stored_on``, and what was assumed."""

    stored_on: dt.date
    stretches: tuple[Stretch, ...]
    notes: tuple[Reason, ...]
    places: tuple[Place | None, ...] = ()  # one for each stretch; None before it came

    @property
    def days(self) -> list[dt.date]:
        """The day on which each stretch begins, and last that on which the newest ends."""
        steps = (dt.timedelta(days=round(stretch.days)) for stretch in self.stretches)
        return list(accumulate(steps, add, initial=self.stored_on))


@dataclass(frozen=True)
class Place:
    """Where it lay from a day on; no key where nobody noted it."""

    since: dt.date
    key: int | None
    at_home: bool = False


def began(lot: Lot) -> tuple[dt.date, Reason]:
    """The day from which a lot's age is counted, and why: 1 October of its harvest year, or
    the day it came when that is earlier or the year is not known.
    """
    year, received_on = lot.harvest_year, lot.received_on
    if year is None:
        why = because("age_from_receipt", COMMON_PRACTICE, stored_on=received_on)
        return received_on, why
    stored_on = min(dt.date(year, HARVEST_MONTH, HARVEST_DAY), received_on)
    why = because("age_from_harvest", COMMON_PRACTICE, harvest_year=year, stored_on=stored_on)
    return stored_on, why


def history_of(lot: Lot, *, until: dt.date, tree: PlaceTree | None = None) -> StorageHistory:
    """The lot's storage from harvest until a day; the last stretch is where it lies then.

    Reads the lot's keepings and species, and of a bulked lot where the larger part of it lay
    before; give ``tree`` when asking about many lots.
    """
    stored_on, age = began(lot)
    places = _until(until, _in_time(lot.keepings.all()) or [_first(lot)])
    walk = _Walk(lot, tree or PlaceTree())
    if lot.origin == Origin.BULK:
        places = walk.in_the_larger_part(lot, stored_on) + places
    stretches = walk.before_receipt(stored_on, places[0].since)
    ends = [place.since for place in places[1:]] + [max(until, places[-1].since)]
    for place, end in zip(places, ends, strict=True):
        stretches.append(walk.through(place, days=(end - place.since).days))
    before = (None,) * (len(stretches) - len(places))
    notes = (age, *walk.notes)
    return StorageHistory(stored_on, tuple(stretches), notes, (*before, *places))


def _first(lot: Lot) -> Place:
    return Place(lot.received_on, lot.storage_place_id)


def _in_time(keepings: Iterable[Keeping]) -> list[Place]:
    """The places in order of time. A row written later is right from its day on.

    A lot handed to a member still names the library's place where it lay; it lies there no
    longer, unless a place was named since.
    """
    places: list[Place] = []
    before: Keeping | None = None
    at_home = False
    for row in keepings:
        if row.custodian_id is None:
            at_home = False
        elif before is None or row.storage_place_id != before.storage_place_id:
            at_home = row.storage_place_id is None
        elif row.custodian_id != before.custodian_id:
            at_home = True
        places = [place for place in places if place.since < row.since]
        places.append(Place(row.since, row.storage_place_id, at_home))
        before = row
    return places


def _until(until: dt.date, places: list[Place]) -> list[Place]:
    """Without what came later; a day more, since it may be tomorrow elsewhere on earth."""
    return [place for place in places if place.since <= until + _ONE_DAY] or places[:1]


def _from(day: dt.date, places: list[Place]) -> list[Place]:
    """From a day on: the place in which it lay then, and those that came later."""
    later = [place for place in places if place.since > day]
    before = [replace(place, since=day) for place in places if place.since <= day]
    return before[-1:] + later


class _Walk:
    """Goes from place to place with the seed, and notes what it has to assume."""

    def __init__(self, lot: Lot, tree: PlaceTree) -> None:
        species = lot.variety.crop.species
        measured = lot.moisture_percent
        self.tree = tree
        self.received_on = lot.received_on
        # Nobody measured 0 or 100 %: such a figure is taken for none.
        self.measured = float(measured) if measured and measured < 100 else None
        self.oil = oil_percent(family=species.family, botanical_name=species.botanical_name)
        self.moisture: float | None = None
        self.notes: list[Reason] = []

    def before_receipt(self, stored_on: dt.date, came_on: dt.date) -> list[Stretch]:
        """An ordinary room, from harvest until the lot came; nothing when it came at once."""
        days = (came_on - stored_on).days
        if days == 0:
            return []
        self._assume_room("storage_before_receipt", received_on=came_on)
        return [self._stretch(days, ORDINARY_ROOM.temperature_c, None, "room")]

    def in_the_larger_part(self, lot: Lot, stored_on: dt.date) -> list[Place]:
        """Where the largest of the lots lay that were bulked into it, until that day."""
        links = sorted(lot.parent_links.all(), key=lambda link: (-link.share, link.parent_id))
        places = _in_time(links[0].parent.keepings.all()) if links else []
        earlier = [place for place in places if place.since < lot.received_on]
        if earlier:
            self._note(because("storage_of_bulk", COMMON_PRACTICE, received_on=lot.received_on))
        return _from(stored_on, earlier)

    def through(self, place: Place, *, days: int) -> Stretch:
        """So many days in a place."""
        if place.at_home or place.key is None:
            key = "storage_at_home" if place.at_home else "storage_place_unknown"
            self._assume_room(key, since_on=place.since)
            return self._stretch(days, ORDINARY_ROOM.temperature_c, None, "room")
        kind, air = self.tree.kind(place.key), self.tree.climate(place.key)
        warmth = air.temperature_c
        temperature = self._assumed(kind, place) if warmth is None else float(warmth)
        humidity = None if air.humidity_percent is None else float(air.humidity_percent)
        if self._is_sealed(kind, temperature, humidity):
            return self._sealed(place, days, temperature)
        return self._stretch(days, temperature, humidity, kind)

    def _assume_room(self, key: str, **inputs: dt.date) -> None:
        self._note(
            because(
                key,
                COMMON_PRACTICE,
                temperature_c=ORDINARY_ROOM.temperature_c,
                humidity_percent=ORDINARY_ROOM.humidity_percent,
                **inputs,
            )
        )

    def _assumed(self, kind: str, place: Place) -> float:
        temperature = assumed_climate(kind).temperature_c
        self._note(
            because(
                "temperature_assumed",
                COMMON_PRACTICE,
                kind=kind or "room",
                since_on=place.since,
                temperature_c=temperature,
            )
        )
        return temperature

    def _is_sealed(self, kind: str, temperature: float, humidity: float | None) -> bool:
        """Whether the seed keeps the moisture with which it was shut away in the cold."""
        unmeasured = self.measured is None and humidity is None
        return unmeasured and (kind in COLD or temperature <= COLD_BELOW_C)

    def _sealed(self, place: Place, days: int, temperature: float) -> Stretch:
        if self.moisture is None:  # it came straight into the cold
            return self._stretch(days, temperature, None, "freezer")
        self._note(
            because(
                "moisture_sealed_in",
                COMMON_PRACTICE,
                since_on=place.since,
                percent=round(self.moisture, 1),
            )
        )
        return Stretch(days=days, temperature_c=temperature, moisture_percent=self.moisture)

    def _stretch(
        self, days: int, temperature: float, humidity: float | None, kind: str
    ) -> Stretch:
        moist = seed_moisture(
            measured_percent=self.measured,
            humidity_percent=humidity,
            temperature_c=temperature,
            oil_percent=self.oil,
            kind=kind,
        )
        self._note(moist.why)
        self.moisture = moist.percent
        return Stretch(days=days, temperature_c=temperature, moisture_percent=moist.percent)

    def _note(self, why: Reason) -> None:
        if why not in self.notes:
            self.notes.append(why)
