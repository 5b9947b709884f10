"""Does a file keep the rules of RFC 5545 (and RFC 7986) for what this library writes?

Written from the RFCs' text and on purpose without the library that writes the file. It knows
events and tasks without recurrence, and the plainest time zone; it complains of whatever else.
"""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from urllib.parse import urlsplit

# 3.1: name *(";" param) ":" value; quoted parameter values hold no DQUOTE, others no ";:,".
NAME = r"[A-Za-z0-9-]+"
PARAMETER = rf'{NAME}=(?:"[^"\x00-\x08\x0a-\x1f\x7f]*"|[^";:,\x00-\x08\x0a-\x1f\x7f]*)'
LINE = re.compile(rf"({NAME})((?:;{PARAMETER})*):(.*)", re.DOTALL)
CONTROL = re.compile(r"[\x00-\x08\x0a-\x1f\x7f]")
# 3.3.11: a backslash only before \ ; , n N; semicolon and comma only behind a backslash.
TEXT = re.compile(r"(?:[^\\;,]|\\[\\;,nN])*")
# 3.3.6, without weeks mixed in; at least one figure.
DURATION = re.compile(r"[+]?P(?:\d+W|(?=.)(?:\d+D)?(?:T(?=\d)(?:\d+H)?(?:\d+M)?(?:\d+S)?)?)")

TEXTS = {
    "SUMMARY", "DESCRIPTION", "NAME", "PRODID", "UID", "LOCATION", "COMMENT", "CONTACT", "TZID",
}  # fmt: skip
ONCE = {
    "VCALENDAR": {"PRODID", "VERSION", "CALSCALE", "METHOD"}
    # RFC 7986, 4
    | {"UID", "LAST-MODIFIED", "URL", "REFRESH-INTERVAL", "SOURCE", "COLOR"},
    "VEVENT": {
        "DTSTAMP", "UID", "DTSTART", "CLASS", "CREATED", "DESCRIPTION", "GEO", "LAST-MODIFIED",
        "LOCATION", "ORGANIZER", "PRIORITY", "SEQUENCE", "STATUS", "SUMMARY", "TRANSP", "URL",
        "DTEND", "DURATION", "COLOR",
    },
    "VTODO": {
        "DTSTAMP", "UID", "CLASS", "COMPLETED", "CREATED", "DESCRIPTION", "DTSTART", "GEO",
        "LAST-MODIFIED", "LOCATION", "ORGANIZER", "PERCENT-COMPLETE", "PRIORITY", "SEQUENCE",
        "STATUS", "SUMMARY", "URL", "DUE", "DURATION", "COLOR",
    },
    "VTIMEZONE": {"TZID", "LAST-MODIFIED", "TZURL"},
    "STANDARD": {"DTSTART", "TZOFFSETFROM", "TZOFFSETTO"},
}  # fmt: skip
OFTEN = {
    "VCALENDAR": {"NAME", "DESCRIPTION", "CATEGORIES", "IMAGE"},
    "VEVENT": {"ATTACH", "CATEGORIES", "COMMENT", "CONTACT", "RELATED-TO", "RESOURCES"},
    "VTODO": {"ATTACH", "CATEGORIES", "COMMENT", "CONTACT", "RELATED-TO", "RESOURCES"},
    "VTIMEZONE": set(),
    "STANDARD": {"COMMENT", "TZNAME"},
}
NEEDED = {
    "VCALENDAR": {"PRODID", "VERSION"},
    "VEVENT": {"UID", "DTSTAMP", "DTSTART"},  # 3.6.1: DTSTART where there is no METHOD
    "VTODO": {"UID", "DTSTAMP"},
    "VTIMEZONE": {"TZID"},
    "STANDARD": {"DTSTART", "TZOFFSETFROM", "TZOFFSETTO"},
}
INSIDE = {
    "": {"VCALENDAR"},
    "VCALENDAR": {"VEVENT", "VTODO", "VTIMEZONE"},
    "VEVENT": set(),
    "VTODO": set(),
    "VTIMEZONE": {"STANDARD"},
    "STANDARD": set(),
}
STATUS = {
    "VEVENT": {"TENTATIVE", "CONFIRMED", "CANCELLED"},
    "VTODO": {"NEEDS-ACTION", "COMPLETED", "IN-PROCESS", "CANCELLED"},
}


@dataclass
class Property:
    name: str
    parameters: dict[str, str]
    value: str


@dataclass
class Component:
    name: str
    properties: list[Property] = field(default_factory=list)
    components: list[Component] = field(default_factory=list)

    def get(self, name: str) -> Property | None:
        return next((p for p in self.properties if p.name == name), None)


def complaints(content: bytes) -> list[str]:
    """What is wrong with the file; nothing when it keeps the rules."""
    found = list(_of_lines(content))
    if found:
        return found
    text = content.decode().replace("\r\n ", "").replace("\r\n\t", "")
    top = Component("")
    return [*_of_structure(text.removesuffix("\r\n").split("\r\n"), top), *_of_content(top)]


def _of_lines(content: bytes) -> Iterator[str]:
    if not content.endswith(b"\r\n"):
        yield "3.1: the last line does not end with CRLF"
    if content.startswith(b"\xef\xbb\xbf"):
        yield "a byte order mark"
    for number, line in enumerate(content.removesuffix(b"\r\n").split(b"\r\n"), 1):
        if b"\r" in line or b"\n" in line:
            yield f"3.1: line {number} has a bare CR or LF"
        if len(line) > 75:
            yield f"3.1: line {number} has {len(line)} octets"
        if not line.strip():
            yield f"3.1: line {number} is empty"
        try:
            line.decode()
        except UnicodeDecodeError:
            yield f"3.1.4: line {number} is not UTF-8, or folded inside a character"


