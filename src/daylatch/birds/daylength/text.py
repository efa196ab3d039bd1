"""Day length and lamp as text: what it amounts to, the months, and each day's lamp times."""

from __future__ import annotations

from calendar import month_name
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import HOUR
from daylatch.birds.daylength.daylength import NATURAL_DAYS, PHOTOPERIOD_NORMS
from daylatch.birds.daylength.lamp import make_lamp
from daylatch.cautions import CAUTION, LAMP_CAUTION, NO_WEATHER
from daylatch.clock import Fold, zone_rules_version
from daylatch.files import text_file
from daylatch.files.own import first_line_is
from daylatch.plan.due_words import due_notes
from daylatch.plan.summary import describe_clock_changes, describe_place
from daylatch.site.laying import COUNTS_WORDS
from daylatch.wording import (
    WIDTH,
    date_ranges,
    days_text,
    duration_text,
    hours_text,
    labelled,
    listed,
    to_minutes,
    wrapped,
)

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from daylatch.arrays import Times
    from daylatch.birds.daylength.daylength import DayLengths, Daylight
    from daylatch.birds.daylength.lamp import Lamp
    from daylatch.files.occasion import Occasion
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.wording import ClockFace


FIRST_LINE = "daylatch day length"
wrote = first_line_is(FIRST_LINE)
_LABEL = 19
_MOST_DAYS = 31
"""So many days are all shown; of more, three of each month."""
_SHOWN_DAYS = (1, 11, 21)
_NOTHING = "-"
_HALF_MINUTE = np.timedelta64(30, "s")
_ZERO = np.timedelta64(0, "m")

MARKS = {
    "+": "the wall clock changes on this date",
    "~": "the lamp steps up or down: it keeps less than the wanted length",
    "*": "the Sun stays down: the lamp burns around the middle of the day",
    "<": "goes on before midnight, on the date before",
    ">": "goes off after midnight, on the next date",
}
"""What stands behind a day's lamp times."""


def render(lengths: DayLengths, lamp: Lamp | None, occasion: Occasion) -> bytes:
    """Return the summary, the lengths, the lamp's times, the norms and the cautions."""
    plan = lengths.plan
    head = [
        FIRST_LINE,
        plan.site.name,
        f"{describe_place(plan.site)}, {plan.dates[0]} to {plan.dates[-1]}",
        f"Wanted: {_wanted(lengths)}. "
        f"Lengths are true hours; times are the wall clock of {plan.site.zone} (time-zone rules "
        f"{zone_rules_version()}).",
        *(_of_what_works(lamp) if lamp is not None else ()),
    ]
    lines = [*wrapped(head), "", *labelled(_natural(lengths), _LABEL), ""]
    lines += [*labelled(_lamp(lamp), _LABEL), ""]
    marks = _marks(lamp) if lamp is not None else []
    if len(plan) <= _MOST_DAYS:
        lines += _days(lengths, lamp, marks)
    else:
        lines += _months(lengths, lamp)
        if lamp is not None and lamp.lit.any():
            lines += ["", *_lamp_days(lamp, marks)]
    used = [mark for mark in MARKS if any(mark in some for some in marks)]
    lines += [""] * bool(used) + [f"{mark}  {MARKS[mark]}" for mark in used]
    lines += ["", "Norms:", *(line for norm in PHOTOPERIOD_NORMS for line in _bullet(norm)), ""]
    lines += wrapped([CAUTION, *([LAMP_CAUTION] if lamp is not None else []), NO_WEATHER])
    return text_file.lay_out(lines)


def _of_what_works(lamp: Lamp) -> Iterator[str]:
    """Yield where the due times come from, and that a lamp on a timer burns longer."""
    yield from due_notes(lamp.due)
    if lamp.laying.timer is not None:
        yield (
            "The lamp's times are planned; on its plain timer it burns a little longer, by "
            "the list of `daylatch settings --lamp`."
        )


