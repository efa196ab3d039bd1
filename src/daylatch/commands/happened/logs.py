"""Logs of the door as files."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.log.layout import is_own
from daylatch.diary.log.read import read_log
from daylatch.diary.log.rows import LARGEST_BYTES, LogError
from daylatch.errors import UsageError
from daylatch.site.messages import show_value
from daylatch.site.table import spoken
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from daylatch.diary.entries import Entry
    from daylatch.diary.log.read import LogRead
    from daylatch.site.diary import DiaryLog
    from daylatch.site.tables import Site


_AHEAD = np.timedelta64(1, "D")
"""How far a log whose clock is wrong may be ahead without a word."""


def read_log_file(site: Site, log: Path, name: str | None) -> LogRead:
    """Return what a log holds.

    Parameters
    ----------
    site
        Whose door it is of.
    log
        The file.
    name
        Of the layout in the site file that it has; None for the only one, or the diary's own.

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
    return read_log(content, str(log), _layout(site, name, content), site)


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


def still_to_come(entries: Sequence[Entry], now_utc: np.datetime64) -> Iterator[str]:
    """Yield that some rows of a log cannot have happened yet; they are taken as they are."""
    late = [one.instant_utc for one in entries if one.instant_utc > now_utc + _AHEAD]
    if late:
        rows = "1 row of the log is" if len(late) == 1 else f"{len(late)} rows of the log are"
        yield (
            f"{rows} still to come by the clock of this computer, such as "
            f"{min(late)}Z: look at the clock and the log"
        )
