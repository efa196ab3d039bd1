"""The plan as CSV (RFC 4180), a row a flock day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files.csv_file import defuse, lay_out
from daylatch.files.own import header_is
from daylatch.plan.due_words import due_notes
from daylatch.plan.reasons import reason
from daylatch.wording import local_text, minutes_text, utc_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.files.occasion import Occasion
    from daylatch.plan.due import Due

HEADER = (
    "date",
    "open_local",
    "open_utc",
    "open_door_clock",
    "open_reason",
    "close_local",
    "close_utc",
    "close_door_clock",
    "close_reason",
    "head_count_local",
    "next_open_local",
    "lock_in_min",
    "open_shortfall_min",
    "night_shortfall_min",
    "open_due_local",
    "open_due_utc",
    "open_late_min",
    "close_due_local",
    "close_due_utc",
    "close_late_min",
    "close_in_daylight",
    "span_reason",
    "zone",
    "zone_rules",
    "caution",
)
wrote = header_is(HEADER)


def render(due: Due, occasion: Occasion) -> bytes:
    """Return the file: UTF-8, CRLF, times in ISO 8601 with their distance from UTC.

    Opening and closing are planned; head count, next opening and lock-in are due. A cell of text
    that a spreadsheet would take for a formula has an apostrophe before it. The caution, and what
    must be known of the due times, stand in the first row alone.
    """
    plan = due.plan
    wall = [
        local_text(plan.on_wall(column))
        for column in (plan.open_utc, plan.close_utc, due.head_count_utc, due.next_open_utc)
    ]
    opens, closes, counts, next_opens = wall
    door = [local_text(plan.on_door(column)) for column in (plan.open_utc, plan.close_utc)]
    utc = [utc_text(column) for column in (plan.open_utc, plan.close_utc)]
    lock_ins = minutes_text(due.lock_in)
    dues = list(zip(*_due_columns(due), strict=True))
    rows = [
        [
            day.date.isoformat(),
            opens[index],
            utc[0][index],
            door[0][index],
            defuse(reason(day.open, day)),
            closes[index],
            utc[1][index],
            door[1][index],
            defuse(reason(day.close, day)),
            counts[index],
            next_opens[index],
            lock_ins[index],
            day.open_shortfall_min,
            day.night_shortfall_min,
            *dues[index],
            defuse("; ".join(span.reason for span in day.spans if span.reason)),
            plan.site.zone,
            zone_rules_version(),
        ]
        for index, day in enumerate(plan.days)
    ]
    return lay_out(HEADER, rows, " ".join([CAUTION, *due_notes(due)]))


def _due_columns(due: Due) -> Iterator[list[str]]:
    """Yield the columns of due times; empty where nothing is known, or the door stays shut."""
    for instants, late in ((due.open_utc, due.open_late), (due.close_utc, due.close_late)):
        yield local_text(due.plan.on_wall(instants))
        yield utc_text(instants)
        yield minutes_text(late)
    yield ["yes" if bad else "no" for bad in due.closes_in_daylight]
