"""Plans for the calendar tests, and a reader of calendar files.

The reader comes from the text of RFC 5545 and not from the library that writes.
"""

import datetime as dt
import io
import json
import re
from dataclasses import dataclass, field
from importlib import resources
from zoneinfo import ZoneInfo

import numpy as np
from dateutil.tz import tzical

from daylatch.calendars.plan_calendar import render
from daylatch.files.occasion import Occasion
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import read_site

SITE_ID = "7b1f0c62-6c1e-4a51-9a5e-0d6c1f2a3b4c"
STAMP = dt.datetime(2026, 12, 1, 12, 0, tzinfo=dt.UTC)
FALLBACKS = '[open]\nfallback = "05:30"\n[close]\nfallback = "22:30"\n'

ZONES = [
    # zone, place, first and last date: around every change of the time between them
    ("Europe/Dublin", (53.3, -6.3), "2027-03-15", "2027-11-10"),
    ("Africa/Casablanca", (33.6, -7.6), "2026-02-05", "2026-10-01"),
    ("Australia/Lord_Howe", (-31.5, 159.1), "2027-03-25", "2027-10-10"),
    ("Antarctica/Troll", (-72.0, 2.5), "2027-03-01", "2027-11-05"),
    ("America/Vancouver", (49.3, -123.1), "2026-03-01", "2026-11-10"),
    ("Asia/Kathmandu", (27.7, 85.3), "2027-03-20", "2027-04-10"),
    ("Pacific/Apia", (-13.8, -171.8), "2011-09-15", "2012-04-10"),
    ("America/Santiago", (-33.4, -70.6), "2027-03-25", "2027-09-12"),
    ("America/St_Johns", (47.6, -52.7), "2027-03-01", "2027-03-31"),
    ("Pacific/Chatham", (-43.9, -176.5), "2027-03-28", "2027-10-01"),
    ("Africa/Cairo", (30.0, 31.2), "2027-04-20", "2027-11-05"),
    ("Pacific/Kiritimati", (1.9, -157.4), "2027-03-01", "2027-03-10"),
]


def make(
    first,
    last=None,
    tables="",
    *,
    zone="Europe/Amsterdam",
    place=(52.1, 5.2),
    name="North house",
    notes="",
):
    """Plan a range of a site given by its tables."""
    text = f"""
id = "{SITE_ID}"
name = {json.dumps(name, ensure_ascii=False)}
notes = {json.dumps(notes, ensure_ascii=False)}
[place]
latitude = {place[0]}
longitude = {place[1]}
zone = "{zone}"
{tables}
"""
    first = dt.date.fromisoformat(first)
    return make_plan(
        read_site(text, "x.toml"), first, dt.date.fromisoformat(last) if last else first
    )


def write(plan, previous=None, stamp=STAMP, *, update=False):
    return render(exactly(plan), Occasion(stamp, previous), update=update)


@dataclass
class Component:
    kind: str
    lines: list = field(default_factory=list)
    parts: list = field(default_factory=list)

    def value(self, name):
        return self.property(name)[1]

    def property(self, name):
        (found,) = [(params, value) for key, params, value in self.lines if key == name]
        return found

    def has(self, name):
        return any(key == name for key, _, _ in self.lines)

    def of(self, kind):
        return [part for part in self.parts if part.kind == kind]


def unfold(content):
    """RFC 5545, 3.1: CRLF and one blank or tab are taken out."""
    return re.sub(rb"\r\n[ \t]", b"", content).decode("utf-8").split("\r\n")


def read(content):
    """Return the calendar as a tree of components."""
    stack = [Component("")]
    lines = unfold(content)
    assert lines.pop() == ""
    for line in lines:
        head, _, value = line.partition(":")
        name, *params = head.split(";")
        if name == "BEGIN":
            stack.append(Component(value))
        elif name == "END":
            done = stack.pop()
            assert done.kind == value
            stack[-1].parts.append(done)
        else:
            stack[-1].lines.append((name, dict(p.split("=", 1) for p in params), value))
    (calendar,) = stack[0].parts
    assert calendar.kind == "VCALENDAR"
    return calendar


def unescape(value):
    """RFC 5545, 3.3.11."""
    assert not re.search(r"(?<!\\)(\\\\)*[,;]", value)
    return re.sub(r"\\([\\;,nN])", lambda m: "\n" if m[1] in "nN" else m[1], value)


def zone_of(content):
    """Return the file's own description of its zone, as dateutil understands it."""
    text = content.decode().replace("\r\n ", "")
    start, end = text.index("BEGIN:VTIMEZONE"), text.index("END:VTIMEZONE")
    return tzical(io.StringIO(text[start:end] + "END:VTIMEZONE\r\n")).get()


def shipped_zone(name):
    """Return a zone from the database package, whatever the system's is."""
    with (resources.files("tzdata") / "zoneinfo" / name).open("rb") as file:
        return ZoneInfo.from_file(file, name)


def instant(component, name, zone=None):
    """Return the UTC instant of a date-time of either form (RFC 5545, 3.3.5)."""
    params, value = component.property(name)
    time = dt.datetime.strptime(value.removesuffix("Z"), "%Y%m%dT%H%M%S")  # noqa: DTZ007
    if value.endswith("Z"):
        assert "TZID" not in params
        return np.datetime64(time, "m")
    return np.datetime64(time - time.replace(tzinfo=zone).utcoffset(), "m")


def movements(content, zone=None):
    """Return opening and closing instants by date and movement, and where entries end."""
    starts, ends = {}, {}
    for event in read(content).of("VEVENT"):
        date, kind = event.value("UID").removeprefix(SITE_ID + "-").split("-")
        if kind in {"open", "close"}:
            starts[date, kind] = instant(event, "DTSTART", zone)
            ends[date, kind] = instant(event, "DTEND", zone)
    return starts, ends


def planned(plan):
    """Return what `movements` should find."""
    starts, ends = {}, {}
    for index, date in enumerate(plan.dates):
        if plan.is_open[index]:
            day = str(date).replace("-", "")
            starts[day, "open"] = plan.open_utc[index]
            starts[day, "close"] = plan.close_utc[index]
            ends[day, "open"] = plan.open_utc[index] + np.timedelta64(5, "m")
            least = plan.close_utc[index] + np.timedelta64(5, "m")
            ends[day, "close"] = max(least, exactly(plan).head_count_utc[index])
    return starts, ends


def offset(text):
    """RFC 5545, 3.3.14."""
    match = re.fullmatch(r"([+-])(\d\d)(\d\d)", text)
    minutes = int(match[2]) * 60 + int(match[3])
    return dt.timedelta(minutes=-minutes if match[1] == "-" else minutes)
