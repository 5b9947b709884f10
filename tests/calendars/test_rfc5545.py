"""The validator itself: the RFC's own examples pass, and each broken sample is caught."""

from __future__ import annotations

import pytest

from tests.calendars.rfc5545 import complaints

EVENT = """BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//Example//Seed//EN
REFRESH-INTERVAL;VALUE=DURATION:PT6H
BEGIN:VEVENT
UID:1f5c
DTSTAMP:20260301T080000Z
DTSTART;VALUE=DATE:20260310
DTEND;VALUE=DATE:20260311
SUMMARY:Beans\\, dry\\; and more\\nbelow
SEQUENCE:0
STATUS:CONFIRMED
URL:https://seed.example.org/loans/1/?a=1;b
END:VEVENT
END:VCALENDAR
"""


def file(text: str) -> bytes:
    return text.replace("\n", "\r\n").encode()


def test_a_sound_file_passes():
    assert complaints(file(EVENT)) == []


# RFC 5545, 3.6.1 (an event of several days that does not take up time) and 3.6.2 (the to-do of
# a tax return, and one that is due in UTC), with the calendar around them from section 4.
PUBLISHED = [
    "BEGIN:VEVENT\nUID:20070423T123432Z-541111@example.com\nDTSTAMP:20070423T123432Z\n"
    "DTSTART;VALUE=DATE:20070628\nDTEND;VALUE=DATE:20070709\n"
    "SUMMARY:Festival International de Jazz de Montreal\nTRANSP:TRANSPARENT\nEND:VEVENT\n",
    "BEGIN:VTODO\nUID:20070313T123432Z-456553@example.com\nDTSTAMP:20070313T123432Z\n"
    "DUE;VALUE=DATE:20070501\nSUMMARY:Submit Quebec Income Tax Return for 2006\n"
    "CLASS:CONFIDENTIAL\nCATEGORIES:FAMILY,FINANCE\nSTATUS:NEEDS-ACTION\nEND:VTODO\n",
    "BEGIN:VTODO\nUID:20070514T103211Z-123404@example.com\nDTSTAMP:20070514T103211Z\n"
    "DTSTART:20070514T110000Z\nDUE:20070709T130000Z\nCOMPLETED:20070707T100000Z\n"
    "SUMMARY:Submit Revised Internet-Draft\nPRIORITY:1\nSTATUS:NEEDS-ACTION\nEND:VTODO\n",
]


@pytest.mark.parametrize("component", PUBLISHED)
def test_the_examples_of_the_rfc_pass(component):
    head = "BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//xyz Corp//NONSGML PDA Calendar//EN\n"

    assert complaints(file(head + component + "END:VCALENDAR\n")) == []


BROKEN = [
    ("URL:https://seed.example.org/loans/1/?a=1;b", "URL:/loans/1/", "URL is no URI"),
    ("UID:1f5c\n", "", "without UID"),
    ("UID:1f5c\n", "UID:1f5c\nUID:2\n", "UID 2 times"),
    ("DTSTAMP:20260301T080000Z\n", "", "without DTSTAMP"),
    ("DTSTAMP:20260301T080000Z", "DTSTAMP:20260301T080000", "no UTC time"),
    ("DTSTAMP:20260301T080000Z", "DTSTAMP:20260231T080000Z", "no UTC time"),
    ("DTSTART;VALUE=DATE:20260310\n", "", "without DTSTART"),
    ("DTSTART;VALUE=DATE:20260310", "DTSTART:20260310", "of type DATE-TIME"),
    ("DTSTART;VALUE=DATE:20260310", "DTSTART;VALUE=DATE:20261310", "of type DATE"),
    ("DATE:20260311", "DATE:20260310", "not later than DTSTART"),
    ("DTEND;VALUE=DATE:20260311", "DTEND:20260311T080000Z", "another type"),
    ("DTEND;", "DURATION:P1D\nDTEND;", "both an end and a DURATION"),
    ("DTEND;", "DUE;", "DUE, which it may not have"),
    ("dry\\;", "dry;", "not escaped"),
    ("Beans\\,", "Beans,", "not escaped"),
    ("\\nbelow", "\\below", "not escaped"),
    ("Beans", "Be\x07ns", "control character"),
    ("SEQUENCE:0", "SEQUENCE:-1", "SEQUENCE"),
    ("SEQUENCE:0", "SEQUENCE:0\nSEQUENCE:1", "SEQUENCE 2 times"),
    ("STATUS:CONFIRMED", "STATUS:NEEDS-ACTION", "STATUS of a VEVENT"),
    ("SEQUENCE:0", "PERCENT-COMPLETE:5", "PERCENT-COMPLETE, which it may not have"),
    ("SEQUENCE:0", "TRANSP:BUSY", "TRANSP"),
    ("VERSION:2.0\n", "", "without VERSION"),
    ("VERSION:2.0", "VERSION:1.0", "VERSION is"),
    ("PRODID:-//Example//Seed//EN\n", "", "without PRODID"),
    ("VERSION:2.0", "VERSION:2.0\nMETHOD:REQUEST", "METHOD is"),
    (";VALUE=DURATION:PT6H", ":PT6H", "without VALUE=DURATION"),
    ("PT6H", "6:00:00", "REFRESH-INTERVAL is"),
    ("PT6H", "PT", "REFRESH-INTERVAL is"),
    ("END:VEVENT\n", "", "closes VEVENT"),
    ("END:VCALENDAR\n", "", "not closed"),
    ("BEGIN:VCALENDAR\n", "", "3.6: VEVENT inside|outside of the calendar"),
    ("BEGIN:VEVENT", "BEGIN:VJOURNAL", "VJOURNAL inside"),
    ("SEQUENCE:0", "SEQUENCE 0", "no content line"),
    ("SUMMARY:Beans", "SUMMARY:" + "Beans" * 20, "octets"),
    ("SEQUENCE:0", "", "is empty"),
]


@pytest.mark.parametrize(("right", "wrong", "told"), BROKEN)
def test_a_broken_file_is_complained_of(right, wrong, told):
    assert right in EVENT

    found = complaints(file(EVENT.replace(right, wrong, 1)))

    assert any(part in line for line in found for part in told.split("|")), found


def test_line_ends_and_characters_are_looked_at_as_octets():
    assert "CRLF" in complaints(EVENT.encode())[0]
    assert "CRLF" in complaints(file(EVENT)[:-2])[0]
    assert "bare CR or LF" in complaints(file(EVENT).replace(b"\r\nUID", b"\nUID"))[0]
    split = "ü".encode()
    folded = file(EVENT).replace(b"Beans", split[:1] + b"\r\n " + split[1:])
    assert "inside a character" in complaints(folded)[0]


def test_two_events_of_one_uid_and_a_calendar_without_anything():
    body = EVENT[EVENT.index("BEGIN:VEVENT") : EVENT.index("END:VCALENDAR")]

    assert complaints(file(EVENT.replace(body, body * 2))) == ["3.8.4.7: UID 1f5c 2 times"]
    assert complaints(file(EVENT.replace(body, ""))) == ["3.6: a calendar without a component"]
