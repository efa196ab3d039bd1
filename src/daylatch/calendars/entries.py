"""The entries of a plan's calendar: one for each movement, each day, or each step of the times.

An entry keeps its identity for good: it is made of the site's id, the flock day and the movement,
and of nothing that may change (RFC 5545, 3.8.4.7; RFC 7986, 5.3). Times are UTC, which holds
whatever becomes of a zone's law, or named by the zone.
"""

from __future__ import annotations

import datetime as dt
import importlib
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol, cast

import numpy as np
from icalendar import Alarm, Event, vCategory, vDuration, vGeo

from daylatch.calendars.text import CalendarText
from daylatch.calendars.times import UtcTime, named_time, whole_date
from daylatch.calendars.upkeep import make_upkeep
from daylatch.clock import DoorClock, Fold
from daylatch.plan.daily.rules import Rule, Side
from daylatch.plan.day import spans_by_day
from daylatch.plan.reasons import reasons_of
from daylatch.site.choices.calendar_styles import STYLES
from daylatch.wording import offset_text, place_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from icalendar import vDatetime

    from daylatch.arrays import Times
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site, Span


SUMMARY = {Side.OPEN: "Open the hen house door", Side.CLOSE: "Close the hen house door"}
SHUT = "Door stays shut"
CATEGORY = "Hen house"

LEAST_LENGTH = np.timedelta64(5, "m")
"""An entry of no length is drawn by some calendars as none at all."""
_MOVES = {Side.OPEN: "Opens", Side.CLOSE: "Closes"}
_UID_OF = {Side.OPEN: "open", Side.CLOSE: "close"}
# About ten metres; and so small a number is never written with an exponent, which RFC 5545, 3.3.7
# does not know.
_GEO_DECIMALS = 4


def make_events(due: Due) -> list[Event]:
    """Return entries of due times, without stamps, in the order of days; then the upkeep's.

    By the site file's ``calendar.style``, `daylatch.site.choices.calendar_styles`. All-day entries
    have no reminder: it would be counted from midnight, and readers differ on whose.
    """
    entries = Entries(due)
    return [*style_of(due.plan).make_events(entries), *make_upkeep(due.plan, entries.fixed)]


def style_of(plan: Plan) -> Style:
    """Return what makes the entries of a plan's calendar."""
    name = plan.site.settings.calendar.style
    return cast("Style", importlib.import_module(STYLES[name].module))


def closing_ends(due: Due) -> Times:
    """Return when the entries of closings end [datetime64[m]]: at the head count."""
    return np.fmax(due.head_count_utc, due.told_close_utc + LEAST_LENGTH)


class Style(Protocol):
    """What the module of a calendar's style offers."""

    make_events: Callable[[Entries], Iterable[Event]]
    """Makes the entries, without stamps, in the order of days."""
    times_words: Callable[[Plan], list[str]]
    """Says what must be known of their times, beside the clock of the titles."""


