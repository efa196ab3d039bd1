"""Logs of the door as files."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.diary.log.layout import is_own
from daylatch.diary.log.read import LogRead, Reject, read_log
from daylatch.diary.log.rows import LARGEST_BYTES, LogError
from daylatch.errors import UsageError
from daylatch.site.diary import spoken
from daylatch.site.messages import show_value
from daylatch.wording import listed

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np

    from daylatch.site.diary import DiaryLog
    from daylatch.site.tables import Site


def read_log_file(site: Site, log: Path, name: str | None, latest_utc: np.datetime64) -> LogRead:
    """Return what a log holds.

    Parameters
    ----------
    site
        Whose door it is of.
    log
        The file.
    name
        Of the layout in the site file that it has; None for the only one, or the diary's own.
    latest_utc
        Beyond which no row can be [datetime64[s]].

    Raises
    ------
    LogError
        If it cannot be read.
    UsageError
        If it is not known how it is laid out.
    """
    try:
        with log.open("rb") as stream:
            # Not all of it, since a device may have no end.
            content = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise LogError(str(log), None, f"cannot be read ({why}): name a log as CSV") from error
    return _without_future(
        read_log(content, str(log), _layout(site, name, content), site), latest_utc
    )


def _layout(site: Site, name: str | None, content: bytes) -> DiaryLog | None:
    """Return how a log is laid out; None for the diary's own layout."""
    logs = site.settings.diary.log if site.settings.diary else []
    names = listed([show_value(log.name) for log in logs], "or")
    if name is not None:
        for log in logs:
            if spoken(log.name) == spoken(name):
                return log
        known = f"write {names}" if logs else "describe it as [[diary.log]] there"
        raise UsageError(f"--as is {show_value(name)}, which the site file does not name: {known}")
    if is_own(content) or not logs:
        return None
    if len(logs) > 1:
        raise UsageError(f"the site file describes {len(logs)} logs: say which with --as, {names}")
    return logs[0]


def _without_future(found: LogRead, latest_utc: np.datetime64) -> LogRead:
    """Return what a log holds, without rows that cannot have happened yet."""
    rows = list(zip(found.entries, found.lines, found.rows, strict=True))
    kept = [row for row in rows if row[0].instant_utc <= latest_utc]
    rejects = [
        Reject(line, text, (f"{entry.instant_utc}Z is still to come: look at the date",))
        for entry, line, text in rows
        if entry.instant_utc > latest_utc
    ]
    return LogRead(
        tuple(entry for entry, *_ in kept),
        tuple(line for _, line, _ in kept),
        tuple(text for *_, text in kept),
        tuple(sorted((*found.rejects, *rejects), key=lambda one: one.line)),
        found.notes,
    )