def day_length_entries(lengths: DayLengths, due: Due) -> Iterator[tuple[str, str]]:
    """Yield what the days amount to and what a lamp does, with its caution, each with a label.

    Parameters
    ----------
    lengths
        The natural day.
    due
        When the door moves on the same days.
    """
    lamp = make_lamp(lengths, due)
    yield "Wanted", _wanted(lengths)
    yield from _natural(lengths)
    yield from _lamp(lamp)
    for norm in PHOTOPERIOD_NORMS:
        yield "Norm", norm
    if lamp is not None:
        yield "Lamp caution", LAMP_CAUTION


def describe_lamp(lamp: Lamp, face: ClockFace) -> Iterator[tuple[str, str]]:
    """Yield what a keeper must know of the lamp, each with a label.

    Its steps and what they cannot reach, the birds that are awake inside, the clock of its timer.
    """
    lengths = lamp.lengths
    if lamp.lit.any():
        yield from _awake_inside(lamp)
    yield from _beginning(lamp)
    yield from _steps(lamp)
    yield from _least_burn(lamp)
    if lamp.evening.any():
        yield (
            "Evening",
            f"on {days_text(int(lamp.evening.sum()))} the lamp goes off after dark, which leaves "
            "birds off the roost: let it dim first (the Annex of 1999/74/EC asks for twilight), "
            "and look whether all are up",
        )
    changes = list(describe_clock_changes(lengths.plan, face))
    if changes:
        yield (
            "Clock changes",
            f"{'; '.join(changes)}: a timer that does not change by itself must be set by hand",
        )
    yield from _told_apart(lamp, face)


def _wanted(lengths: DayLengths) -> str:
    return f"{_length(lengths.wanted)}, counted from {COUNTS_WORDS[lengths.laying.counts]}"


def _natural(lengths: DayLengths) -> Iterator[tuple[str, str]]:
    dates, wanted = lengths.plan.dates, _length(lengths.wanted)
    yield "Longest day", _extreme(lengths, np.argmax)
    yield "Shortest day", _extreme(lengths, np.argmin)
    for key, daylight in lengths.by.items():
        for label, flags in (
            (NATURAL_DAYS[key].never_ends, daylight.always_up),
            (NATURAL_DAYS[key].never_begins, daylight.always_down),
        ):
            if label and flags.any():
                yield label, f"{days_text(int(flags.sum()))}: {date_ranges(dates[flags])}"
    under = lengths.under
    if not under.any():
        yield f"Under {wanted}", "no day"
    elif under.all():
        yield f"Under {wanted}", "every day"
    else:
        yield (
            f"Under {wanted}",
            f"{int(under.sum())} of {days_text(len(dates))}: {date_ranges(dates[under])}",
        )
    crossings = [f"falls under {wanted} on {date}" for date in lengths.falls]
    crossings += [f"reaches {wanted} on {date}" for date in lengths.rises]
    if crossings:
        yield "The natural day", listed(sorted(crossings, key=lambda text: text[-10:]))


def _extreme(lengths: DayLengths, pick: Any) -> str:
    """Return the longest or the shortest day, as the site file counts and in every other way."""
    own = lengths.laying.counts
    text, date = _one_extreme(lengths, own, pick)
    if date:
        text += f" on {date}"
    texts = [text]
    for other in lengths.by:
        other_text, other_date = _one_extreme(lengths, other, pick)
        if other_date not in ("", date):
            other_text += f" on {other_date}"
        if other != own and other_text != text:
            texts.append(f"{NATURAL_DAYS[other].words} {other_text}")
    return "; ".join(texts)


def _one_extreme(lengths: DayLengths, key: str, pick: Any) -> tuple[str, str]:
    """Return a length in words, and its date if that is one of its own."""
    daylight = lengths.by[key]
    row = int(pick(daylight.length))
    if daylight.always_up[row]:
        return "day and night, the Sun stays up", ""
    if daylight.always_down[row]:
        return "none, the Sun stays down", ""
    return _length(daylight.length[row]), str(lengths.plan.dates[row])


def _lamp(lamp: Lamp | None) -> Iterator[tuple[str, str]]:
    if lamp is None:
        yield "Lamp", 'none; for its times set lamp = "morning" under [laying] in the site file'
    else:
        yield from _burning(lamp)
        yield from describe_lamp(lamp, lamp.lengths.plan.site.face)


