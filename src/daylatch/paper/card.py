"""What the card by the door says: when the door moves, by the week, by the month or by the day.

A row that stands for several days gives the latest opening and the latest closing among them, so
that the door never moves before its planned minute, and says how late that may be
(`daylatch.door.works.rows`). Where a person works the door, the rows are what is due; else they
show when what works it will have moved.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import DAY_MIN, MINUTE
from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import DoorClock, zone_rules_version
from daylatch.door.works.rows import RowsOf, columns_of, find_rows, find_steady_rows, told_spans
from daylatch.paper.card_words import (
    BY_HAND,
    dates_covered,
    how_to_read,
    label,
    monthly_check,
    remember_heads,
)
from daylatch.plan.daily.rules import Rule
from daylatch.plan.daily.settings import spans_on
from daylatch.plan.due_words import due_notes
from daylatch.plan.summary import (
    describe_clock_changes,
    describe_clocks,
    describe_place,
)
from daylatch.wording import capital

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from daylatch.arrays import Minutes
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Span
    from daylatch.wording import ClockFace


CLOCK_MARK = "+"
"""What stands beside rows on whose dates the wall clock changes."""

FALLBACK_MARK = "~"
"""What stands beside rows with days without the light that the door follows."""

DAYLIGHT_MARK = "#"
"""What stands beside rows with days on which it closes in daylight."""

UNKNOWN_MARK = "?"
"""What stands beside rows with days that the file in use does not cover."""


BY_HAND_TITLE, CALL_TITLE = "Working the door by hand", "Whom to call"
_SHUT = "shut all day"
_WHY_SHUT = {Rule.DARK: "dark", Rule.NO_TIME_LEFT: "no open time left"}


@dataclass(frozen=True)
class ClockTime:
    """What a clock shows, and how many days after the row's own date it does so."""

    minutes_of_day: int
    days_after: int
    face: ClockFace

    def __str__(self) -> str:
        return self.face.time(self.minutes_of_day)

    @property
    def day_note(self) -> str:
        """What is said beside a time that falls on another date; empty if it does not."""
        match self.days_after:
            case 0:
                return ""
            case 1:
                return "next day"
            case -1:
                return "day before"
            case days:
                return f"{days:+d} days"


@dataclass(frozen=True)
class RowTimes:
    """The times of a row.

    Attributes
    ----------
    open, close : ClockTime
        On the wall clock.
    head_count : ClockTime or None
        On the wall clock; None where it is not known when the door closes.
    door_open, door_close : ClockTime or None
        On the door's own clock, where that is another.
    late_min : int
        By how much the door moves after its planned minute at most, on any day of the row.
    """

    open: ClockTime
    close: ClockTime
    head_count: ClockTime | None
    door_open: ClockTime | None
    door_close: ClockTime | None
    late_min: int


@dataclass(frozen=True)
class Row:
    """Some consecutive days.

    Attributes
    ----------
    first, last : date
        Both included.
    label : str
        The dates in words.
    marks : tuple of str
        What is explained below the rows.
    times : RowTimes or None
        None where the door stays shut.
    shut : str
        That it stays shut, and why; empty otherwise.
    """

    first: dt.date
    last: dt.date
    label: str
    marks: tuple[str, ...]
    times: RowTimes | None
    shut: str


@dataclass(frozen=True)
class Box:
    """A frame below the rows.

    Attributes
    ----------
    title : str
        What it is about.
    own : str
        The keeper's words.
    plain : str
        The program's, before them.
    pen_lines : int
        How many lines there are to write on, where there are no words of the keeper's.
    """

    title: str
    own: str
    plain: str = ""
    pen_lines: int = 3


