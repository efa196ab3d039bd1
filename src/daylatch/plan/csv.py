"""The plan as CSV (RFC 4180), a row a flock day."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import Coded
from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files.csv_file import defuse, lay_out_columns
from daylatch.files.own import header_is
from daylatch.plan.daily.rules import Side
from daylatch.plan.day import spans_by_day
from daylatch.plan.due_words import due_notes
from daylatch.plan.reasons import reasons_of, span_reasons
from daylatch.wording import local_text, minutes_text, utc_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Minutes, Times
    from daylatch.files.occasion import Occasion
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan

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
    why = {side: codes.each(defuse) for side, codes in reasons_of(plan).items()}
    columns = [
        np.datetime_as_string(plan.dates).tolist(),
        *_planned(plan, plan.open_utc),
        why[Side.OPEN],
        *_planned(plan, plan.close_utc),
        why[Side.CLOSE],
        local_text(plan.on_wall(due.head_count_utc)),
        local_text(plan.on_wall(due.next_open_utc)),
        minutes_text(due.lock_in),
        minutes_text(plan.decisions.open_shortfall),
        minutes_text(plan.decisions.night_shortfall),
        *_due(plan, due.open_utc, due.open_late),
        *_due(plan, due.close_utc, due.close_late),
        Coded(due.closes_in_daylight.astype(np.int32), ["no", "yes"]),
        spans_by_day(plan.site.settings.spans, plan.dates).each(span_reasons).each(defuse),
        *(
            Coded(np.zeros(len(plan), np.int32), [text])
            for text in (plan.site.zone, zone_rules_version())
        ),
    ]
    return lay_out_columns(HEADER, columns, " ".join([CAUTION, *due_notes(due)]))


def _planned(plan: Plan, instants: Times) -> Iterator[list[str]]:
    """Yield planned times on the wall clock, in UTC and on the door's clock."""
    yield local_text(plan.on_wall(instants))
    yield utc_text(instants)
    yield local_text(plan.on_door(instants))


def _due(plan: Plan, instants: Times, late: Minutes) -> Iterator[list[str]]:
    """Yield due times likewise; empty where nothing is known, or the door stays shut."""
    yield local_text(plan.on_wall(instants))
    yield utc_text(instants)
    yield minutes_text(late)