class Entries:
    """Makes the entries of some days, with what all of them share."""

    def __init__(self, due: Due) -> None:
        plan = due.plan
        self.due = due
        self.plan = plan
        self.dates: list[dt.date] = plan.dates.tolist()
        self.settings = plan.site.settings.calendar
        self._face = plan.site.face
        told = {Side.OPEN: due.told_open_utc, Side.CLOSE: due.told_close_utc}
        self.wall = {side: plan.on_wall(times).wall for side, times in told.items()}
        self.door = {side: plan.on_door(times) for side, times in told.items()}
        self.planned = {
            Side.OPEN: plan.on_wall(plan.open_utc).wall,
            Side.CLOSE: plan.on_wall(plan.close_utc).wall,
        }
        self.fixed = fixed_properties(plan.site)
        self._alarms: dict[tuple[str, int], Alarm] = {}

    def movement(self, index: int, side: Side, start: vDatetime, end: vDatetime) -> Event:
        """Return the timed entry of one movement."""
        lines = self._description(index, (side,))
        reminder_min = self.settings.reminder_min if side is Side.CLOSE else None
        return self.timed(
            index, _UID_OF[side], SUMMARY[side], lines, start, end, reminder_min=reminder_min
        )

    def timed(
        self,
        index: int,
        kind: str,
        summary: str,
        lines: Iterable[str],
        start: vDatetime,
        end: vDatetime,
        *,
        reminder_min: int | None = None,
    ) -> Event:
        """Return a timed entry of one day, by a kind that tells it from others of that day."""
        event = self._entry(index, kind, summary, lines)
        event["DTSTART"] = start
        event["DTEND"] = end
        if reminder_min is not None:
            event.add_component(self._alarm(summary, reminder_min))
        return event

    def _alarm(self, summary: str, reminder_min: int) -> Alarm:
        """Return what reminds of an entry; most are reminded of alike."""
        if (summary, reminder_min) not in self._alarms:
            alarm = Alarm()
            alarm.add("ACTION", "DISPLAY")
            alarm.add("DESCRIPTION", summary)
            alarm.add("TRIGGER", vDuration(-dt.timedelta(minutes=reminder_min)))
            self._alarms[summary, reminder_min] = alarm
        return self._alarms[summary, reminder_min]

    def whole_day(self, index: int, kind: str) -> Event:
        """Return the all-day entry of one day, whether the door opens on it or not."""
        is_open = bool(self.due.is_open[index])
        times = [self.time_of_day(self.wall[side][index], index) for side in Side]
        summary = f"Door open {time_range(times)}" if is_open else SHUT
        return self.all_day(index, kind, summary, self._description(index, tuple(Side)))

    def all_day(self, index: int, kind: str, summary: str, lines: Iterable[str]) -> Event:
        """Return the all-day entry of one day, by a kind that tells it from others of that day."""
        event = self._entry(index, kind, summary, lines)
        event["DTSTART"] = whole_date(self.dates[index])
        # The end is not part of the entry (RFC 5545, 3.6.1).
        event["DTEND"] = whole_date(self.dates[index] + dt.timedelta(days=1))
        return event

    def head_count(self, index: int) -> str:
        """Return when heads are counted, on the wall clock; empty where that is not known."""
        return self.time_of_day(self._count[index], index)

    def time_of_day(self, wall: np.datetime64, index: int) -> str:
        """Return a wall-clock time, and its day if that is not the flock day's own date."""
        if np.isnat(wall):
            return ""
        moment = cast("dt.datetime", wall.item())
        time = self._face.time(moment.hour * 60 + moment.minute)
        match (moment.date() - self.dates[index]).days:
            case 0:
                return time
            case 1:
                return f"{time} (next day)"
            case -1:
                return f"{time} (previous day)"
            case _:  # across a date that the calendar skipped
                return f"{time} ({moment.date()})"

    def _entry(self, index: int, kind: str, summary: str, lines: Iterable[str]) -> Event:
        """Return an entry without its time."""
        event = Event()
        event["UID"] = CalendarText(f"{self.plan.site.id}-{self.dates[index]:%Y%m%d}-{kind}")
        event["SUMMARY"] = CalendarText(summary)
        event.update(self.fixed)
        description = "\n".join(lines)
        if description:
            event["DESCRIPTION"] = CalendarText(description)
        return event

    def _description(self, index: int, sides: tuple[Side, ...]) -> Iterator[str]:
        if self.due.is_open[index]:
            yield from self.beside(index, sides)
            on_door = [self.door[side].wall[index] for side in sides]
            yield from self.ways_of_the_door(index, sides, on_door)
        yield from self.shown(index, sides)

    def beside(self, index: int, sides: tuple[Side, ...]) -> Iterator[str]:
        """Yield what is planned, where something else is due, and what is amiss about it."""
        due = self.due
        if not due.known[index]:
            yield from self.how_sure(index)
        elif due.differs[index] and self.plan.is_open[index]:
            planned = [self.time_of_day(self.planned[side][index], index) for side in sides]
            yield f"Planned: {time_range(planned)}."
        if Side.CLOSE in sides and due.closes_in_daylight[index]:
            by_hand = self.plan.settings.shut_in_by_hand[index]
            then = "shut the birds in by hand" if by_hand else "see that all birds are in"
            yield f"It closes in daylight: {then} before."

    def how_sure(self, index: int) -> Iterator[str]:
        """Yield how sure the times of a day are, where it is not known when the door moves."""
        if not self.due.known[index]:
            by_min = self.due.up_to_min
            how = "not known" if by_min is None else f"up to {by_min} min later"
            yield f"Planned; when the door really moves is {how}."

    def ways_of_the_door(
        self, index: int, sides: tuple[Side, ...], on_door: list[np.datetime64]
    ) -> Iterator[str]:
        """Yield what its own clock shows at these movements, and whether it closes twice."""
        if self.plan.door_clock is not DoorClock.WALL:
            yield self._door_clock(index, sides, on_door)
        if Side.CLOSE in sides and self.plan.settings.second_pass[index]:
            yield "The door closes once more at the head count."

    def shown(self, index: int, sides: tuple[Side, ...]) -> Iterator[str]:
        """Yield what readers of the calendar may also see."""
        if "reasons" in self.settings.show:
            yield from self._reasons(index, sides)
        if "notes" in self.settings.show and self.plan.site.settings.head.notes:
            yield self.plan.site.settings.head.notes

    def _reasons(self, index: int, sides: tuple[Side, ...]) -> Iterator[str]:
        """Yield why a day's movements come when they do, and the reasons of its dated spans."""
        if not self.plan.is_open[index]:
            yield f"Why: {self._why[Side.OPEN][index]}"
            if self.plan.decisions.open.decided_by[index] == Rule.SHUT_SPAN:
                return  # the spans are named already
        else:
            for side in sides:
                yield f"{_MOVES[side]}: {self._why[side][index]}"
        for span in self._spans[index]:
            if span.reason:
                yield f"Dated span: {span.reason}"

    @cached_property
    def _count(self) -> Times:
        return self.plan.on_wall(self.due.head_count_utc).wall

    @cached_property
    def _why(self) -> dict[Side, list[str]]:
        return {side: reasons.column() for side, reasons in reasons_of(self.plan).items()}

    @cached_property
    def _spans(self) -> list[tuple[Span, ...]]:
        return spans_by_day(self.plan.site.settings.spans, self.plan.dates).column()

    def _door_clock(self, index: int, sides: tuple[Side, ...], on_door: list[np.datetime64]) -> str:
        """Return what the door's own clock shows."""
        times = [self.time_of_day(wall, index) for wall in on_door]
        clock = "UTC"
        if self.plan.door_clock is DoorClock.STANDARD:
            clock = f"standard time, UTC{offset_text(self.door[sides[0]].offset[index])}"
        return f"On the door's clock ({clock}): {time_range(times)}"


