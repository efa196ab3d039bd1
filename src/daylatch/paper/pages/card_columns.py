"""The columns of the card's rows: what stands in them, how large, and how wide they are [pt]."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from daylatch.door.works.rows import RowsOf
from daylatch.wording import FACE_24_HOURS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from daylatch.paper.card import Card, ClockTime, Row
    from daylatch.paper.pages.ruler import Ruler

SMALLEST = 7.0
"""No text is smaller [pt]."""
SMALLEST_PERCENT = 55
"""The smallest scale."""
COLUMN_GAP = 4.5
"""Between columns at the least; those of 12-hour times, and of large ones, stand further apart."""
BEFORE_TIMES = ("dates", "marks")
"""The columns that also a day without times has."""
AFTER_TIMES = ("birds", "morning", "all_in", "write")
"""The columns behind the times that a sheet to tick and write on has, on every day."""
TICKED = ("morning", "all_in")
"""Those with a box to tick."""
DOOR = ("door_open", "door_close")
"""The columns in the door's own clock."""
BOLD = ("open", "close")
"""The columns that a keeper looks for first."""
_FEW_ROWS, _FEW_DAYS = 8, 16
"""Up to how many rows a card has its texts larger, to fill its page; and one by the day."""
_ROOMY = 1.45
_LEAST_TO_WRITE = 60.0
_TO_WRITE = 0.7


@dataclass(frozen=True)
class Sizes:
    """Sizes of text, and how far apart the rows stand [pt]."""

    name: float
    dates: float
    body: float
    small: float
    row: float
    pitch: float

    @classmethod
    def at(cls, percent: int, *, roomy: bool = False) -> Sizes:
        """Return the sizes at a scale; each shrinks no further than it stays readable.

        Parameters
        ----------
        percent
            The scale.
        roomy
            Whether texts may be larger than on a card of a month or a year.
        """
        scale = percent / 100
        row = max(12.4 * scale, SMALLEST)
        most = _ROOMY if roomy else 1.0
        return cls(
            name=min(max(22 * scale, 14.0), 25.0 * most),
            dates=min(max(13 * scale, 9.0), 15.0 * most),
            body=min(max(9.8 * scale, SMALLEST), 10.6 * most),
            small=min(max(8.4 * scale, SMALLEST), 9.0 * most),
            row=row,
            # Rows stand further apart where there is room for larger ones.
            pitch=row * min(1.28 + 0.9 * (scale - SMALLEST_PERCENT / 100), 1.46),
        )

    @property
    def head(self) -> float:
        """Of what stands above columns, and beside times."""
        return max(0.72 * self.row, SMALLEST)

    @property
    def shut(self) -> float:
        """Of what stands instead of times."""
        return max(0.85 * self.row, SMALLEST)


class Column(NamedTuple):
    """A column of the rows: its place in a block, and the clock that it is in."""

    key: str
    head: tuple[str, ...]
    clock: str
    left: float
    width: float


def begins_group(row: Row, previous: Row, card: Card) -> bool:
    """Return whether a stronger line parts two rows: a new month, or day by day a new week."""
    match card.rows_of:
        case RowsOf.WEEKS:
            return row.first.month != previous.first.month
        case RowsOf.DAYS:
            return row.first.weekday() == card.first_weekday
        case RowsOf.MONTHS:
            return False


def has_note(row: Row) -> bool:
    """Return whether a time of a row needs a second line to say on which date it is."""
    if row.times is None:
        return False
    times = (row.times.open, row.times.close, row.times.head_count)
    return any(time is not None and time.days_after for time in times)


def column_gap(card: Card, sizes: Sizes) -> float:
    """Return how far apart the columns of a card stand [pt]."""
    times = next((row.times for row in card.rows if row.times is not None), None)
    is_wide = times is not None and times.open.face is not FACE_24_HOURS
    return max(COLUMN_GAP, 0.55 * sizes.row) if is_wide or is_roomy(card) else COLUMN_GAP


def is_roomy(card: Card) -> bool:
    """Return whether a card has so few rows that larger texts must fill its page."""
    return len(card.rows) <= (_FEW_DAYS if card.rows_of is RowsOf.DAYS else _FEW_ROWS)


