"""The season on a calendar: a row for each promise, its steps on their days."""

from library.growouts.pictures.calendar.reading import SeasonCalendar, calendar_of

__all__ = ["SeasonCalendar", "calendar_of"]
