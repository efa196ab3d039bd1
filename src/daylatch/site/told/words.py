"""What a site file says, in a keeper's words: every table with a key in it, in a line or two.

The settings of a day and the door are told whether the file gives them or not, because they hold;
of any other table its model tells what it says. No login that an address may carry is ever told.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.clock import DoorClock, zone_rules_version
from daylatch.console import printable
from daylatch.site.choices.works import WORKS
from daylatch.site.messages import told_text
from daylatch.site.table import chosen
from daylatch.site.tables import TABLES
from daylatch.site.told.span_words import describe_span, end_text
from daylatch.sun.lights import light_text
from daylatch.wording import capital

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from daylatch.site.table import Table
    from daylatch.site.tables import Day, Door, HeadCount, Night, Site

_DOOR = {
    DoorClock.WALL: "its clock keeps the wall clock's time, and changes with it",
    DoorClock.STANDARD: "its clock keeps standard time all year",
    DoorClock.UTC: "its clock keeps UTC",
}


def describe_site(site: Site, place: str, rules: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield what a site file says, each line with its label.

    Parameters
    ----------
    site
        As it was read.
    place
        Where it is, in words.
    rules
        The settings of the two movements, in words.
    """
    settings = site.settings
    yield "Name", told_text(site.name)
    yield "Id", site.id
    if settings.head.notes:
        yield "Notes", told_text(settings.head.notes)
    yield "Place", printable(place)
    yield "Zone", f"{site.zone} ({site.zone_source.value}); time-zone rules {zone_rules_version()}"
    yield "Door", f"{_works(settings.door)}; {_DOOR[settings.door.clock]}"
    for rule in (*rules, *_nothing_asked(settings.day, settings.night)):
        yield "Rule", rule
    yield "Head count", _head_count(settings.head_count)
    for name in TABLES:
        table: Table | None = getattr(settings, name)
        words = (
            "; ".join(table.told(settings.writing.ways))
            if table is not None and table.model_fields_set
            else ""
        )
        if words:
            yield name.capitalize(), capital(words)
    for number, span in enumerate(settings.spans, start=1):
        yield f"Span {number}", describe_span(span, site.face)


def _nothing_asked(day: Day, night: Night) -> Iterator[str]:
    """Yield that no least open time or night is asked for, and how one of a span would be kept."""
    if not day.least_open_h:
        how = f"; one of a span is kept {end_text(day.widen)}" if chosen(day, "widen") else ""
        guard = f"; guard: {light_text(day.guard)}" if chosen(day, "guard") else ""
        yield f"No least open time{how}{guard}"
    if not night.least_h:
        how = f"; one of a span is kept {end_text(night.lengthen)}"
        yield f"No least night{how if chosen(night, 'lengthen') else ''}"


def _works(door: Door) -> str:
    """Return what works the door."""
    words = f"worked by {WORKS[door.works].words}"
    if door.within_min is not None:
        words += f", whose table may move it up to {door.within_min} min late"
    return words if door.in_use is None else f"{words}; in use: {told_text(door.in_use)}"


def _head_count(head_count: HeadCount) -> str:
    again = "; the door closes once more then" if head_count.second_pass else ""
    return f"{head_count.after_close_min} min after closing{again}"