@dataclass(frozen=True)
class Card:
    """All that the card says.

    Attributes
    ----------
    title : str
        What it is, above the dates.
    rows_of : RowsOf
        What a row stands for.
    first_weekday : int
        With which day weeks begin, counted from Monday, which is 0.
    name, place, dates, clocks : str
        Which house, where (empty if that is not shown), when, and in which clock.
    how_to_read : str
        What a row's times mean.
    door_clock : str
        What the door's own clock keeps; empty where that is the wall clock.
    rows : tuple of Row
        In order of date.
    marks : tuple of (str, str)
        Changes of the wall clock, then dated spans: the mark, and what it means.
    boxes : tuple of Box
        Two beside each other, pair by pair.
    notes : str
        In the keeper's own words; empty where there are none, or none are shown.
    head_count, monthly_check, caution : str
        What the card reminds of; the monthly check is empty where it is nobody's.
    birds : str or None
        How many there should be each evening, for whoever ticks and writes; None on a card that is
        read only.
    ticks : tuple of tuple of str
        What is ticked each morning and each evening, each in lines of a heading; none if nothing.
    reader : str
        Whom it is for, by name; empty if it is for whoever comes by.
    of_place : tuple of str
        Sentences on the place, beside its times.
    """

    title: str
    rows_of: RowsOf
    first_weekday: int
    name: str
    place: str
    dates: str
    clocks: str
    how_to_read: str
    door_clock: str
    rows: tuple[Row, ...]
    marks: tuple[tuple[str, str], ...]
    boxes: tuple[Box, ...]
    notes: str
    head_count: str
    monthly_check: str
    caution: str
    birds: str | None = None
    ticks: tuple[tuple[str, ...], ...] = ()
    reader: str = ""
    of_place: tuple[str, ...] = ()

    @property
    def headline(self) -> str:
        """What stands under the name of the house: what it is, for which dates and for whom."""
        return ", ".join(
            filter(None, [self.title, self.dates, self.reader and f"for {self.reader}"])
        )

    @property
    def texts(self) -> Iterator[str]:
        """Every text that may hold a keeper's words."""
        yield from (self.name, self.place, self.notes, self.reader)
        yield from (box.own for box in self.boxes)
        yield from (row.shut for row in self.rows)
        yield from (text for _, text in self.marks)


def make_card(
    due: Due,
    rows_of: RowsOf,
    dates: tuple[dt.date, dt.date] | None = None,
    tried_out: str = "",
    *,
    tells_settings: bool = True,
    of_place: Sequence[tuple[str, str]] = (),
) -> Card:
    """Return what the card of a house says.

    Parameters
    ----------
    due
        Of whole calendar years, by which rows are counted, or of the dates of a card by the day.
    rows_of
        What a row stands for.
    dates
        The first and last date that its rows must touch; all of them if left out.
    tried_out
        That the card is another than the site file asks for; empty if it is not.
    tells_settings
        Whether days on which other settings hold are told, though no reason is.
    of_place
        Sentences on the place, such as of its direct sun, each with a label.
    """
    rows_due, by_setting = _rows_of_days(due, rows_of)
    if dates is not None:
        first, last = (np.datetime64(date, "D") for date in dates)
        all_dates = due.plan.dates
        rows_due = [
            days for days in rows_due if all_dates[days[0]] <= last and all_dates[days[-1]] >= first
        ]
        # A date that the calendar skipped has no row.
        begin, end = rows_due[0][0], rows_due[-1][-1] + 1
        where = np.zeros(len(due), np.bool_)
        where[begin:end] = True
        due, rows_due = due.part(where), [days - begin for days in rows_due]
    plan = due.plan
    words = plan.site.settings.card
    letters = [
        (span, letter)
        for span, letter in _letters(plan, rows_of)
        if tells_settings or _reason(plan, span)
    ]
    year = plan.dates[-1].item().year
    rows = tuple(_rows(due, rows_of, rows_due, letters))
    return Card(
        title="Door times",
        rows_of=rows_of,
        first_weekday=plan.site.settings.writing.first_weekday,
        name=plan.site.name,
        place=describe_place(plan.site) if "place" in words.show else "",
        dates=dates_covered(plan, rows_of),
        clocks=f"Times: {describe_clocks(plan)}. Zone rules {zone_rules_version()}.",
        how_to_read=" ".join(
            filter(
                None,
                [
                    tried_out,
                    *due_notes(due),
                    f"{how_to_read(due, rows_of, by_setting=by_setting)}{_door_dates(rows)}",
                ],
            )
        ),
        door_clock=_DOOR_CLOCK[plan.door_clock],
        rows=rows,
        marks=(
            *_clock_marks(plan),
            *_fallback_marks(plan),
            *_daylight_marks(due),
            *_unknown_marks(due),
            *((letter, _describe_span(plan, span, year)) for span, letter in letters),
        ),
        boxes=(Box(BY_HAND_TITLE, words.by_hand.strip()), Box(CALL_TITLE, words.call.strip())),
        notes=plan.site.settings.head.notes.strip() if "notes" in words.show else "",
        head_count=remember_heads(due),
        monthly_check=monthly_check(plan),
        of_place=tuple(f"{capital(text)}." for _, text in of_place),
        caution=f"{CAUTION} {NO_WEATHER}",
    )