def _of_structure(lines: list[str], top: Component) -> Iterator[str]:
    """Builds the tree below ``top``."""
    open_ones = [top]
    for line in lines:
        match = LINE.fullmatch(line)
        if not match:
            yield f"3.1: no content line: {line!r}"
            continue
        name, value = match[1].upper(), match[3]
        if CONTROL.search(value):
            yield f"3.1: a control character in {name}"
        here = open_ones[-1]
        if name == "BEGIN":
            if value not in INSIDE[here.name]:
                yield f"3.6: {value} inside {here.name or 'the file'}"
                return
            here.components.append(Component(value))
            open_ones.append(here.components[-1])
        elif name == "END":
            if value != here.name:
                yield f"3.6: END:{value} closes {here.name}"
                return
            open_ones.pop()
        elif here is top:
            yield f"3.4: {name} outside of the calendar"
            return
        else:
            pairs = (p.partition("=") for p in re.findall(rf";({PARAMETER})", match[2]))
            parameters = {key.upper(): value.strip('"') for key, _eq, value in pairs}
            here.properties.append(Property(name, parameters, value))
    if len(open_ones) > 1:
        yield f"3.6: {open_ones[-1].name} is not closed"


def _of_content(top: Component) -> Iterator[str]:
    if len(top.components) != 1:
        yield f"{len(top.components)} calendars"
    for calendar in top.components:
        if not calendar.components:
            yield "3.6: a calendar without a component"
        yield from _of_component(calendar)
        uids = Counter(
            p.value for c in calendar.components for p in c.properties if p.name == "UID"
        )
        yield from (f"3.8.4.7: UID {uid} {n} times" for uid, n in uids.items() if n > 1)


def _of_component(component: Component) -> Iterator[str]:
    name = component.name
    counted = Counter(p.name for p in component.properties)
    for missing in sorted(NEEDED[name] - set(counted)):
        yield f"{name} without {missing}"
    for each, times in counted.items():
        if each in ONCE[name]:
            if times > 1:
                yield f"{name} with {each} {times} times"
        elif each not in OFTEN[name] and not each.startswith("X-"):
            yield f"{name} with {each}, which it may not have"
    for each in component.properties:
        yield from _of_property(component, each)
    yield from _of_days(component)
    for inner in component.components:
        yield from _of_component(inner)


def _of_property(component: Component, found: Property) -> Iterator[str]:
    name, value, kind = found.name, found.value, found.parameters.get("VALUE")
    if name in TEXTS and not TEXT.fullmatch(value):
        yield f"3.3.11: {name} is not escaped: {value!r}"
    if name == "UID" and not value:
        yield "an empty UID"
    if name in {"DTSTAMP", "CREATED", "LAST-MODIFIED", "COMPLETED"} and not _is_utc(value):
        yield f"{name} is no UTC time: {value}"
    if name == "VERSION" and value != "2.0":
        yield f"VERSION is {value}"
    if name == "CALSCALE" and value != "GREGORIAN":
        yield f"CALSCALE is {value}"
    if name == "METHOD" and value != "PUBLISH":
        yield f"METHOD is {value}"
    if name == "SEQUENCE" and not value.isdecimal():
        yield f"SEQUENCE is {value}"
    if name == "STATUS" and value not in STATUS.get(component.name, ()):
        yield f"STATUS of a {component.name} is {value}"
    if name == "TRANSP" and value not in {"OPAQUE", "TRANSPARENT"}:
        yield f"TRANSP is {value}"
    if name in {"URL", "SOURCE", "TZURL"} and not _is_uri(value):
        yield f"{name} is no URI: {value}"
    if name == "REFRESH-INTERVAL":
        if kind != "DURATION":
            yield "RFC 7986, 5.7: REFRESH-INTERVAL without VALUE=DURATION"
        if not DURATION.fullmatch(value):
            yield f"REFRESH-INTERVAL is {value}"
    if name in {"DTSTART", "DTEND", "DUE"} and component.name != "STANDARD":
        # 3.8.2.4: DATE-TIME unless VALUE says DATE; a time without zone is not wanted here.
        fits = _is_date(value) if kind == "DATE" else _is_utc(value)
        if not fits:
            yield f"{name} is {value}, of type {kind or 'DATE-TIME'}"


def _of_days(component: Component) -> Iterator[str]:
    start = component.get("DTSTART")
    if component.get("DURATION") and (component.get("DTEND") or component.get("DUE")):
        yield f"{component.name} with both an end and a DURATION"
    for name in ("DTEND", "DUE"):
        end = component.get(name)
        if not (start and end):
            continue
        if start.parameters.get("VALUE") != end.parameters.get("VALUE"):
            yield f"{name} is of another type than DTSTART"
        elif end.value <= start.value:
            yield f"3.8.2.2: {name} {end.value} is not later than DTSTART {start.value}"


def _is_date(value: str) -> bool:
    return _is_read_by(value, r"\d{8}", "%Y%m%d")


def _is_utc(value: str) -> bool:
    return _is_read_by(value, r"\d{8}T\d{6}Z", "%Y%m%dT%H%M%SZ")


def _is_read_by(value: str, shape: str, form: str) -> bool:
    if not re.fullmatch(shape, value):
        return False
    try:
        dt.datetime.strptime(value, form)  # noqa: DTZ007 (only whether it can be read)
    except ValueError:
        return False
    return True


def _is_uri(value: str) -> bool:
    parts = urlsplit(value)
    return bool(parts.scheme and parts.netloc) and not re.search(r"[\s<>\"{}|\\^`]", value)
