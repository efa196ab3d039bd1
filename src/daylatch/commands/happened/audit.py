"""``daylatch audit``: the door against what was due."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.commands.asked import Asked
from daylatch.commands.diary import diary_of
from daylatch.commands.happened.bounds import bounds_of
from daylatch.commands.happened.records import audit_of
from daylatch.commands.happened.site_words import parted
from daylatch.commands.now import marked_date_at, now_utc, warn, warn_about
from daylatch.commands.output import hand_over
from daylatch.errors import DiaryError, UsageError
from daylatch.site.reading import load_site

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from daylatch.commands.dates import Range
    from daylatch.diary.entries import Entry
    from daylatch.diary.log.read import LogRead
    from daylatch.files.occasion import Occasion
    from daylatch.site.tables import Site

_DAYS_BACK = np.timedelta64(365, "D")


def run(
    words: list[str],
    wanted: Range,
    *,
    to: str | None,
    output: Path | None,
    force: bool,
    mapping: str | None,
) -> None:
    """Print an audit or write it to a file."""
    path, rest = parted(words)
    if len(rest) > 1:
        raise UsageError(f"audit takes a site file and one log, not {len(rest)} logs")
    asked = Asked(path, wanted, to, output, force)
    form = asked.form("audit")
    if mapping is not None and not rest:
        raise UsageError("--as says how a log is read: name the log, too")
    if form.needs_pictures and output is None:
        raise UsageError(f"say where the picture goes, such as -o audit.{form.name}")
    site = load_site(path)
    warn_about(site)
    log = Path(rest[0]) if rest else None
    entries, source = _seen(site, log, mapping, wanted)

    def content(write: Callable[..., Any], _: Callable[[], Occasion]) -> bytes:
        found = audit_of(site, diary_of(site), entries, source, marked_date_at(site))
        if form.needs_pictures:
            from daylatch.paper.pictures.audit import draw_audit  # noqa: PLC0415 - if drawn

            made: bytes = write(draw_audit(found))
            return made
        text: bytes = write(found)
        return text

    hand_over(asked, form, site, content, about=source)


def _seen(
    site: Site, log: Path | None, mapping: str | None, wanted: Range
) -> tuple[list[Entry], str]:
    """Return what was seen, and where that stands."""
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
        entries, source = [one.entry for one in diary.entries(since, until)], str(diary.path)
        if since is None and entries:
            since = entries[-1].instant_utc - _DAYS_BACK
    kept = [
        one
        for one in entries
        if (since is None or one.instant_utc >= since)
        and (until is None or one.instant_utc < until)
    ]
    if not kept:
        raise DiaryError(f"{source}: holds nothing of these dates, so there is nothing to judge")
    return kept, source


def _rejects(read: LogRead) -> Iterator[str]:
    """Yield what is wrong with the first row that could not be read, and how many there are."""
    if read.rejects:
        first = read.rejects[0]
        count = len(read.rejects)
        yield (
            f"line {first.line}: {'; '.join(first.reasons)} ({count} such row{'s' * (count > 1)}; "
            "`daylatch diary import` writes them into a file)"
        )
