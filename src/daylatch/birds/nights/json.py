"""Lock-ins as JSON, for programs; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.arrays import MINUTE
from daylatch.birds.nights.csv import whole_minutes
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is
from daylatch.plan.json import due_head
from daylatch.wording import local_text, minutes_text, to_minutes

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np

    from daylatch.birds.date_runs import DateRun
    from daylatch.birds.nights.nights import Nights
    from daylatch.birds.nights.summary import Month, MonthTotal, NightsSummary

GENERATOR = "daylatch nights"
wrote = generator_is(GENERATOR)
FORMAT = 2


def render(summary: NightsSummary) -> bytes:
    """Return the file: the summary, the months and a line for each lock-in."""
    nights = summary.nights
    head = head_of(nights.plan.site, GENERATOR, FORMAT)
    head["from"], head["until"] = (str(date) for date in nights.plan.dates[[0, -1]])
    head["due"] = due_head(nights.due)
    head["summary"] = {
        "long_min": _minutes(summary.long),
        "long_lock_ins": summary.long_count,
        "longest": _date(nights, summary.longest),
        "longest_without_shut_day": _date(nights, summary.longest_night),
        "longest_waking": _date(nights, summary.longest_waking),
        "shut_min": _minutes(summary.shut),
        "waking_min": _minutes(summary.waking),
        "waking_min_by_rule": {
            cause.name.lower(): _minutes(part)
            for cause, part in summary.cause_parts(MINUTE).items()
        },
        "open_ended": _run(summary.open_ended) if summary.open_ended else None,
        "running": _run(summary.running) if summary.running else None,
    }
    rows = {
        "long_runs": map(_run, summary.long_runs),
        "shut_runs": map(_run, summary.shut_runs),
        "months": map(_month, summary.months, summary.month_totals),
        "nights": _nights(nights),
    }
    return lay_out(head, rows)


def _minutes(duration: np.timedelta64) -> int:
    return int(to_minutes(duration) // MINUTE)


def _date(nights: Nights, row: int | None) -> str | None:
    return None if row is None else str(nights.dates[row])


def _run(run: DateRun) -> dict[str, Any]:
    return {"from": str(run.first), "until": str(run.last), "count": run.count}


def _month(month: Month, total: MonthTotal) -> dict[str, Any]:
    lengths = {"shortest": month.shortest, "median": month.median, "longest": month.longest}
    return {
        "month": str(month.month),
        "lock_ins": month.lock_ins,
        "long": month.long,
        "shut_days": month.shut_days,
        **{f"{k}_min": None if v is None else _minutes(v) for k, v in lengths.items()},
        "shut_min": _minutes(total.shut),
        "waking_min": _minutes(total.waking),
    }


def _nights(nights: Nights) -> Iterator[dict[str, Any]]:
    closes, opens = (
        local_text(nights.plan.on_wall(column)) for column in (nights.start_utc, nights.end_utc)
    )
    lengths, darks, wakings, lamps = (
        [int(text) if text else None for text in minutes_text(column)]
        for column in (*whole_minutes(nights), to_minutes(nights.lamp_lit))
    )
    for row, date in enumerate(nights.dates):
        yield {
            "date": str(date),
            "close": closes[row],
            "next_open": opens[row] or None,
            "lock_in_min": lengths[row],
            "dark_min": darks[row],
            "waking_min": wakings[row],
            "open_span_min": _minutes(nights.open_span[row]),
            "shut_days": int(nights.shut_days[row]),
            "lamp_min": lamps[row],
        }
