"""What a recurring job is. No models here: the schedule is read before the apps are ready."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils.module_loading import import_string


@dataclass(frozen=True)
class Job:
    """A task called every ``every``, and on each new day if ``day_of`` tells the day.

    ``task`` and ``day_of`` are dotted paths; ``day_of`` turns a moment into the date where the
    library is.
    """

    name: str
    task: str
    every: dt.timedelta
    day_of: str = ""

    def is_due(self, last: dt.datetime | None, now: dt.datetime) -> bool:
        if last is None or now - last >= self.every:
            return True
        if last > now:  # the clock was set back
            return True
        return bool(self.day_of) and self._day(last) != self._day(now)

    def _day(self, moment: dt.datetime) -> dt.date:
        return import_string(self.day_of)(moment)
