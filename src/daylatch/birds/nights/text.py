"""Lock-ins as text: what they amount to, the months and, if wanted, each night."""

from __future__ import annotations

import datetime as dt
from calendar import month_name
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import HOUR
from daylatch.birds.nights.waking_causes import Cause
from daylatch.cautions import CAUTION
from daylatch.clock import zone_rules_version
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.block import LOOK_AHEAD_DAYS
from daylatch.plan.due_words import due_notes
from daylatch.plan.summary import describe_place
from daylatch.wording import (
    WIDTH,
    days_text,
    duration_text,
    hours_text,
    labelled,
    listed,
    to_minutes,
    whole_parts,
    wrapped,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.birds.date_runs import DateRun
    from daylatch.birds.nights.nights import Nights
    from daylatch.birds.nights.summary import Month, MonthTotal, NightsSummary

FIRST_LINE = "daylatch nights"
wrote = first_line_is(FIRST_LINE)
_LABEL = 22
_MOST_RUNS = 6
_MOST_MONTHS_A_LINE = 4
_UNKNOWN = "?"
_NONE = np.timedelta64(0, "us")
# What a keeper may not know by its name.
_CAUSE = {
    Cause.LIGHT: "the light you chose",
    Cause.FALLBACK: "fallback times",
    Cause.LIMIT: "not before and not after",
    Cause.GUARD: "guard (beyond it predators hunt, so no day is made longer)",
    Cause.SPAN: "dated spans",
}
_TITLES = ("open", "shut in", "awake")


def render(summary: NightsSummary, *, daily: bool = False) -> bytes:
    """Return the summary, the table of months, each night if wanted, and the caution."""
    plan = summary.nights.plan
    lamp = ", or a lamp on" if summary.nights.has_lamp else ""
    head = [
        FIRST_LINE,
        plan.site.name,
        f"{describe_place(plan.site)}, {plan.dates[0]} to {plan.dates[-1]}",
        f"A lock-in runs from closing to the next opening and belongs to its closing date "
        f"(wall clock of {plan.site.zone}; time-zone rules {zone_rules_version()}). Its waking "
        "part is light enough for birds to be awake: the Sun less than 6° below the horizon"
        f"{lamp}. All lengths are true hours, also across clock changes.",
    ]
    head += due_notes(summary.nights.due)
    lines = [*wrapped(head), "", *labelled(nights_entries(summary), _LABEL), ""]
    lines += [*_months(summary, daily=daily), ""]
    if daily and len(summary.nights):
        lines += [*_nights(summary.nights), ""]
    lines += wrapped([CAUTION])
    return text_file.lay_out(lines)


def nights_entries(summary: NightsSummary) -> Iterator[tuple[str, str]]:
    """Yield what lock-ins amount to, a label with its text."""
    nights = summary.nights
    if summary.running is not None:
        yield "Already under way", _running(summary.running, nights.plan.dates[-1])
    if summary.longest is not None:
        yield "Longest lock-in", _night(nights, summary.longest)
    if summary.longest_night not in (None, summary.longest):
        yield "Longest single night", _night(nights, summary.longest_night)
    row = summary.longest_waking
    # Of those above it is told already.
    told = row in (summary.longest, summary.longest_night)
    if row is not None and not told and to_minutes(nights.waking[row]) > _NONE:
        yield (
            "Longest awake",
            f"{_length(nights.waking[row])} in the lock-in from {nights.dates[row]}"
            f"{_by_lamp(nights.lamp_lit[row])}",
        )
    if summary.open_ended is not None:
        yield (
            "Open-ended",
            f"from {summary.open_ended.first}: no opening is known within {LOOK_AHEAD_DAYS} days",
        )
    yield f"Over {_length(summary.long)}", _long(summary)
    yield "Shut all day", _shut_days(summary)
    shut, waking = (_hours(total) for total in (summary.shut, summary.waking))
    lamp = _by_lamp(nights.day_lamp.sum(), hours=True)
    yield (
        "In all",
        f"shut in for {shut} h, of which {waking} h are light enough to be awake{lamp}",
    )
    yield "Awake because of", describe_causes(summary)


def _running(run: DateRun, last: np.datetime64) -> str:
    words = "a lock-in that began before these dates, with "
    if run.last == last:
        words += f"all of them shut all day ({days_text(run.count)})"
    else:
        words += f"{days_text(run.count)} shut all day until {run.last}"
    return f"{words}: choose an earlier --from to see all of it"


def describe_causes(summary: NightsSummary) -> str:
    """Return how much of the waking lock-in each rule answers for."""
    parts = summary.cause_parts(HOUR).items()
    words = [
        f"{_CAUSE.get(cause, cause.value)} {part // HOUR:+d} h" for cause, part in parts if part
    ]
    return listed(words) or "nothing worth naming"


def _night(nights: Nights, row: int | None) -> str:
    assert row is not None
    dark, waking = whole_parts(np.array([nights.dark[row], nights.waking[row]]))
    words = f"{_length(nights.length[row])} from {nights.dates[row]}: "
    words += f"{_length(dark)} dark, {_length(waking)} awake"
    words += _by_lamp(nights.lamp_lit[row])
    if nights.shut_days[row]:
        words += f"; {days_text(int(nights.shut_days[row]))} of it shut all day"
    return words


def _by_lamp(lit: np.timedelta64, *, hours: bool = False) -> str:
    """Return how much of a waking part is the lamp's; nothing if none is."""
    if not lit > _NONE:
        return ""
    return f", {f'{_hours(lit)} h' if hours else _length(lit)} of that by the lamp alone"


def _hours(duration: np.timedelta64) -> int:
    return int(whole_parts(np.array([duration]), HOUR)[0] // HOUR)


def _length(duration: np.timedelta64) -> str:
    return duration_text(to_minutes(duration))


def _long(summary: NightsSummary) -> str:
    if not summary.long_runs:
        return "none of the lock-ins that begin in these dates"
    longest = max(summary.long_runs, key=lambda run: run.count)
    words = f"{summary.long_count} of {len(summary.nights)} lock-ins: {_runs(summary.long_runs)}"
    if len(summary.long_runs) > 1:
        words += f"; the most in a row, {longest.count}, from {longest.first}"
    return words


def _shut_days(summary: NightsSummary) -> str:
    if not summary.shut_runs:
        return "no day"
    count = sum(run.count for run in summary.shut_runs)
    longest = max(summary.shut_runs, key=lambda run: run.count)
    words = f"{days_text(count)}: {_runs(summary.shut_runs)}"
    if len(summary.shut_runs) > 1:
        words += f"; the most in a row, {longest.count}, from {longest.first}"
    return words


def _runs(runs: list[DateRun]) -> str:
    words = [
        str(run.first) if run.first == run.last else f"{run.first} to {run.last}"
        for run in runs[:_MOST_RUNS]
    ]
    more = len(runs) - _MOST_RUNS
    return ", ".join(words) + (f" and {more} more" if more > 0 else "")


def _months(summary: NightsSummary, *, daily: bool) -> Iterator[str]:
    yield f"By month [hours:minutes]{'' if daily else '; for every night, add --daily'}"
    yield f"Median: half are shorter, half longer. Long: over {_length(summary.long)}."
    yield "         lock-ins                              door shut  of which  days shut"
    yield "            begun  shortest  median  longest  long  in all     awake    all day"
    yield from map(_month, summary.months, summary.month_totals)


def _month(month: Month, total: MonthTotal) -> str:
    stats = [
        hours_text(value) if value is not None else "-"
        for value in (month.shortest, month.median, month.longest)
    ]
    return (
        f"{month.month} {month.lock_ins:9d} {stats[0]:>9} {stats[1]:>7} {stats[2]:>8} "
        f"{month.long:5d} {hours_text(total.shut):>7} {hours_text(total.waking):>9} "
        f"{month.shut_days:10d}"
    )


def _nights(nights: Nights) -> Iterator[str]:
    """Yield every lock-in with what was open before it, months side by side."""
    cells = [
        (hours_text(open_span), *_parts(length, waking))
        for open_span, length, waking in zip(
            nights.open_span, nights.length, nights.waking, strict=True
        )
    ]
    room = [max(map(len, column)) for column in zip(_TITLES, *cells, strict=True)]
    width = 2 + sum(room) + len(room)
    columns = max(1, min(_MOST_MONTHS_A_LINE, (WIDTH + 3) // (width + 3)))
    rows = {date: index for index, date in enumerate(nights.dates.tolist())}
    months = list(dict.fromkeys((date.year, date.month) for date in rows))
    yield from wrapped(
        [
            "Each lock-in by its closing date: how long the door was open before it, its length, "
            "and how much of that is light enough to be awake [hours:minutes]"
        ]
    )
    for start in range(0, len(months), columns):
        block = months[start : start + columns]
        yield ""
        yield "   ".join(f"{month_name[month]} {year}".ljust(width) for year, month in block)
        yield "   ".join(_row("", _TITLES, room) for _ in block)
        for number in range(1, 32):
            parts = [" " * width] * len(block)
            for place, month in enumerate(block):
                index = _index(rows, month, number)
                if index is not None:
                    parts[place] = _row(str(number), cells[index], room)
            if any(map(str.strip, parts)):
                yield "   ".join(parts)


def _index(rows: dict[dt.date, int], month: tuple[int, int], number: int) -> int | None:
    try:
        return rows.get(dt.date(*month, number))
    except ValueError:
        return None


def _parts(length: np.timedelta64, waking: np.timedelta64) -> tuple[str, str]:
    if np.isnat(length):
        return _UNKNOWN, _UNKNOWN
    return hours_text(length), hours_text(waking)


def _row(number: str, cells: tuple[str, ...], room: list[int]) -> str:
    texts = (cell.rjust(width) for cell, width in zip(cells, room, strict=True))
    return " ".join([number.rjust(2), *texts])
