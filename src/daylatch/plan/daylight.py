"""What must be told of daylight: closings in it, short nights, and light behind a shut door."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY_MIN, MINUTE
from daylatch.plan.daily.rules import ceil_minute
from daylatch.plan.door_times import FAR_FROM_NIGHT
from daylatch.plan.due import exactly
from daylatch.sun.crossings import SkyState
from daylatch.wording import date_ranges, days_text, duration_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.due import Due

_STEP_MIN = 5
BY_HAND = "shut_in_by_hand = true under [close] or in the span, if you shut them in first"


def safety_entries(due: Due) -> Iterator[tuple[str, str]]:
    """Yield what must be known of closings and nights, a label with its text."""
    yield from _daylight_entries(due)
    near = due.sun_up_at_close & ~due.closes_in_daylight
    if near.any():
        dates = due.plan.dates[near]
        yield (
            "Sun up at closing",
            f"{days_text(len(dates))}, with the Sun near its lowest, as in white nights: "
            f"{date_ranges(dates, most=3)}",
        )
    yield from _night_entries(due)
    light = light_inside(due)
    lit = light > np.timedelta64(0, "m")
    if lit.any():
        worst = int(np.argmax(light))
        most = duration_text(light[worst] // MINUTE * MINUTE)
        yield (
            "Sun up, door shut",
            f"on {days_text(int(lit.sum()))}, at most for {most} on {due.plan.dates[worst]}",
        )


def _daylight_entries(due: Due) -> Iterator[tuple[str, str]]:
    bad = due.closes_in_daylight
    if not bad.any():
        return
    dates = due.plan.dates[bad]
    words = f"closes in daylight on {days_text(len(dates))}, {first_and_last(dates)}"
    unguarded = bad & ~due.plan.settings.shut_in_by_hand
    if not unguarded.any():
        yield "Daylight", f"{words}; you shut the birds in by hand first"
        return
    if unguarded.sum() < len(dates):
        words += f"; on {days_text(int(bad.sum() - unguarded.sum()))} you shut the birds in first"
    words += f": {remedy(due, unguarded)}"
    by_rules = exactly(due.plan).closes_in_daylight
    yield "Daylight", f"{words}; or write {BY_HAND}" if (by_rules & unguarded).any() else words


def first_and_last(dates: Times) -> str:
    """Return the first and the last of some dates, or the only one."""
    return f"{dates[0]}" if len(dates) == 1 else f"first {dates[0]}, last {dates[-1]}"


def remedy(due: Due, days: Flags) -> str:
    """Return what to do about closings in daylight on some days."""
    plan = due.plan
    if due.in_use is not None and not (exactly(plan).closes_in_daylight & days).any():
        # The rules are good already.
        return "birds outside then stay out: shut them in first, and put a new file into the door"
    ends = np.fmin(
        np.where(plan.sun.sunset_sky == SkyState.CROSSES, plan.sun.sunset, np.datetime64("NaT")),
        plan.day_end_utc - FAR_FROM_NIGHT,
    )
    wall = plan.on_wall(ceil_minute(ends[days])).wall
    minutes = (wall - plan.dates[days].astype("datetime64[m]")) / MINUTE
    latest = int(-(-minutes.max() // _STEP_MIN) * _STEP_MIN)
    time = f"{plan.site.face.time(latest)}{' (next day)' if latest >= DAY_MIN else ''}"
    return f"birds outside then stay out: shut them in first, or close after {time}"


def _night_entries(due: Due) -> Iterator[tuple[str, str]]:
    nights, dates = due.lock_in, due.plan.dates
    known = ~np.isnat(nights)
    if not known.any():
        return
    shortest = int(np.argmin(np.where(known, nights, np.timedelta64(10**6, "m"))))
    yield "Shortest night", f"{duration_text(nights[shortest])} from {dates[shortest]}"
    least_h = due.plan.site.settings.short_night_h
    short = known & (nights < np.timedelta64(round(least_h * 60), "m"))
    if short.any():
        yield (
            "Short nights",
            f"{int(short.sum())} under {least_h:g} h: {date_ranges(dates[short], most=3)}; to "
            f"lengthen them, write least_h = {least_h:g} under [night]",
        )


def light_inside(due: Due) -> Minutes:
    """Return for each flock day how long the Sun is up while the door is shut [timedelta64[us]]."""
    plan, sun = due.plan, due.plan.sun
    below = (sun.sunrise_sky == SkyState.ALWAYS_BELOW, sun.sunset_sky == SkyState.ALWAYS_BELOW)
    begins = np.select(
        [sun.sunrise_sky == SkyState.CROSSES, below[0]],
        [sun.sunrise, sun.transit],
        plan.day_start_utc,
    )
    ends = np.select(
        [sun.sunset_sky == SkyState.CROSSES, below[1]], [sun.sunset, sun.transit], plan.day_end_utc
    )
    opens = np.where(due.is_open, np.clip(due.told_open_utc, begins, ends), begins)
    closes = np.where(due.is_open, np.clip(due.told_close_utc, begins, ends), begins)
    inside: Minutes = (ends - begins) - (closes - opens)
    return inside