def _burning(lamp: Lamp) -> Iterator[tuple[str, str]]:
    side = {"morning": "in the morning", "evening": "in the evening"}
    where = side.get(lamp.laying.lamp, "in the morning and in the evening, half each")
    lit = lamp.lit
    if not lit.any():
        yield "Lamp", f"{where}; off on every day of this range"
        return
    dates = lamp.lengths.plan.dates
    yield "Lamp", f"{where}; on {days_text(int(lit.sum()))}: {date_ranges(dates[lit])}"
    most = int(np.argmax(lamp.burning))
    hours = lamp.burning.sum() / HOUR
    yield (
        "Burns",
        f"{hours:.0f} h in all, at most {duration_text(lamp.burning[most])} on {dates[most]}",
    )


def _awake_inside(lamp: Lamp) -> Iterator[tuple[str, str]]:
    plan = lamp.lengths.plan
    words = []
    door = "the door's due" if lamp.due.differs.any() else "the door's"
    for times, between in (
        (lamp.before_opening, f"from lamp on to {door} opening"),
        (lamp.after_closing, f"from {door} closing to lamp off"),
    ):
        row = int(np.argmax(times))
        if times[row] > _ZERO:
            words.append(f"up to {duration_text(times[row])} {between} ({plan.dates[row]})")
    shut = int((lamp.lit & ~lamp.due.is_open).sum())
    if shut:
        words.append(f"all day on {days_text(shut)} with the door shut")
    if not words:
        return
    text = f"{listed(words)}: feed and water must be inside"
    house = plan.site.settings.house
    if house is not None:
        inside = {"feed": house.feed_inside, "water": house.water_inside}
        missing = [name for name, given in inside.items() if given is False]
        if missing:
            text += f"; the site file says: no {' and no '.join(missing)} inside"
    yield "Awake inside", text


def _beginning(lamp: Lamp) -> Iterator[tuple[str, str]]:
    """Yield what is taken for granted of a lamp without a first date."""
    if lamp.up is not None or not lamp.lit.any():
        return
    wanted = _length(lamp.lengths.wanted)
    if lamp.never_enough:
        yield (
            "Begins",
            f"the natural day never reaches {wanted} here, so the lamp is assumed to have burnt "
            "all along: set lamp_from to the date on which you first light it, and the day grows "
            "by steps",
        )
    elif lamp.since is not None:
        yield (
            "Begins",
            f"it is assumed to burn since {lamp.since}, when the day fell under {wanted}. If it "
            "does not yet, set lamp_from to the date on which you first light it, and the day "
            "grows by steps",
        )


def _steps(lamp: Lamp) -> Iterator[tuple[str, str]]:
    """Yield how the length steps up and down, and what cannot be had."""
    dates, wanted = lamp.lengths.plan.dates, lamp.lengths.wanted
    step = f"by at most {lamp.laying.weekly_step_min} min a week"
    if lamp.most < wanted:
        yield (
            "Not reached",
            f"between lamp_from and lamp_until the day grows to {_length(lamp.most)} at most, "
            f"{_length(wanted - lamp.most)} short: start earlier, end later, or raise "
            f"weekly_step_min (now {lamp.laying.weekly_step_min})",
        )
    if lamp.up is not None:
        begin, reached = lamp.up.edge, lamp.up.edge + lamp.up.days_under(lamp.most)
        if begin <= dates[-1] and dates[0] < reached:
            yield (
                "Steps up",
                f"{step}, from {_length(lamp.up.levels[0])} on {begin} to {_length(lamp.most)} on "
                f"{reached}",
            )
    if lamp.down is not None:
        last = lamp.down.edge
        begin = last - lamp.down.days_under(lamp.most) + 1
        if begin <= dates[-1] and dates[0] <= last and begin <= last:
            ends = f", or set lamp_until to {lamp.until}, when the natural day is long enough"
            yield (
                "Steps down",
                f"{step} from {begin}, to {_length(lamp.down.levels[0])} in the week up to {last}. "
                "This shortens the light of birds in lay: leave lamp_until out"
                f"{ends if lamp.until is not None else ''}",
            )


