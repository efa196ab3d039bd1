"""The entries that a command of what happened looks at: those of a log, or of the diary."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from daylatch.commands.asked import Asked
from daylatch.commands.diary import diary_of
from daylatch.commands.happened.bounds import bounds_of
from daylatch.commands.happened.site_words import parted
from daylatch.commands.now import now_utc, warn
from daylatch.errors import DiaryError, OutputError, UsageError

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from daylatch.commands.dates import Range
    from daylatch.diary.entries import Entry
    from daylatch.diary.log.read import LogRead
    from daylatch.files.forms import Form
    from daylatch.site.tables import Site

DAYS_BACK = np.timedelta64(365, "D")
"""How far a diary is looked at, from its last entry, if no dates are given."""


def asked_of_log(
    command: str,
    words: list[str],
    wanted: Range,
    *,
    to: str | None,
    output: Path | None,
    force: bool,
    mapping: str | None,
) -> tuple[Asked, Form, Path | None]:
    """Return what a command of ``[SITE] [LOG]`` is asked for, in which form, and of which log.

    Raises
    ------
    UsageError
        If that does not go together.
    """
    path, rest = parted(words)
    if len(rest) > 1:
        raise UsageError(f"{command} takes a site file and one log, not {len(rest)} logs")
    asked = Asked(path, wanted, to, output, force)
    form = asked.form(command)
    if mapping is not None and not rest:
        raise UsageError("--as says how a log is read: name the log, too")
    if form.needs_pictures and output is None:
        raise UsageError(f"say where the picture goes, such as -o {command}.{form.name}")
    return asked, form, Path(rest[0]) if rest else None


def entries_of(
    site: Site,
    log: Path | None,
    mapping: str | None,
    wanted: Range,
    whats: Collection[str] = (),
) -> tuple[list[Entry], str]:
    """Return what was seen, and where that stands.

    Parameters
    ----------
    site
        Whose door and flock it is.
    log
        A log as CSV; None for the diary.
    mapping
        By which layout of the site file the log is read.
    wanted
        Dates; without any, all of a log, or the last year of the diary.
    whats
        Of the diary only these kinds; all of them if left out. With them nothing is no error.

    Raises
    ------
    DiaryError, LogError, UsageError, PlanError
        If it cannot be read, or holds nothing of these dates.
    """
    since, until = bounds_of(site, wanted)
    if log is not None:
        # The diary itself needs none of it.
        from daylatch.commands.happened.logs import (  # noqa: PLC0415
            read_log_file,
            still_to_come,
        )

        read = read_log_file(site, log, mapping)
        for note in (*read.notes, *still_to_come(read.entries, now_utc()), *_rejects(read)):
            warn(note)
        entries, source = list(read.entries), str(log)
    else:
        diary = diary_of(site)
        entries, source = (
            [one.entry for one in diary.entries(since, until, whats=whats)],
            str(diary.path),
        )
        if since is None and entries:
            # A slip in a year must not hide all that was noted since.
            now = now_utc()
            past = [one.instant_utc for one in entries if one.instant_utc <= now]
            since = (past[-1] if past else entries[-1].instant_utc) - DAYS_BACK
    kept = [
        one
        for one in entries
        if (since is None or one.instant_utc >= since)
        and (until is None or one.instant_utc < until)
    ]
    if not kept and not whats:
        raise DiaryError(f"{source}: holds nothing of these dates, so there is nothing to judge")
    return kept, source


def refuse_log(output: Path | None, log: Path | None) -> None:
    """Refuse to write a result over the log that it is of.

    Raises
    ------
    OutputError
        If that is asked for, whatever is forced.
    """
    from daylatch.files.put import is_same_file  # noqa: PLC0415 - not needed for printing

    if output is not None and log is not None and is_same_file(output, log):
        raise OutputError(f"{output}: is the log itself; choose another name")


def _rejects(read: LogRead) -> Iterator[str]:
    """Yield what is wrong with the first row that could not be read, and how many there are."""
    if read.rejects:
        first = read.rejects[0]
        count = len(read.rejects)
        yield (
            f"line {first.line}: {'; '.join(first.reasons)} ({count} such row{'s' * (count > 1)}; "
            "`daylatch diary import` writes them into a file)"
        )
