"""``daylatch diary import``: a log of the door into the diary."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from daylatch.commands.diary import diary_of
from daylatch.commands.happened.logs import read_log_file
from daylatch.commands.happened.records import records_of
from daylatch.commands.happened.site_words import parted
from daylatch.commands.now import now_utc, refuse_early_clock, warn, warn_about
from daylatch.commands.output import check_target, put_in_place
from daylatch.diary.log.read import REJECTS, rejects_file
from daylatch.errors import UsageError
from daylatch.files.own import header_is
from daylatch.site.reading import load_site

if TYPE_CHECKING:
    from daylatch.diary.log.read import LogRead
    from daylatch.diary.store.store import Added

AHEAD = np.timedelta64(1, "D")
"""How far beyond now a log may reach, whose clock may be wrong."""
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
    found = read_log_file(site, log, mapping, now + AHEAD)
    for note in found.notes:
        warn(note)
    if found.rejects:
        _tell_rejects(found, rejects or log.with_suffix(".rejects.csv"), log)
    entries = found.entries
    diary = diary_of(site)
    came = diary.take_in(
        entries, now, source=log.name, records=records_of(site, entries), again=again
    )
    print(f"{diary.path}: {_told(came, len(entries))}")
    return not found.rejects


def _tell_rejects(found: LogRead, target: Path, log: Path) -> None:
    """Write bad rows into a file of their own, and say what is wrong with the first."""
    content = rejects_file(found.rejects)
    wrote = header_is(REJECTS)
    previous = check_target(target, wrote, site_paths=[log], force=False)
    count = len(found.rejects)
    for one in found.rejects[:_MOST_TOLD]:
        warn(f"{log}, line {one.line}: {'; '.join(one.reasons)}")
    put_in_place(
        target, previous, content, f"{count} row{'s' * (count > 1)} that could not be read"
    )


def _told(came: Added, count: int) -> str:
    new = len(came.numbers)
    numbers = f", {came.numbers[0]} to {came.numbers[-1]}" if new > 1 else ""
    told = f"{new} of {count} entries are new{numbers}"
    if came.undone:
        told += f"; {came.undone} were undone before and stay so (--again takes them in)"
    return told
