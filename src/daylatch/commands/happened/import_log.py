"""``daylatch diary import``: a log of the door into the diary."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from daylatch.commands.diary import diary_of
from daylatch.commands.happened.logs import read_log_file, still_to_come
from daylatch.commands.happened.records import records_of
from daylatch.commands.happened.site_words import parted
from daylatch.commands.now import now_utc, refuse_early_clock, warn, warn_about
from daylatch.commands.output import check_target, put_in_place
from daylatch.console import printable
from daylatch.diary.log.read import REJECTS, rejects_file
from daylatch.errors import OutputError, UsageError
from daylatch.files.own import header_is
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    from collections.abc import Sequence

    from daylatch.diary.entries import Entry
    from daylatch.diary.log.read import LogRead
    from daylatch.diary.store.store import Added, Diary

_MOST_TOLD = 3


def run(words: list[str], *, mapping: str | None, rejects: Path | None, again: bool) -> bool:
    """Add what a log holds and the diary lacks; return whether every row could be read."""
    path, rest = parted(words)
    if len(rest) != 1:
        raise UsageError("say which log: daylatch diary import door-log.csv")
    log = Path(rest[0])
    site = load_site(path)
    warn_about(site)
    refuse_early_clock()
    now = now_utc()
    found = read_log_file(site, log, mapping)
    for note in (*found.notes, *still_to_come(found.entries, now)):
        warn(note)
    entries, diary = found.entries, diary_of(site)
    place = None
    if found.rejects:
        _tell_rejects(found, log)
        place = _place_of_rejects(rejects or log.with_suffix(".rejects.csv"), diary)
    others = _at_the_same_moments(diary, entries)
    came = diary.take_in(
        entries, now, source=log.name, records=records_of(site, entries), again=again
    )
    if place is not None:
        _write_rejects(found, *place)
    print(printable(f"{diary.path}: {_told(came, len(entries))}"))
    if others and came.numbers:
        warn(
            f"at the moments of {others} of these rows the diary has something else, told by the "
            f"same: if a log was read wrongly before, take that back, such as with `daylatch diary "
            f"undo {log.name}`, and import this again with --again"
        )
    return not found.rejects


def _tell_rejects(found: LogRead, log: Path) -> None:
    for one in found.rejects[:_MOST_TOLD]:
        warn(f"{log}, line {one.line}: {'; '.join(one.reasons)}")


def _place_of_rejects(target: Path, diary: Diary) -> tuple[Path, bytes | None]:
    """Return where bad rows go, and those that an earlier import put there.

    Raises
    ------
    OutputError
        If what is there is something else.
    """
    try:
        if target.absolute() == diary.path.absolute():
            raise OutputError(f"{target}: is the diary")
        return target, check_target(target, header_is(REJECTS), site_paths=[], force=False)
    except OutputError as error:
        raise OutputError(
            f"{target}: cannot take the rows that could not be read ({_why(error)}), so nothing is "
            "taken in: name another file with --rejects"
        ) from error


def _why(error: OutputError) -> str:
    """Return why a file cannot be written, without its name and the remedies of other commands."""
    return str(error).partition(": ")[2].partition(";")[0].partition(", so it")[0]


def _write_rejects(found: LogRead, target: Path, previous: bytes | None) -> None:
    count = len(found.rejects)
    rows = "1 row" if count == 1 else f"{count} rows"
    about = f"{rows} that could not be read"
    put_in_place(target, previous, rejects_file(found.rejects), about)


def _at_the_same_moments(diary: Diary, entries: Sequence[Entry]) -> int:
    """Return how many entries are of moments at which the same teller said something else."""
    if not entries:
        return 0
    said: dict[tuple[np.datetime64, str], set[str]] = {}
    for one in diary.entries_if_any(
        min(entry.instant_utc for entry in entries),
        max(entry.instant_utc for entry in entries) + np.timedelta64(1, "s"),
    ):
        said.setdefault((one.entry.instant_utc, one.entry.by), set()).add(one.entry.what)
    places = ((entry, said.get((entry.instant_utc, entry.by))) for entry in entries)
    return sum(entry.what not in whats for entry, whats in places if whats)


def _told(came: Added, count: int) -> str:
    new = len(came.numbers)
    numbers = f", {came.numbers[0]} to {came.numbers[-1]}" if new > 1 else ""
    told = f"{new} of {count} entries are new{numbers}"
    if came.undone:
        told += f"; {came.undone} were undone before and stay so (--again takes them in)"
    return told
