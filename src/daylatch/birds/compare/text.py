"""Two plans side by side as text: what the second costs or gains."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import HOUR, MINUTE
from daylatch.birds.compare.comparison import (
    open_after_dusk,
    open_before_dawn,
    open_in_the_dark,
    open_time,
)
from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import zone_rules_version
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.summary import describe_place, describe_rules
from daylatch.wording import (
    date_ranges,
    days_text,
    duration_text,
    hours_text,
    labelled,
    wrapped,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Minutes
    from daylatch.birds.compare.comparison import Comparison
    from daylatch.birds.nights.nights import Nights
    from daylatch.plan.plan import Plan


FIRST_LINE = "daylatch comparison"
wrote = first_line_is(FIRST_LINE)
_LABEL = 19
_NAME = 9
_ZERO = np.timedelta64(0, "m")
_MOST_DAYS = 62
"""So many changed days are all shown; of more, the first of each month."""


def render(comparison: Comparison) -> bytes:
    """Return what differs, the months and days side by side, and the caution."""
    first, second = comparison.first, comparison.second
    lines = [
        FIRST_LINE,
        f"{first.dates[0]} to {first.dates[-1]}; time-zone rules {zone_rules_version()}",
        "",
        *_describe("First", comparison.first_name, first),
        *_describe("Second", comparison.second_name, second),
        "",
        *[*wrapped([_PLANNED]), ""] * _other_is_due(first, second),
    ]
    if comparison.changed.any():
        lines += labelled(_entries(comparison), _LABEL)
    else:
        lines += ["No day differs."]
    lines += ["", *_months(comparison)]
    if comparison.changed.any():
        lines += ["", *_days(comparison)]
    lines += ["", *wrapped([CAUTION, NO_WEATHER])]
    return text_file.lay_out(lines)


_PLANNED = (
    "The rules of both are compared: all times and nights are planned, not due (when the door will "
    "really move)."
)


def _other_is_due(*plans: Plan) -> bool:
    """Return whether the door may move at other times than are planned."""
    doors = [plan.site.settings.door for plan in plans]
    return any(door.works != "controller" or door.within_min or door.in_use for door in doors)


def _describe(label: str, name: str, plan: Plan) -> list[str]:
    site = plan.site
    words = [
        name,
        f"{site.name}, {describe_place(site)}, wall clock of {site.zone}.",
        *(f"{line}." for line in describe_rules(site)),
    ]
    return labelled([(label, words[0]), *(("", line) for line in words[1:])], _NAME)


def _entries(comparison: Comparison) -> Iterator[tuple[str, str]]:
    first, second = comparison.first_nights, comparison.second_nights
    yield "Changed", _changed(comparison)
    for label, moved, words in (
        ("Opening", comparison.open_moved, ("earlier", "later")),
        ("Closing", comparison.close_moved, ("earlier", "later")),
    ):
        yield label, _moved(moved, words)
    gained = comparison.gained
    yield (
        "Open time",
        f"{_change(open_time(comparison.first), open_time(comparison.second))}"
        f" ({_minutes(gained.sum()) / len(gained):+.1f} min a day)",
    )
    yield "Shut in, awake", _change(first.day_waking, second.day_waking)
    yield "Longest night", _both(_longest(first), _longest(second))
    yield "Before civil dawn", _in_the_dark("opens", open_before_dawn, first, second)
    yield "After civil dusk", _in_the_dark("closes", open_after_dusk, first, second)
    yield "Open in the dark", _change(open_in_the_dark(first), open_in_the_dark(second))
    for label, name in (
        ("Too little open", "open_shortfall"),
        ("Too short a night", "night_shortfall"),
    ):
        columns = [getattr(plan.decisions, name) for plan in (first.plan, second.plan)]
        if any((column > _ZERO).any() for column in columns):
            missing = (
                f"{days_text(int((column > _ZERO).sum()))} ({duration_text(column.sum())} in all)"
                for column in columns
            )
            yield label, _both(*missing)
    shut = [days_text(int((~plan.is_open).sum())) for plan in (first.plan, second.plan)]
    if shut != ["0 days", "0 days"]:
        yield "Shut all day", _both(*shut)


def _both(first: str, second: str) -> str:
    return f"first {first}, second {second}"


def _changed(comparison: Comparison) -> str:
    dates = comparison.dates[comparison.changed]
    words = f"{len(dates)} of {days_text(len(comparison.dates))}"
    return f"{words}: {date_ranges(dates)}"


def _moved(moved: Minutes, words: tuple[str, str]) -> str:
    """Return on how many days a movement comes earlier and later, and by how much."""
    parts = []
    for sign, word in zip((-1, 1), words, strict=True):
        by = (moved * sign)[moved * sign > _ZERO]
        if by.size:
            least, most = duration_text(by.min()), duration_text(by.max())
            span = most if least == most else f"{least} to {most}"
            parts.append(f"{span} {word} on {days_text(by.size)}")
    return "; ".join(parts) or "the same on every day that both open"


def _change(first: Minutes, second: Minutes) -> str:
    # The difference is that of the figures shown.
    before, after = (round(float(total / HOUR), 1) for total in (first.sum(), second.sum()))
    return f"{_both(f'{before:.1f} h', f'{after:.1f} h')}: {after - before:+.1f} h"


def _minutes(duration: np.timedelta64) -> float:
    return float(duration / MINUTE)


def _longest(nights: Nights) -> str:
    if not nights.single.any():
        return "none between two open days"
    row = int(np.argmax(np.where(nights.single, nights.length, _ZERO)))
    return f"{duration_text(nights.length[row])} from {nights.dates[row]}"


def _in_the_dark(verb: str, find: Any, first: Nights, second: Nights) -> str:
    counts = (days_text(int(find(nights).sum())) for nights in (first, second))
    return f"{verb} then: {_both(*counts)}"


def _months(comparison: Comparison) -> Iterator[str]:
    yield "By month [hours:minutes]"
    yield "                  open               awake, shut in   open in the dark   days"
    yield "           first   second   gained     first   second     first   second changed"
    first, second = comparison.first_nights, comparison.second_nights
    columns = (
        open_time(first.plan),
        open_time(second.plan),
        comparison.gained,
        first.day_waking,
        second.day_waking,
        open_in_the_dark(first),
        open_in_the_dark(second),
    )
    months = comparison.dates.astype("datetime64[M]")
    for month in sorted(set(months.tolist())):
        here = months == np.datetime64(month, "M")
        texts = [hours_text(column[here].sum()) for column in columns]
        changed = int(comparison.changed[here].sum())
        yield (
            f"{month:%Y-%m} {texts[0]:>8} {texts[1]:>8} {texts[2]:>8} {texts[3]:>9} {texts[4]:>8} "
            f"{texts[5]:>9} {texts[6]:>8} {changed:7d}"
        )


def _days(comparison: Comparison) -> Iterator[str]:
    """Yield changed days side by side."""
    rows = np.flatnonzero(comparison.changed)
    if len(rows) <= _MOST_DAYS:
        yield "The changed days, on the wall clock"
    else:
        yield "The first changed day of each month, on the wall clock (every day: --to csv)"
        months = comparison.dates[rows].astype("datetime64[M]")
        rows = rows[np.append(True, months[1:] != months[:-1])]
    plans = (comparison.first, comparison.second)
    # Both sites may be written in ways of their own.
    face = max((plan.site.face for plan in plans), key=lambda face: face.width)
    heads = f"{face.aligned('open')} {face.aligned('close')}"
    first, second = (f"{f'   {name}':{len(heads)}}" for name in ("first", "second"))
    yield f"{'':12}{first}{'':5}{second}{'':8}earlier (-) or later [min]"
    yield f"{'':12}{heads}{'':5}{heads}{'':7}open    close"
    columns = [
        plan.site.face.times(plan.on_wall(times).wall)
        for plan in plans
        for times in (plan.open_utc, plan.close_utc)
    ]
    for row in rows:
        times = [face.aligned(column[row] or "shut") for column in columns]
        moved = [
            "" if np.isnat(moves[row]) else f"{_minutes(moves[row]):+.0f}"
            for moves in (comparison.open_moved, comparison.close_moved)
        ]
        yield (
            f"{comparison.dates[row]}  {times[0]} {times[1]}    {times[2]} {times[3]} "
            f"{moved[0]:>10} {moved[1]:>8}"
        )