_DOOR_CLOCK = {
    DoorClock.WALL: "",
    DoorClock.UTC: "UTC",
    DoorClock.STANDARD: "standard",
}


def _door_dates(rows: Sequence[Row]) -> str:
    """Return what is meant by the notes beside times that the door's clock has on other dates."""
    times = [row.times for row in rows if row.times is not None]
    shown = [time for row in times for time in (row.door_open, row.door_close) if time is not None]
    if not any(time.days_after for time in shown):
        return ""
    return ' On the door\'s clock, "-1 d" is the day before and "+1 d" the next day.'


def _rows_of_days(due: Due, rows_of: RowsOf) -> tuple[list[NDArray[np.int64]], bool]:
    """Return the days of each row, and whether the rows are what is due on each of their days.

    Where a person goes by the rows they follow the plan; else they hold what is due anyway. A timer
    whose times change less often than weeks or months do has a row for each of its settings.
    """
    plan = due.plan
    by_hand = plan.site.works == BY_HAND and rows_of is not RowsOf.DAYS
    opens, closes = (
        (plan.open_utc, plan.close_utc) if by_hand else (due.told_open_utc, due.told_close_utc)
    )
    columns = columns_of(plan, opens, closes)
    shut = [_why_shut(due, index, rows_of) for index in range(len(due))]
    late_by_min = plan.site.settings.card.late_by_min
    rows = list(find_rows(plan, columns, shut, rows_of, late_by_min))
    if by_hand or rows_of is RowsOf.DAYS or not due.differs.any():
        return rows, False
    steady = list(find_steady_rows(plan, columns, shut, due.known))
    return (steady, True) if len(steady) <= len(rows) else (rows, False)


def _rows(
    due: Due,
    rows_of: RowsOf,
    rows_due: Sequence[NDArray[np.int64]],
    letters: Sequence[tuple[Span, str]],
) -> Iterator[Row]:
    plan = due.plan
    planned = columns_of(plan, plan.open_utc, plan.close_utc).shown
    told = columns_of(plan, due.told_open_utc, due.told_close_utc).shown
    # A year is written where it begins, if the card reaches over its end.
    many_years = plan.dates[0].item().year != plan.dates[-1].item().year
    many_months = many_years or plan.dates[0].item().month != plan.dates[-1].item().month
    year = 0
    for days in rows_due:
        first, last = plan.dates[days[[0, -1]]].tolist()
        shut = _why_shut(due, int(days[0]), rows_of)
        yield Row(
            first=first,
            last=last,
            label=label(
                first,
                last,
                rows_of,
                tells_year=many_years and last.year != year,
                tells_month=many_months,
            ),
            marks=tuple(_marks(due, days, letters)),
            times=None if shut else _times(due, told, planned, days),
            shut=shut,
        )
        year = last.year


