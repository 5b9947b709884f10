"""Tarn Hollow while it is being lived: who is there, what is planned, what is true of the seed.

Everything that is left to chance comes from one generator with a fixed seed, asked in the order
of the days; so the same today makes the same community.
"""

from __future__ import annotations

import calendar
import datetime as dt
import heapq
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random
from typing import Any

from accounts.models import Garden, Member
from library.catalogue.models import CountedAs, Species, Variety
from library.demo import source
from library.demo.seed import AT_HOME, CLONES_LAST_YEARS, Ageing, Vigour
from library.demo.source import Habit
from library.germination.dates import as_of
from library.stock.models import Lot, StoragePlace

SEASONS = 8
CHANCE = 1729
FROZEN_SHARE = 0.75  # of new jars, dried and sealed
PACES_APART = 0.4  # how far lots of one kind differ in how fast they age, in logarithms

Deed = Callable[[], Any]


class Diary:
    """What is going to happen, on which day; lived through in order."""

    def __init__(self, until: dt.date) -> None:
        self.until = until
        self._deeds: list[tuple[dt.date, int, Deed]] = []
        self._written = 0

    def on(self, day: dt.date, deed: Deed) -> None:
        """Do ``deed`` on ``day``, after what was written for that day before."""
        self._written += 1
        heapq.heappush(self._deeds, (day, self._written, deed))

    def live(self, look_up: Callable[[dt.date], None]) -> None:
        """Do everything up to the last day; what is planned for later stays undone."""
        while self._deeds and self._deeds[0][0] <= self.until:
            day, _number, deed = heapq.heappop(self._deeds)
            look_up(day)
            with as_of(day):
                deed()


@dataclass
class World:
    """The community on its way through the years."""

    today: dt.date
    rng: Random = field(default_factory=lambda: Random(CHANCE))  # noqa: S311 (a story)
    people: dict[str, Member] = field(default_factory=dict)
    villages: dict[str, str] = field(default_factory=dict)
    joined: dict[str, int] = field(default_factory=dict)
    keen: dict[str, int] = field(default_factory=dict)
    gardens: dict[str, list[Garden]] = field(default_factory=dict)
    places: dict[str, StoragePlace] = field(default_factory=dict)
    varieties: dict[str, Variety] = field(default_factory=dict)
    keys: dict[str, str] = field(default_factory=dict)
    vigour: dict[int, Vigour] = field(default_factory=dict)
    ageing: dict[int, Ageing] = field(default_factory=dict)
    test_days: dict[int, tuple[int, int]] = field(default_factory=dict)
    next_test: dict[int, dt.date] = field(default_factory=dict)
    last_counts: dict[int, list[dict[str, int]]] = field(default_factory=dict)
    spoilt: set[int] = field(default_factory=set)
    last_lent: dict[int, int] = field(default_factory=dict)
    kept_apart: set[int] = field(default_factory=set)
    cards_written: dict[int, dt.date] = field(default_factory=dict)
    notes_written: dict[int, dt.date] = field(default_factory=dict)
    in_stories: set[int] = field(default_factory=set)
    edited_on: dict[int, dt.date] = field(default_factory=dict)
    decided_on: dict[int, dt.date] = field(default_factory=dict)
    counted_on: dict[int, dt.date] = field(default_factory=dict)
    diary: Diary = field(init=False)

    def __post_init__(self) -> None:
        self.diary = Diary(self.today)

    # Days ---------------------------------------------------------------------------------
    def year(self, season: int) -> int:
        """The calendar year of a season: 0 is the first, 7 the last, 8 the one now running."""
        return self.today.year - SEASONS + season

    def season(self, day: dt.date) -> int:
        return day.year - self.today.year + SEASONS

    def day(self, season: int, month: int, day: int) -> dt.date:
        return dt.date(self.year(season), month, day)

    def between(self, first: dt.date, last: dt.date) -> dt.date:
        return first + dt.timedelta(days=self.rng.randint(0, (last - first).days))

    def after(self, day: dt.date, low: int, high: int) -> dt.date:
        return day + dt.timedelta(days=self.rng.randint(low, high))

    def swap_day(self, season: int) -> dt.date:
        """The last Saturday of February."""
        days = calendar.monthcalendar(self.year(season), 2)
        return dt.date(self.year(season), 2, max(week[calendar.SATURDAY] for week in days))

    def first_saturday(self, season: int, month: int) -> dt.date:
        days = calendar.monthcalendar(self.year(season), month)
        saturdays = [week[calendar.SATURDAY] for week in days if week[calendar.SATURDAY]]
        return dt.date(self.year(season), month, saturdays[0])

    # People -------------------------------------------------------------------------------
    def present(self, season: int) -> list[str]:
        """Who joined before a season began, in the order of the list."""
        return [name for name, since in self.joined.items() if since <= season]

    def at_desk(self, day: dt.date) -> Member:
        """A desk volunteer of that time; before there were others, Tansy."""
        season = self.season(day)
        serving = [
            name
            for name in ("Tansy", "Corbie", "Fernhill")
            if self.joined[name] <= season or name == "Tansy"
        ]
        return self.people[self.rng.choice(serving)]

    @property
    def coordinator(self) -> Member:
        return self.people["Yarrow"]

    @property
    def bench(self) -> Member:
        """Who keeps the germination bench."""
        return self.people["Merle"]

    # Seed ---------------------------------------------------------------------------------
    def card(self, key: str) -> Variety:
        """The variety of a story, by the key on its card."""
        return self.varieties[self.keys[key]]

    def habit(self, variety: Variety) -> Habit:
        return source.habits()[variety.crop.name]

    def place_for(self, variety: Variety) -> StoragePlace:
        """Where a new jar goes: most seed into the freezer, the rest into its tin."""
        frozen = variety.crop.counted_as == "seed" and self.rng.random() < FROZEN_SHARE
        return self.places["reserve" if frozen else self.habit(variety).place]

    def remember(self, lot: Lot, *, initial: float | None = None, harvest: dt.date) -> None:
        """Decide what is true of a new lot's seed."""
        habit = self.habit(lot.variety)
        if initial is None:
            initial = self.rng.gauss(habit.vigour, 0.03)
            if self.rng.random() < 0.06:  # a wet harvest, or dried too near the stove
                initial -= self.rng.uniform(0.15, 0.35)
        initial = min(0.99, max(0.05, initial))
        pace = self.rng.lognormvariate(0, PACES_APART)
        stays = [
            (harvest, self._ages_in(lot.variety, None)),
            (lot.received_on, self._ages_in(lot.variety, lot.storage_place)),
        ]
        self.vigour[lot.pk] = Vigour(initial, stays, pace)

    def moved(self, lot: Lot, place: StoragePlace | None, on: dt.date) -> None:
        """The jar lies elsewhere from a day on; at a member's home where no place is given."""
        self.vigour[lot.pk].moved(on, self._ages_in(lot.variety, place))

    def _ages_in(self, variety: Variety, place: StoragePlace | None) -> float:
        crop = variety.crop
        if crop.counted_as != CountedAs.SEED:
            return 1 / CLONES_LAST_YEARS
        species: Species = crop.species
        ageing = self.ageing.setdefault(species.pk, Ageing(species))
        if place is None:
            return ageing.in_air(*AT_HOME)
        keys = {each.pk: key for key, each in self.places.items()}
        return ageing.in_place(keys[place.pk])

    def say(
        self, occasion: str, of: Variety | None = None, month: int = source.LAST_MONTH
    ) -> str:
        place = self.habit(of).place if of else ""
        return self.rng.choice(source.words(occasion, place, min(month, source.LAST_MONTH)))