def _least_burn(lamp: Lamp) -> Iterator[tuple[str, str]]:
    """Yield on how many days a burn is lengthened to the least burn, and where it cannot be."""
    least, step = lamp.laying.least_burn_min, lamp.laying.weekly_step_min
    longer = lamp.lengthened > _ZERO
    if longer.any():
        text = (
            f"on {days_text(int(longer.sum()))} a burn would be shorter than {least} min and is "
            f"lengthened, so the day is up to {duration_text(lamp.lengthened.max())} longer than "
            "it need be"
        )
        if least > step:
            text += f"; the lamp may change it by so much at once, beyond weekly_step_min ({step})"
        yield "Least burn", text
    if lamp.short.any():
        dates = lamp.lengths.plan.dates[lamp.short]
        yield (
            "Least burn",
            f"on {days_text(len(dates))} a burn stays shorter than {least} min, since more would "
            f"leave less than 8 h of dark: {date_ranges(dates)}",
        )


def _told_apart(lamp: Lamp, face: ClockFace) -> Iterator[tuple[str, str]]:
    """Yield which of two is meant, for lamp times that the wall clock shows twice."""
    zone = lamp.lengths.plan.zone
    for word, column in (("goes on", lamp.on_utc), ("goes off", lamp.off_utc)):
        instants = column[~np.isnat(column)]
        wall = zone.to_local(instants).wall
        times = face.times(wall)
        first, second = zone.to_instants(wall, Fold.EARLIER), zone.to_instants(wall, Fold.LATER)
        for row in np.flatnonzero(first != second):
            which = "first" if instants[row] == first[row] else "second"
            date = wall[row].astype("datetime64[D]")
            yield (
                "Shown twice",
                f"on {date} at {times[row]} the lamp {word} at the {which} of the two",
            )


def _length(duration: np.timedelta64) -> str:
    return duration_text(to_minutes(duration)).removesuffix(" 00 min")


def _bullet(text: str) -> list[str]:
    lines = wrapped([f"  {text}"])
    return [f"- {lines[0].strip()}", *lines[1:]]


def _marks(lamp: Lamp) -> list[str]:
    """Return each day's marks."""
    plan = lamp.lengths.plan
    on, off = (
        plan.on_wall(times).wall.astype("datetime64[D]")
        for times in (np.fmin(*lamp.on_utc), np.fmax(*lamp.off_utc))
    )
    stepping = (lamp.target > _ZERO) & (lamp.target < lamp.lengths.wanted)
    columns = {
        "+": plan.has_clock_change,
        "~": stepping,
        "*": lamp.centred,
        "<": on < plan.dates,
        ">": off > plan.dates,
    }
    lit = lamp.lit
    return [
        "".join(mark for mark in MARKS if columns[mark][row]) if lit[row] else ""
        for row in range(len(plan))
    ]


def _times(lamp: Lamp) -> list[list[str]]:
    """Return each day's lamp times by the wall clock, once or twice a day."""
    plan = lamp.lengths.plan
    wall, face = plan.on_wall, plan.site.face
    pair = 2 * face.width + 1
    twice = range(2 if not np.isnat(lamp.on_utc[1]).all() else 1)
    columns = [
        [
            f"{face.aligned(on)} {face.aligned(off)}" if on else _NOTHING.center(pair)
            for on, off in zip(
                face.times(wall(lamp.on_utc[turn]).wall),
                face.times(wall(lamp.off_utc[turn]).wall),
                strict=True,
            )
        ]
        for turn in twice
    ]
    return [list(row) for row in zip(*columns, strict=True)]


