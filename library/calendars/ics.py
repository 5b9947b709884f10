"""A calendar as text, by RFC 5545 and RFC 7986.

Why events, and tasks only by choice: what is due here is a day, and the programs people
subscribe with (phones, web calendars, office suites) show the VEVENTs of a subscription and
leave its VTODOs out; a calendar that is empty on the phone reminds nobody. Whoever uses a
program that shows tasks can choose VTODO. Never both: such a program would show all twice.

No METHOD: a subscription is no scheduling message, and PUBLISH would need an ORGANIZER with an
email in each event (RFC 5546, 3.2.1). DTSTAMP is then the last revision (RFC 5545, 3.8.7.2), so
the same entries give the same bytes, and the same ETag.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable

from icalendar import Calendar, Event, Timezone, TimezoneStandard, Todo, vDuration, vText
from icalendar.cal.component import Component

from library.calendars.models import Entry, Feed

PRODID = "-//Sowback//What is due//EN"
REFRESHED_EVERY = dt.timedelta(hours=6)
ONE_DAY = dt.timedelta(days=1)
AS_TASK = uuid.UUID("5b9a2f0e-6c1b-4c6f-9b39-0d6a3c1f7a52")


def write_calendar(
    entries: Iterable[Entry], *, name: str, about: str, site: str, style: str
) -> bytes:
    """``entries`` as a calendar in UTF-8. ``site`` is put before each entry's address."""
    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    # RFC 7986; the X- ones are the same for programs that are older than it.
    for names, value in (
        (("name", "x-wr-calname"), vText(name)),
        (("description", "x-wr-caldesc"), vText(about)),
    ):
        for each in names:
            calendar.add(each, value)
    calendar.add(
        "refresh-interval", vDuration(REFRESHED_EVERY), parameters={"VALUE": "DURATION"}
    )
    calendar.add("x-published-ttl", vDuration(REFRESHED_EVERY))
    write = _task if style == Feed.Style.TASKS else _event
    for entry in entries:
        calendar.add_component(write(entry, site))
    if not calendar.subcomponents:
        calendar.add_component(_nothing())
    return calendar.to_ical()


def _nothing() -> Component:
    """A calendar must hold a component (RFC 5545, 3.6), also when nothing is due."""
    zone, standard = Timezone(), TimezoneStandard()
    zone.add("tzid", "Etc/UTC")
    standard.add("dtstart", dt.datetime(1970, 1, 1))  # noqa: DTZ001 (local by definition)
    standard.add("tzoffsetfrom", dt.timedelta())
    standard.add("tzoffsetto", dt.timedelta())
    zone.add_component(standard)
    return zone


def _event(entry: Entry, site: str) -> Component:
    event = Event()
    event.add("uid", str(entry.uid))
    event.add("dtstart", entry.due_on)  # a DATE: that day wherever the reader is
    event.add("dtend", entry.due_on + ONE_DAY)  # the first day after it
    event.add("transp", "TRANSPARENT")  # who has seed to bring is not busy all day
    event.add("status", "CANCELLED" if entry.ended_at else "CONFIRMED")
    return _told(event, entry, site)


def _task(entry: Entry, site: str) -> Component:
    task = Todo()
    # Not the event's UID: a program that knew it as an event would not take it as a task.
    task.add("uid", str(uuid.uuid5(AS_TASK, str(entry.uid))))
    task.add("due", entry.due_on)
    task.add("status", "CANCELLED" if entry.ended_at else "NEEDS-ACTION")
    return _told(task, entry, site)


def _told(component: Component, entry: Entry, site: str) -> Component:
    address = site + entry.url
    component.add("dtstamp", _whole(entry.changed_at))
    component.add("created", _whole(entry.made_at))
    component.add("last-modified", _whole(entry.changed_at))
    component.add("sequence", entry.sequence)
    component.add("summary", entry.title)
    # Many programs do not show URL, so the address is in the words as well.
    component.add("description", f"{entry.detail}\n\n{address}".strip())
    component.add("url", address)
    return component


def _whole(moment: dt.datetime) -> dt.datetime:
    return moment.astimezone(dt.UTC).replace(microsecond=0)