def cell_words(key: str, row: Row, card: Card) -> tuple[str, str]:
    """Return what stands in a column of a row, and a small note about its date.

    The note stands below the time, for the door's clock beside it.
    """
    match key:
        case "dates":
            return row.label, ""
        case "marks":
            return " ".join(row.marks), ""
        case "birds":
            return card.birds or "", ""
        case _ if key in AFTER_TIMES or row.times is None:
            return "", ""
        case "late":
            return str(row.times.late_min), ""
        case _ if key in DOOR:
            shown: ClockTime = getattr(row.times, key)
            return str(shown), f"{shown.days_after:+d} d" if shown.days_after else ""
        case _:
            time: ClockTime | None = getattr(row.times, key)
            return ("?", "") if time is None else (str(time), time.day_note)


def lay_columns(card: Card, sizes: Sizes, ruler: Ruler, room: float) -> tuple[Column, ...]:
    """Return the columns of a block; none if they are wider than the room."""
    wanted: list[tuple[str, tuple[str, ...], str]] = [("dates", ("Dates",), "")]
    if any(row.marks for row in card.rows):
        wanted.append(("marks", (), ""))
    wall = "Wall clock" if card.door_clock else ""
    wanted += [
        ("open", ("Opens",), wall),
        ("close", ("Closes",), wall),
        ("head_count", ("Count", "heads"), wall),
    ]
    late = any(row.times is not None and row.times.late_min for row in card.rows)
    if card.birds is None and (late or card.rows_of is not RowsOf.DAYS):
        wanted.append(("late", ("Late,", "min"), wall))
    if card.door_clock:
        door = f"Door: {card.door_clock}"
        wanted += [("door_open", ("Opens",), door), ("door_close", ("Closes",), door)]
    if card.birds is not None:
        wanted += [("birds", ("Birds",), "")] if card.birds else []
        wanted += [(key, head, "") for key, head in zip(TICKED, card.ticks, strict=True)]
        wanted.append(("write", ("Notes",), ""))
    between = column_gap(card, sizes)
    natural = [_natural_width(key, head, card, sizes, ruler) for key, head, _ in wanted]
    if card.door_clock:
        # The title of the door's clock stands above both of its columns.
        title = ruler.width(wanted[-1][2], sizes.head, True)
        natural[-1] = max(natural[-1], title - natural[-2] - between)
    # A line stands before the door's clock.
    gaps = [2 * between if key == "door_open" else between for key, _, _ in wanted]
    gaps[0] = 0.0
    spare = room - sum(natural) - sum(gaps)
    if spare < 0:
        return ()
    # Marks stand close to their dates, and the last column at the edge.
    grows = [True] * (len(wanted) - 1) + [False]
    grows[0] = wanted[1][0] != "marks"
    grown = [spare / sum(grows) * more for more in grows]
    if card.birds is not None:
        # What is written by hand has most of the room that is left.
        others = (1 - _TO_WRITE) * spare
        grown = [others / sum(grows) * more for more in grows[:-1]] + [_TO_WRITE * spare]
    columns = []
    left = 0.0
    for (key, head, clock), gap, width, more in zip(wanted, gaps, natural, grown, strict=True):
        left += gap
        columns.append(Column(key, head, clock, left, width + more))
        left += width + more
    return tuple(columns)


def _natural_width(key: str, head: Sequence[str], card: Card, sizes: Sizes, ruler: Ruler) -> float:
    widths = [ruler.width(line, sizes.head) for line in head]
    if key == "write":
        widths.append(_LEAST_TO_WRITE)
    if key in TICKED:
        widths.append(sizes.row)
    for text, note in {cell_words(key, row, card) for row in card.rows}:
        width = ruler.width(text, sizes.row, key in BOLD)
        beside = ruler.width(note, sizes.head)
        if key in DOOR and note:
            widths.append(width + 0.2 * sizes.row + beside)
        else:
            widths.append(max(width, beside))
    return max(widths, default=0.0)
