"""How wrong a door's clock may be as text: what it means for the door, and a line a month."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION
from daylatch.door.drift.drift import S_A_DAY_AT_1_PPM, TURNOVER_C, no_clock_words, rounded_up
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.summary import describe_place
from daylatch.site.timekeeping import MOST_MARGIN_MIN
from daylatch.site.timer import TOLERANCE_MIN
from daylatch.site.values.measures import US
from daylatch.wording import days_text, labelled, wrapped

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from daylatch.door.drift.drift import Drift

FIRST_LINE = "daylatch clock drift"
wrote = first_line_is(FIRST_LINE)
_LABEL = 16
_USED_UP = "margin used up"


def render(drift: Drift) -> bytes:
    """Return what is known of the clock, when to set it, the list of dates and the caution."""
    site = drift.site
    head = [FIRST_LINE, site.name, f"{describe_place(site)}, {drift.first} to {drift.last}"]
    lines = [*wrapped(head), "", *labelled(_entries(drift), _LABEL), ""]
    lines += [*_built_in(drift), *_rows(drift), "", *wrapped([CAUTION])]
    return text_file.lay_out(lines)


def minutes_text(seconds: float) -> str:
    """Return a bound in minutes with one decimal, rounded up."""
    return f"{rounded_up(seconds / 6) / 10:.1f}"


def _entries(drift: Drift) -> Iterator[tuple[str, str]]:
    if drift.is_no_clock:
        yield "Warning", no_clock_words(drift)
    yield "The clock", _clock(drift)
    yield "Set", _set(drift)
    slow, fast = (S_A_DAY_AT_1_PPM * ppm for ppm in (drift.slow_ppm, drift.fast_ppm))
    yield (
        "In 30 days",
        f"it may lose {minutes_text(30 * slow)} min or gain {minutes_text(30 * fast)} min",
    )
    yield "Margin", f"it may become {drift.facts.margin_min} min wrong, fast or slow"
    yield "Set again", _set_again(drift)
    yield (
        "Slow",
        "it opens and closes late: birds wait behind the door, and at dusk it stands open for "
        "longer",
    )
    yield (
        "Fast",
        "it opens and closes early, which is worse: the door opens in the dark, and birds "
        "that are not in yet are shut out",
    )
    needed = drift.needed_margin_min(drift.last)
    yield (
        "If never set",
        f"until {drift.last} up to {minutes_text(drift.slow_s(drift.last))} min slow or "
        f"{minutes_text(drift.fast_s(drift.last))} fast: that takes a margin of {needed} min"
        + (f", more than the most, {MOST_MARGIN_MIN}" if needed > MOST_MARGIN_MIN else ""),
    )


def _clock(drift: Drift) -> str:
    facts, kind = drift.facts, drift.facts.kind
    a_day_s = S_A_DAY_AT_1_PPM * drift.fast_ppm
    stated = f"{kind.drifts}, {drift.fast_ppm:g} ppm ({a_day_s:.1f} s a day) fast or slow"
    if not kind.is_slowed:
        return f"{stated}{kind.holds}"
    measures = drift.site.measures
    turnover = measures.temperature(TURNOVER_C)
    if facts.coldest is None and facts.warmest is None:
        unit = "f" if measures.system == US else "c"
        return (
            f"{stated} at {turnover}; cold and heat slow it down further: give the temperatures "
            f"where it is, coldest_{unit} and warmest_{unit}, to count that in"
        )
    ends = (TURNOVER_C if one is None else one for one in (facts.coldest, facts.warmest))
    return (
        f"{stated} at {turnover}; at {measures.temperature(*ends)} up to "
        f"{drift.temperature_ppm:.1f} ppm slower, counted as if it were so cold or hot all the time"
    )


def _set(drift: Drift) -> str:
    words = f"on {drift.set_on}, to within {drift.facts.set_error_s} s"
    if drift.facts.set_on is None:
        words += "; when it was set is not given, so the first date is taken"
    return words


def _set_again(drift: Drift) -> str:
    good = drift.good_until
    if good is None:
        after_s = max(drift.slow_s(drift.set_on), drift.fast_s(drift.set_on))
        return (
            f"the margin cannot be kept for a day: on the day it is set, the clock may already be "
            f"{minutes_text(after_s)} min wrong; set it more exactly, or allow more"
        )
    days = (good - drift.set_on).days
    often = f"every {days_text(days)}" if days > 1 else "every day"
    words = f"by {good}, and then {often}"
    fast = drift.fast_good_until
    if fast is not None and fast != good:
        words += f" (by then it may be too slow; too fast only after {fast})"
    if good < drift.first:
        words += f": that was due {days_text((drift.first - good).days)} before these dates"
    return words


def _built_in(drift: Drift) -> Iterator[str]:
    """Yield the commands that make a table and a timer's list with the margin built in."""
    margin = drift.facts.margin_min
    if drift.good_until is None:
        return
    site = shlex.quote(drift.site.file_name)
    yield from wrapped(
        [
            "To build this margin into the door's times: while the clock is within it, the door is "
            "never early, and late by at most --within or --tolerance minutes (with more, the "
            "table or list gets shorter):"
        ]
    )
    # Not broken, so that they can be copied.
    yield f"  daylatch plan {site} --to table --within {2 * margin} --clock-margin {margin}"
    timer = drift.site.settings.timer
    if timer is not None and timer.changes is not None:
        wish = f" --changes {timer.changes}"
    else:
        asked = timer.tolerance_min if timer is not None else None
        tolerance = max(TOLERANCE_MIN if asked is None else asked, 2 * margin)
        wish = f" --tolerance {tolerance}"
    yield f"  daylatch settings {site}{wish} --clock-margin {margin}"
    yield ""


def _rows(drift: Drift) -> Iterator[str]:
    good = drift.good_until
    yield "                    may be up to [min]"
    yield "until the end of    slow    fast"
    for date in sorted(_listed(drift, good)):
        note = ""
        if good is None or date > good:
            note = _USED_UP
        elif date == good:
            note = "set it again"
        cells = (minutes_text(drift.slow_s(date)), minutes_text(drift.fast_s(date)))
        yield f"{date}    {cells[0]:>10}{cells[1]:>8}   {note}"


def _listed(drift: Drift, good: dt.date | None) -> set[dt.date]:
    """Return the dates that are listed: both ends, each first of a month, and that to set it on."""
    dates = {date for date in drift.dates if date.day == 1} | {drift.first, drift.last}
    if good is not None and drift.first <= good <= drift.last:
        dates.add(good)
    return dates