def _days(lengths: DayLengths, lamp: Lamp | None, marks: list[str]) -> Iterator[str]:
    """Yield every day of a short range."""
    plan, daylight, civil = lengths.plan, lengths.by["sunrise"], lengths.by["civil"].length
    times = _times(lamp) if lamp is not None else [[] for _ in plan.dates]
    yield "Day by day [hours:minutes]; civil: from civil dawn to civil dusk"
    time = plan.site.face.width
    rise, set_ = max(len("sunrise"), time), max(len("sunset"), time)
    titles = f"{'':10}  {'sunrise':>{rise}}  {'sunset':>{set_}}  length  civil"
    if lamp is not None:
        titles += "".join(f"  {'lamp on off':{2 * time + 1}}" for _ in times[0]) + "  in all"
    yield titles
    rises, sets = (_nearest_minute(plan, column) for column in (daylight.rising, daylight.setting))
    for row, date in enumerate(plan.dates):
        line = (
            f"{date}  {rises[row] or _NOTHING:>{rise}}  {sets[row] or _NOTHING:>{set_}}  "
            f"{hours_text(daylight.length[row]):>6}  {hours_text(civil[row]):>5}"
        )
        if lamp is not None:
            line += "".join(f"  {text}" for text in times[row])
            line += f"  {hours_text(lamp.length[row]):>6} {marks[row]}"
        yield line


def _nearest_minute(plan: Plan, instants_utc: Times) -> list[str]:
    return plan.site.face.times(plan.on_wall(instants_utc + _HALF_MINUTE).wall)


def _months(lengths: DayLengths, lamp: Lamp | None) -> Iterator[str]:
    """Yield three days' lengths for each month, and what the lamp burns in it."""
    plan = lengths.plan
    rows = {date: row for row, date in enumerate(plan.dates.astype("datetime64[D]"))}
    yield "By month [hours:minutes]"
    yield (
        "         sunrise to sunset      with civil twilight"
        + ("    lamp" if lamp is not None else "")
    )
    shown = " ".join(f"{f'{number}.':>6}" for number in _SHOWN_DAYS)
    yield f"{'':7}{shown}  {shown}" + ("    days   burns" if lamp is not None else "")
    for month in sorted(set(plan.dates.astype("datetime64[M]").tolist())):
        days = [np.datetime64(month.replace(day=number), "D") for number in _SHOWN_DAYS]
        cells = [
            " ".join(f"{_cell(daylight, rows.get(day)):>6}" for day in days)
            for daylight in lengths.by.values()
        ]
        line = f"{month:%Y-%m}{cells[0]}  {cells[1]}"
        if lamp is not None:
            within = plan.dates.astype("datetime64[M]") == np.datetime64(month, "M")
            lit = int(lamp.lit[within].sum())
            line += f"  {lit:6d}  {hours_text(lamp.burning[within].sum()):>6}"
        yield line


def _cell(daylight: Daylight, row: int | None) -> str:
    return _NOTHING if row is None else hours_text(daylight.length[row])


def _lamp_days(lamp: Lamp, marks: list[str]) -> Iterator[str]:
    """Yield the lamp's times, the months in which it burns side by side."""
    dates: list[dt.date] = lamp.lengths.plan.dates.tolist()
    times = _times(lamp)
    room = max(map(len, marks))
    cells = {
        (date.year, date.month, date.day): f"{date.day:2d} {'  '.join(texts)} {mark}"
        for date, texts, mark, lit in zip(dates, times, marks, lamp.lit, strict=True)
        if lit
    }
    face = lamp.lengths.plan.site.face
    # The number of the day, pairs of times two apart, and the marks behind a space.
    width = 3 + (2 * face.width + 3) * len(times[0]) - 1 + room
    columns = max(1, min(4, (WIDTH + 2) // (width + 2)))
    months = sorted({(year, month) for year, month, _ in cells})
    titles = "   " + "  ".join(f"{face.aligned('on')} {face.aligned('off')}" for _ in times[0])
    yield "When the lamp burns; on other dates it is off"
    for start in range(0, len(months), columns):
        block = months[start : start + columns]
        yield ""
        yield "  ".join(f"{month_name[month]} {year}".ljust(width) for year, month in block)
        yield "  ".join(titles.ljust(width) for _ in block)
        for number in range(1, 32):
            found = [cells.get((*month, number), "") for month in block]
            if any(found):
                yield "  ".join(text.ljust(width) for text in found)