def _times(
    due: Due, told: Sequence[Minutes], planned: Sequence[Minutes], days: NDArray[np.int64]
) -> RowTimes:
    """Return the latest of each column [timedelta64[m] since midnight of the day's own date]."""
    face = due.plan.site.face
    latest = [column[days].max() for column in told]
    unknown_by = (due.up_to_min or 0) * int(not due.known[days].all())
    count = latest[2] + unknown_by * MINUTE
    minutes = [int(time // MINUTE) for time in (*latest[:2], count, *latest[3:])]
    shown = [ClockTime(time % DAY_MIN, time // DAY_MIN, face) for time in minutes]
    # A file in use may open the door on a day that is planned shut: then nothing is late.
    late = [
        int((time - np.fmin.reduce(column[days])) // MINUTE)
        for time, column in zip(latest[:2], planned, strict=False)
        if not np.isnat(column[days]).all()
    ]
    return RowTimes(
        open=shown[0],
        close=shown[1],
        head_count=None if np.isnat(due.head_count_utc[days]).any() else shown[2],
        door_open=shown[3] if len(shown) > 3 else None,
        door_close=shown[4] if len(shown) > 3 else None,
        late_min=max(late, default=0) + unknown_by,
    )


def _why_shut(due: Due, index: int, rows_of: RowsOf) -> str:
    """Return that the door stays shut on a day, and why; empty if it opens."""
    plan = due.plan
    if due.is_open[index]:
        return ""
    if plan.is_open[index]:
        return f"{_SHUT}: by the file in use"
    rule = Rule(plan.decisions.open.decided_by[index])
    if rule is not Rule.SHUT_SPAN:
        return f"{_SHUT}: {_WHY_SHUT[rule]}"
    spans = spans_on(plan.site.settings, plan.dates[index].item())
    reasons = [_reason(plan, span) for span in spans if span.shut and span.reason]
    # Day by day a letter stands for the reason, which is told once.
    told = "" if rows_of is RowsOf.DAYS else "; ".join(filter(None, reasons))
    return ": ".join(filter(None, [_SHUT, told]))


def _reason(plan: Plan, span: Span) -> str:
    """Return a span's reason, if the card may show it."""
    return span.reason if "reasons" in plan.site.settings.card.show else ""


def _letters(plan: Plan, rows_of: RowsOf) -> list[tuple[Span, str]]:
    """Return the spans to which rows refer by a letter, with their letters."""
    dates = plan.dates if rows_of is RowsOf.DAYS else plan.dates[plan.is_open]
    spans = [span for span in told_spans(plan.site) if any(map(span.covers, dates.tolist()))]
    return [(span, _letter(number)) for number, span in enumerate(spans)]


def _letter(number: int) -> str:
    """Return a, b, ... z, a2, b2 and so on."""
    again, place = divmod(number, 26)
    return f"{chr(ord('a') + place)}{again + 1 if again else ''}"


def _marks(due: Due, days: NDArray[np.int64], letters: Sequence[tuple[Span, str]]) -> Iterator[str]:
    plan = due.plan
    if plan.has_clock_change[days].any():
        yield CLOCK_MARK
    if _on_fallback(plan)[days].any():
        yield FALLBACK_MARK
    if due.closes_in_daylight[days].any():
        yield DAYLIGHT_MARK
    if due.up_to_min is None and not due.known[days].all():
        yield UNKNOWN_MARK
    yield from (letter for span, letter in letters if span.covers(plan.dates[days[0]].item()))


def _clock_marks(plan: Plan) -> Iterator[tuple[str, str]]:
    changes = list(describe_clock_changes(plan, plan.site.face))
    if not changes:
        yield "", "The wall clock does not change on these dates."
    for change in changes:
        yield CLOCK_MARK, change


def _on_fallback(plan: Plan) -> NDArray[np.bool_]:
    """Return on which days a movement has no light event and follows the clock instead."""
    moves = (plan.decisions.open, plan.decisions.close)
    begun = [np.isin(move.started_by, (Rule.FALLBACK, Rule.DARK_FALLBACK)) for move in moves]
    fallback: NDArray[np.bool_] = plan.is_open & np.logical_or(*begun)
    return fallback


def _fallback_marks(plan: Plan) -> Iterator[tuple[str, str]]:
    if _on_fallback(plan).any():
        yield FALLBACK_MARK, "days without the light that the door follows: your clock time holds"


def _daylight_marks(due: Due) -> Iterator[tuple[str, str]]:
    if due.closes_in_daylight.any():
        yield DAYLIGHT_MARK, "closes in daylight: shut the birds in before"


def _unknown_marks(due: Due) -> Iterator[tuple[str, str]]:
    if due.up_to_min is None and not due.known.all():
        yield (
            UNKNOWN_MARK,
            "not known when the door moves: these are planned times; count heads once it has shut",
        )


def _describe_span(plan: Plan, span: Span, year: int) -> str:
    dates = span.dates_text
    if span.first.year == span.last.year == year:
        dates = label(span.first, span.last, RowsOf.WEEKS, tells_year=False)
    return f"{dates}: {_reason(plan, span) or (_SHUT if span.shut else 'settings of their own')}"
