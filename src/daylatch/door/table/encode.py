"""A plan as a controller table, in the fewest bytes."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import DAY, MINUTE
from daylatch.clock import DoorClock
from daylatch.door.table.decode import STAYS_SHUT as SHUT
from daylatch.door.table.decode import decode
from daylatch.door.table.format import (
    CHECK_BYTES,
    CLOSING_AS_SHOWN,
    EPOCH,
    EVERY_YEAR,
    HIGHEST_MINUTE,
    LARGEST_BYTES,
    LARGEST_WITHIN_MIN,
    LOWEST_MINUTE,
    MOST_CHANGES,
    OPENING_AS_SHOWN,
    SLOTS_OF_EVERY_YEAR,
    Head,
    check_of,
    pack_head,
)
from daylatch.door.table.search import MOVES, STAYS_SHUT, WITHOUT_ROW, Curve
from daylatch.door.table.tokens import shortest_stream
from daylatch.errors import PlanError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from daylatch.plan.plan import Plan

    Ints = NDArray[np.integer[Any]]

CLOCKS = {DoorClock.WALL: 0, DoorClock.STANDARD: 1, DoorClock.UTC: 2}
"""What the flags say of the clock."""
_LAST = 0xFFFF


@dataclass(frozen=True)
class _TableDays:
    """What the table must say, by date from the plan's first to its last.

    Attributes
    ----------
    kind : int8
        `MOVES`, `STAYS_SHUT` or `WITHOUT_ROW`.
    opening, closing : int64
        The least minute that may be said, since the date's midnight, as the door's clock shows it:
        the planned one and the clock margin.
    offset : int64
        That clock minus UTC at noon [min].
    """

    dates: NDArray[np.datetime64[Any]]
    kind: Ints
    opening: Ints
    closing: Ints
    offset: Ints


def encode(
    plan: Plan,
    *,
    within_min: int | None = None,
    every_year: bool = False,
    clock_margin_min: int = 0,
    on_progress: Callable[[int, int], None] | None = None,
) -> bytes:
    """Return the table of a plan.

    Parameters
    ----------
    plan
        Any plan from 2000 on.
    within_min
        How many minutes later than planned a movement may come, never earlier; None for the least
        that is possible.
    every_year
        Whether the plan's years, which must be whole, share one table by month and day.
    clock_margin_min
        How wrong the controller's clock may be, either way, with the width still kept: each end of
        it is narrowed by so much.
    on_progress
        Called with how many searches for a shorter stream are done, and of how many, after each.

    Raises
    ------
    UsageError
        If the width cannot be kept or would let movements overtake each other, or the table would
        be longer than a table can be.
    PlanError
        If the plan cannot be said in a table.
    """
    # What the margin takes of the width, at both ends.
    taken = 2 * clock_margin_min
    if within_min is not None and within_min < taken:
        raise UsageError(
            f"--within {within_min} leaves no minute for a table with --clock-margin "
            f"{clock_margin_min}: the clock may be wrong by so much either way, which takes 2 x "
            f"{clock_margin_min} = {taken} min; give --within {taken} or more, or a smaller margin"
        )
    days = _days_of(plan, clock_margin_min)
    _refuse_width(plan, taken if within_min is None else within_min)
    if every_year:
        return _encode_every_year(plan, days, within_min, taken, on_progress)
    changes = _changes_of(days.offset)
    shift = days.offset - days.offset[0]
    flags, streams = CLOCKS[plan.door_clock], []
    width = taken if within_min is None else within_min
    free = width - taken
    part = _parts(on_progress, 4 if changes else 2)
    for minutes, as_shown in (
        (days.opening, OPENING_AS_SHOWN),
        (days.closing, CLOSING_AS_SHOWN),
    ):
        stream = _stream(days.kind, minutes - shift, minutes - shift + free, next(part))
        if changes:
            # Limits by the clock keep their minute through its changes, light does not.
            curve = Curve(days.kind, minutes, minutes + free)
            shown = shortest_stream(curve, len(stream), next(part))
            if shown is not None:
                flags, stream = flags | as_shown, shown
        streams.append(stream)
    return _assemble(flags, days, width, taken, changes, *streams)


def _encode_every_year(
    plan: Plan,
    days: _TableDays,
    within_min: int | None,
    taken: int,
    on_progress: Callable[[int, int], None] | None,
) -> bytes:
    """Return one table for all years of a plan."""
    first, last = days.dates[0].item(), days.dates[-1].item()
    if (first.month, first.day, last.month, last.day) != (1, 1, 12, 31):
        raise UsageError(
            f"--every-year needs whole years, and the dates are {first} to {last}: begin with "
            "1 January and end with 31 December"
        )
    if first.year == last.year:
        raise UsageError(
            f"--every-year needs more than one year, and the dates are those of {first.year}: "
            "leave it out, or ask for more years"
        )
    slot = _slots_of(days.dates)
    kind = _kinds_by_slot(days, slot)
    shift = days.offset - days.offset[0]
    flags, bands, widest = CLOCKS[plan.door_clock] | EVERY_YEAR, [], 0
    for minutes, as_shown, name in (
        (days.opening, OPENING_AS_SHOWN, "opening"),
        (days.closing, CLOSING_AS_SHOWN, "closing"),
    ):
        spreads = []
        for bit, values in ((0, minutes - shift), (as_shown, minutes)):
            least, most = _extremes_by_slot(values, days.kind, slot)
            spreads.append((int((most - least).max(initial=0)), bit, least, most))
        spread, bit, least, most = min(spreads, key=lambda found: found[0])
        if within_min is not None and spread > within_min - taken:
            where = int((most - least).argmax())
            date = dt.date(2000, 1, 1) + dt.timedelta(days=where)
            margin = f", and the clock margin takes {taken} min" if taken else ""
            raise UsageError(
                f"one table for {first.year} to {last.year} cannot keep --within {within_min}: the "
                f"{name} of {date.day} {date:%B} differs by {spread} min between those years"
                f"{margin}; ask for a larger width, for fewer years, or leave out --every-year"
            )
        flags |= bit
        widest = max(widest, spread)
        bands.append((least, most))
    width = widest + taken if within_min is None else within_min
    if width > LARGEST_WITHIN_MIN:
        raise UsageError(
            f"one table for {first.year} to {last.year} would be up to {width} min late, and "
            f"{LARGEST_WITHIN_MIN} is the most that a table can promise: leave out --every-year"
        )
    _refuse_width(plan, width)
    part = _parts(on_progress, len(bands))
    streams = [_stream(kind, most, least + width - taken, next(part)) for least, most in bands]
    return _assemble(flags, days, width, taken, _changes_of(days.offset), *streams)


def _parts(
    on_progress: Callable[[int, int], None] | None, count: int
) -> Iterator[Callable[[int, int], None]]:
    """Yield what each of several streams calls, so that all of them are counted together."""

    def part(number: int) -> Callable[[int, int], None]:
        def count_on(done: int, of: int) -> None:
            if on_progress is not None:
                on_progress(number * of + done, count * of)

        return count_on

    return map(part, range(count))


def _stream(kind: Ints, low: Ints, high: Ints, on_progress: Callable[[int, int], None]) -> bytes:
    stream = shortest_stream(Curve(kind, low, high), on_progress=on_progress)
    assert stream is not None
    return stream


def _assemble(
    flags: int,
    days: _TableDays,
    width: int,
    taken: int,
    changes: tuple[tuple[int, int], ...],
    opening: bytes,
    closing: bytes,
) -> bytes:
    """Return head, streams and check."""
    head = Head(
        flags,
        0,
        (days.dates[0].item() - EPOCH).days,
        len(days.dates),
        width,
        int(days.offset[0]) // 15,
        changes,
        len(opening),
    )
    length = head.size + len(opening) + len(closing) + CHECK_BYTES
    if length > LARGEST_BYTES:
        raise UsageError(
            f"the table would have {length} bytes, and {LARGEST_BYTES} is the most that one can "
            "have: ask for fewer dates, or give --within"
        )
    content = pack_head(replace(head, length=length)) + opening + closing
    content += check_of(content).to_bytes(CHECK_BYTES, "little")
    _read_back(content, days, width - taken)
    return content


def _read_back(content: bytes, days: _TableDays, free: int) -> None:
    """See that a table says what it should before it leaves: a wrong hour costs birds."""
    table = decode(content)
    for index, date in enumerate(days.dates.tolist()):
        said = table.on(date)
        if days.kind[index] != MOVES:
            good = said == ((None, None) if days.kind[index] == WITHOUT_ROW else (SHUT, SHUT))
        else:
            least = int(days.opening[index]), int(days.closing[index])
            good = all(
                isinstance(minute, int) and 0 <= minute - wanted <= free
                for minute, wanted in zip(said, least, strict=True)
            )
        if not good:
            raise AssertionError(f"the table says {said} for {date}, and the plan does not")


def _days_of(plan: Plan, margin: int) -> _TableDays:
    """Return a plan's movements on a door's clock that may be fast by a margin [min]."""
    dates = np.arange(plan.dates[0], plan.dates[-1] + DAY)
    if dates[0] < np.datetime64(EPOCH) or dates[-1] > np.datetime64(EPOCH) + _LAST:
        raise PlanError(
            f"a table can hold dates from {EPOCH} to {EPOCH + dt.timedelta(days=_LAST)}, and the "
            f"plan is for {dates[0]} to {dates[-1]}"
        )
    row = np.searchsorted(dates, plan.dates)
    kind = np.full(dates.shape, WITHOUT_ROW, np.int8)
    kind[row] = np.where(plan.is_open, MOVES, STAYS_SHUT)
    columns = []
    for instants in (plan.open_utc, plan.close_utc):
        shown = (plan.on_door(instants).wall - plan.dates)[plan.is_open]
        minutes = np.zeros(dates.shape, np.int64)
        minutes[row[plan.is_open]] = shown // MINUTE + margin
        columns.append(minutes)
    if min(map(np.min, columns)) < LOWEST_MINUTE or max(map(np.max, columns)) > HIGHEST_MINUTE:
        raise PlanError("the plan has door times more than two days from their date")
    return _TableDays(dates, kind, columns[0], columns[1], _offsets_of(plan, dates))


def _offsets_of(plan: Plan, dates: NDArray[np.datetime64[Any]]) -> Ints:
    """Return the door's clock minus UTC, date by date [min]."""
    match plan.door_clock:
        case DoorClock.UTC:
            offset = np.zeros(dates.shape, "timedelta64[m]")
        case DoorClock.STANDARD:
            offset = plan.zone.standard_offset(dates)
        case DoorClock.WALL:
            noons, _ = plan.zone.noons(dates)
            offset = plan.zone.offset_at(noons)
            # A date that the calendar skipped has no noon: the clock is that of the date before.
            known = np.maximum.accumulate(np.where(np.isnat(offset), 0, np.arange(len(dates))))
            offset = offset[known]
    minutes: Ints = (offset // MINUTE).astype(np.int64)
    if (minutes % 15).any() or np.abs(minutes).max() > 15 * 127:
        raise PlanError(
            f"the clock of {plan.site.zone} is not a whole number of quarters of an hour from UTC "
            "on these dates, which a table cannot say"
        )
    return minutes


def _changes_of(offset: Ints) -> tuple[tuple[int, int], ...]:
    """Return on which days the clock has changed, and by how many quarters of an hour.

    Raises
    ------
    UsageError
        If there are too many.
    """
    where = np.flatnonzero(np.diff(offset)) + 1
    changes = tuple((int(day), int(offset[day] - offset[day - 1]) // 15) for day in where)
    if len(changes) > MOST_CHANGES:
        raise UsageError(
            f"the clock changes {len(changes)} times on these dates, and a table can hold "
            f"{MOST_CHANGES} changes: ask for fewer dates"
        )
    return changes


def _refuse_width(plan: Plan, width: int) -> None:
    """Raise if movements that are so late could come after the next one."""
    if width > LARGEST_WITHIN_MIN:
        raise UsageError(
            f"--within is {width}: at most {LARGEST_WITHIN_MIN} minutes can be promised"
        )
    for name, spans in (
        ("open", plan.close_utc - plan.open_utc),
        ("shut", plan.lock_in),
    ):
        known = spans[~np.isnat(spans)]
        if known.size and int(known.min() // MINUTE) <= width:
            date = plan.dates[np.flatnonzero(spans == known.min())[0]]
            raise UsageError(
                f"with a width of {width} min a movement could come after the next one: on {date} "
                f"the door is {name} for only {int(known.min() // MINUTE)} min"
            )


def _slots_of(dates: NDArray[np.datetime64[Any]]) -> Ints:
    """Return each date's place in a leap year, counted from 0."""
    months = dates.astype("datetime64[M]")
    month = months.astype(np.int64) % 12
    begins = np.cumsum([0, 31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30])
    day: Ints = (dates - months).astype(np.int64)
    return begins[month] + day


def _kinds_by_slot(days: _TableDays, slot: Ints) -> Ints:
    """Return what each slot is.

    Raises
    ------
    UsageError
        If the years do not agree.
    """
    kind = np.full(SLOTS_OF_EVERY_YEAR, -1, np.int8)
    for found, where, date in zip(days.kind, slot, days.dates, strict=True):
        if kind[where] not in (-1, found):
            raise UsageError(
                f"one table cannot hold all these years: on {date} the door stays shut, or there "
                "is no such date, and in another year it opens on that day, or the other way "
                "round; leave out --every-year"
            )
        kind[where] = found
    # Without a leap year among them, no date asks for 29 February.
    kind[kind < 0] = WITHOUT_ROW
    return kind


def _extremes_by_slot(values: Ints, kind: Ints, slot: Ints) -> tuple[Ints, Ints]:
    """Return the least and the most that the years have in each slot; 0 where none has."""
    least = np.full(SLOTS_OF_EVERY_YEAR, np.iinfo(np.int64).max)
    most = np.full(SLOTS_OF_EVERY_YEAR, np.iinfo(np.int64).min)
    moving = kind == MOVES
    np.minimum.at(least, slot[moving], values[moving])
    np.maximum.at(most, slot[moving], values[moving])
    none = least > most
    return np.where(none, 0, least), np.where(none, 0, most)