def time_range(times: list[str]) -> str:
    """Return two times as a range."""
    return "\N{EN DASH}".join(times)


def fixed_properties(site: Site) -> dict[str, Any]:
    """Return what every entry of a site says: it holds, and marks nobody as busy; where, if shown.

    That it holds is the standard's default, but must be said to a reader that was told before that
    it is cancelled.
    """
    fixed: dict[str, Any] = {
        "CATEGORIES": vCategory([CATEGORY]),
        "STATUS": CalendarText("CONFIRMED"),
        "TRANSP": CalendarText("TRANSPARENT"),
    }
    if "place" in site.settings.calendar.show:
        north, east = site.latitude_deg, site.longitude_deg
        fixed["LOCATION"] = CalendarText(site.place_name or place_text(north, east))
        # Adding zero turns -0.0, which rounding can leave, into 0.0.
        fixed["GEO"] = vGeo((round(north, _GEO_DECIMALS) + 0.0, round(east, _GEO_DECIMALS) + 0.0))
    return fixed


def describe_times(plan: Plan) -> str:
    """Return which clock timed entries are in."""
    if plan.site.settings.calendar.times == "zone":
        return f"Times are wall-clock times of {plan.zone.name}."
    return "Times are written in UTC; a calendar shows them by its reader's clock."


def moments(plan: Plan, starts: Times, ends: Times) -> Iterator[tuple[vDatetime, vDatetime]]:
    """Yield start and end of entries as the calendar names them.

    A time that the wall clock shows twice cannot be told by the zone's name: there it means the
    first of the two (RFC 5545, 3.3.5), and readers differ. Such an entry is written in UTC.
    """
    zone = plan.zone
    # The library takes the name UTC off a time, which would leave it without any zone.
    in_utc = np.full(starts.shape, plan.site.settings.calendar.times == "utc" or zone.name == "UTC")
    walls = [zone.to_local(instants).wall for instants in (starts, ends)]
    for wall in walls:
        in_utc |= zone.to_instants(wall, Fold.EARLIER) != zone.to_instants(wall, Fold.LATER)
    columns = (instants.tolist() for instants in (starts, ends, *walls))
    for start, end, wall_start, wall_end, utc in zip(*columns, in_utc, strict=True):
        if utc:
            yield UtcTime(start), UtcTime(end)
        else:
            yield named_time(wall_start, zone.name), named_time(wall_end, zone.name)
