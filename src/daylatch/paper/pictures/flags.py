"""Short notes over a chart, each on a pole at its date, set so that none covers another."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from daylatch.arrays import DAY_MIN
from daylatch.paper.pictures.scales import date_text
from daylatch.paper.pictures.style import INK, LEFT, PAPER, RIGHT, SMALL, Entry, text_width

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence
    from typing import Any

    from daylatch.paper.pictures.style import Panel
    from daylatch.plan.plan import Plan

ROW = 9.5
MOST_ROWS = 3
LONGEST = 190.0
"""The widest note; longer ones are cut short [pt]."""
_INDENT = 2.5
_AIR = 4.0
_MOST_NOTED = 4

TODAY: dict[str, Any] = {"color": INK, "linewidth": 1.3}
CLOCK_CHANGE: dict[str, Any] = {"color": INK, "linewidth": 0.7, "dashes": (1.2, 2.2)}
CLOCK_CHANGE_ENTRY = Entry("clocks change", line=CLOCK_CHANGE)


class Flag(NamedTuple):
    """A note: the day its pole stands on, what it says, and the line through the chart, if any."""

    day: float
    text: str
    line: dict[str, Any] | None = None
    bold: bool = False


class Placed(NamedTuple):
    """A note with the row it flies in, and on which side of its pole."""

    flag: Flag
    row: int
    before: bool


def clock_flags(plan: Plan) -> list[Flag]:
    """Return a line for each change of the wall clock, with a note if they are few."""
    flags = []
    few = len(plan.clock_changes) <= _MOST_NOTED
    for change in plan.clock_changes:
        wall = (change.instant_utc + change.after).astype("datetime64[D]")
        date: dt.date = wall.item()
        if abs(change.minutes) >= DAY_MIN:
            words = "date skipped" if change.minutes > 0 else "date held twice"
        else:
            words = f"{change.minutes / 60:+g} h".replace("-", "\N{MINUS SIGN}")
        day = float((wall - plan.dates[0]).astype(int))
        text = f"{date_text(date, year=False)} {words}" if few else ""
        flags.append(Flag(day, text, CLOCK_CHANGE))
    return flags


def today_flags(plan: Plan, today: dt.date | None) -> list[Flag]:
    """Return the note on today, if the plan holds it."""
    if today is None or not plan.dates[0].item() <= today <= plan.dates[-1].item():
        return []
    # In the middle of its column.
    return [Flag((today - plan.dates[0].item()).days + 0.5, "today", TODAY, bold=True)]


def today_entry(today: dt.date) -> Entry:
    """Return what the key says of today's line."""
    return Entry(f"today, {date_text(today)}", line=TODAY)


def place_flags(flags: Sequence[Flag], days: int) -> list[Placed]:
    """Return the notes that have room, placed.

    From the right, so that most can stand to the right of their poles, over notes that begin
    further on; or from the left, if more find room so.
    """
    ordered = sorted((flag for flag in flags if flag.text), key=lambda flag: flag.day)
    from_right = _placed(ordered[::-1], (False, True), days)
    if len(from_right) == len(ordered):
        return from_right
    return max(from_right, _placed(ordered, (True, False), days), key=len)


def _placed(flags: Sequence[Flag], sides: tuple[bool, bool], days: int) -> list[Placed]:
    """Place notes one by one, each in the lowest row with room, on the first such side."""
    placed: list[Placed] = []
    taken: list[tuple[int, float, float, float]] = []
    for flag in flags:
        pole = LEFT + flag.day * (RIGHT - LEFT) / days
        width = text_width(flag.text, SMALL, bold=flag.bold) + _INDENT + _AIR
        for before, row in ((b, r) for b in sides for r in range(MOST_ROWS)):
            begin, end = (pole - width, pole) if before else (pole, pole + width)
            if begin < LEFT - 1 or end > RIGHT + _AIR:
                continue
            if all(
                (other_row != row or end <= other_begin or begin >= other_end)
                # No pole goes through a note under it.
                and (other_row >= row or not other_begin < pole < other_end)
                and (other_row <= row or not begin < other_pole < end)
                for other_row, other_pole, other_begin, other_end in taken
            ):
                taken.append((row, pole, begin, end))
                placed.append(Placed(flag, row, before))
                break
    return placed


def rows_of(placed: Sequence[Placed]) -> int:
    """Return how many rows the notes take."""
    return max((place.row + 1 for place in placed), default=0)


def draw_lines(panel: Panel, flags: Sequence[Flag]) -> None:
    """Draw the lines of notes through a panel: light under dark, to be seen on both."""
    for flag in flags:
        if flag.line:
            width = flag.line["linewidth"] + (0 if "dashes" in flag.line else 1.2)
            panel.upright(flag.day, color=PAPER, linewidth=width)
            panel.upright(flag.day, **flag.line)


def draw_flags(panel: Panel, placed: Sequence[Placed]) -> None:
    """Draw notes over a panel."""
    for flag, row, before in placed:
        x, foot = panel.x(flag.day), panel.box.top + 4 + row * ROW
        panel.picture.line([x, x], [panel.box.top, foot + SMALL], linewidth=0.5)
        panel.picture.write(
            x + (-_INDENT if before else _INDENT),
            foot,
            flag.text,
            size=SMALL,
            bold=flag.bold,
            across="right" if before else "left",
        )
