"""Rows of a log whose layout the site file describes, as entries of the diary."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.entries import (
    WHATS,
    EntryError,
    Kind,
    ValueKind,
    make_entry,
    minutes_text,
)
from daylatch.diary.log.found_form import Stamp, find_moments
from daylatch.diary.log.layout import check_length
from daylatch.diary.log.log_clock import clock_of, steps_back
from daylatch.diary.log.rows import UNCLOSED, LogError, ReadRow, missing_column, ragged
from daylatch.diary.log.written_moments import Moment, read_by, read_exact
from daylatch.site.messages import show_value
from daylatch.site.table import check_text, spoken

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from daylatch.diary.entries import Entry
    from daylatch.diary.log.rows import Row, Sheet
    from daylatch.site.diary import DiaryLog
    from daylatch.site.tables import Site

_WHEN = ("instant", "date", "time")
_KEYS = (*_WHEN, "what", "value", "note")
_OF_EVENINGS = frozenset({"shut", "shut_by_hand", "last_in", "all_in"})
_SOME_INSTANT = np.datetime64(0, "s")
_ALL_EARLY = (
    "no time is after 12:59: if the log counts hours to 12 only, its afternoons were read as "
    "mornings, and it cannot be used"
)


def columns_of(log: DiaryLog) -> dict[str, str]:
    """Return the columns that a layout names, by their keys."""
    return {key: column for key in _KEYS if (column := getattr(log, key)) is not None}


def read_mapped(
    sheet: Sheet, name: str, log: DiaryLog, site: Site
) -> tuple[list[ReadRow], list[str]]:
    """Return what became of each row of a log, and what is worth a warning.

    Raises
    ------
    LogError
        If the log is not laid out so, or its times cannot be understood.
    """
    places = _places(sheet, name, log)
    kinds = {
        spoken(word): kind for word, kind in (log.words or {kind: kind for kind in WHATS}).items()
    }
    lines = [_begin(row, len(sheet.header.cells), places, log, kinds) for row in sheet.rows]
    notes = _put_instants([line for line in lines if line.when], name, log, site)
    return [_finish(line, log) for line in lines], notes


def _places(sheet: Sheet, name: str, log: DiaryLog) -> dict[str, int]:
    """Return at which place each column stands, by its key."""
    under = f"of [[diary.log]] {show_value(log.name)}"
    columns = [spoken(column) for column in sheet.columns()]
    places = {}
    for key, column in columns_of(log).items():
        if spoken(column) not in columns:
            raise missing_column(sheet, name, column, f"correct {key} {under}")
        if columns.count(spoken(column)) > 1:
            said = f"the column {show_value(column)} stands twice: rename one, and {key} {under}"
            raise LogError(name, sheet.header.line, said)
        places[key] = columns.index(spoken(column))
    return places


@dataclass
class _Line:
    """A row on its way to an entry.

    Attributes
    ----------
    row : Row
        As it stands in the file.
    cells : dict of str to str
        What it says, by the keys of its columns.
    when : str
        What it says of when; empty if that cannot be read.
    kind : str or None
        Its kind of entry: empty if it is passed over, None if that is not known.
    instant : datetime64[s]
        NaT until it is known.
    reasons : list of str
        Why it makes no entry.
    """

    row: Row
    cells: dict[str, str] = field(default_factory=dict)
    when: str = ""
    kind: str | None = None
    instant: np.datetime64 = field(default_factory=lambda: np.datetime64("NaT", "s"))
    reasons: list[str] = field(default_factory=list)


def _begin(
    row: Row, width: int, places: Mapping[str, int], log: DiaryLog, kinds: Mapping[str, str]
) -> _Line:
    """Return a row with its kind of entry, and what it says of when."""
    if why := ragged(row, width):
        return _Line(row, reasons=[why])
    line = _Line(row, {key: row.cells[place].strip() for key, place in places.items()})
    when = [line.cells[key] for key in _WHEN if key in line.cells]
    for key in (key for key in (*_WHEN, "what") if key in line.cells):
        try:
            check_text(line.cells[key])
        except ValueError as error:
            why = UNCLOSED if "\n" in line.cells[key] else str(error)
            line.reasons.append(f"{getattr(log, key)}: {why}")
    if not all(when):
        line.reasons.append("there is no date, or no time: write both")
    elif not line.reasons:
        line.when = " ".join(when)
    if log.kind is not None:
        line.kind = log.kind
    else:
        line.kind = kinds.get(spoken(line.cells["what"]))
    if line.kind is None and not line.reasons:
        line.reasons.append(
            f"{show_value(line.cells['what'])} is not among the words of [[diary.log]] "
            f'{show_value(log.name)}: add it with a kind of entry, or with "" to pass over it'
        )
    return line


def _put_instants(lines: Sequence[_Line], name: str, log: DiaryLog, site: Site) -> list[str]:
    """Put into each line when it was, or why that is not known; return what is worth a warning."""
    clock = clock_of(log, site)
    moments, notes = _moments(lines, name, log)
    good: list[tuple[_Line, Moment]] = []
    for line, moment in zip(lines, moments, strict=True):
        try:
            good.append((line, _checked(line, moment, log)))
        except EntryError as error:
            line.reasons.append(str(error))
    walls = np.array([moment.wall for _, moment in good], "datetime64[s]")
    readings = clock.readings(walls, np.array([moment.is_utc for _, moment in good], bool))
    instants = readings.settled()
    for at in np.flatnonzero(np.isnat(instants)):
        both = np.array([readings.earlier[at], readings.later[at]])
        words = (
            clock.gap_words(walls[at]) if readings.is_gap[at] else clock.fold_words(walls[at], both)
        )
        good[at][0].reasons.append(words)
    for (line, _), instant in zip(good, instants, strict=True):
        line.instant = instant
    known = ~np.isnat(instants)
    numbers = np.array([line.row.line for line, _ in good], np.int64)
    return [*notes, *steps_back(instants[known], numbers[known])]


def _moments(
    lines: Sequence[_Line], name: str, log: DiaryLog
) -> tuple[list[Moment | None], list[str]]:
    """Return what each line says of when, by the form that is known or found."""
    if log.format is None:
        found = find_moments([Stamp(line.row.line, line.when) for line in lines], name)
        has_evenings = any(line.kind in _OF_EVENINGS for line in lines)
        return found.moments, [_ALL_EARLY] if found.may_be_of_12_hours and has_evenings else []
    moments = [read_by(log.format, line.when) or read_exact(line.when) for line in lines]
    unfit = [line for line, moment in zip(lines, moments, strict=True) if moment is None]
    if len(unfit) * 2 > len(lines):
        raise LogError(
            name,
            unfit[0].row.line,
            f"{show_value(unfit[0].when)} is not written as format = {show_value(log.format)} has "
            f"it, as in {len(unfit)} of {len(lines)} rows: correct the format",
        )
    return moments, []


def _checked(line: _Line, moment: Moment | None, log: DiaryLog) -> Moment:
    if moment is None:
        form = "in a form that is known" if log.format is None else f"as {show_value(log.format)}"
        raise EntryError(f"{show_value(line.when)} is no date and time {form}: correct it")
    moment.check()
    return moment


def _finish(line: _Line, log: DiaryLog) -> ReadRow:
    """Return what became of a line."""
    if line.kind == "":
        return ReadRow(line.row, None, ())
    entry = None
    if line.kind is not None:
        try:
            entry = _entry(line, line.kind, log)
        except EntryError as error:
            line.reasons.append(str(error))
    if line.reasons:
        return ReadRow(line.row, None, tuple(line.reasons))
    return ReadRow(line.row, entry, ())


def _entry(line: _Line, kind: str, log: DiaryLog) -> Entry:
    value = line.cells.get("value", "")
    match WHATS[kind].value:
        case ValueKind.NOTHING:
            # One column may hold what rows of other kinds have.
            value = ""
        case ValueKind.VOLTS:
            value = re.sub(r"^(\d+),(\d+)$", r"\1.\2", value)
    check_length("value", value)
    # Looked at for what else is wrong with it, even if it is not known when it was.
    instant = _SOME_INSTANT if np.isnat(line.instant) else line.instant
    door = WHATS[kind].door
    if door is not None and door.kind is not Kind.STATE:
        instant = instant - np.timedelta64(log.takes_s, "s")
    return make_entry(
        instant,
        kind,
        value,
        stamped_by=log.stamp,
        within="" if log.within_min is None else minutes_text(log.within_min),
        by=log.name,
        note=line.cells.get("note", ""),
    )
