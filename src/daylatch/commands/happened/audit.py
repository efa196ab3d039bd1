"""``daylatch audit``: the door against what was due."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from daylatch.commands.asked import Asked
from daylatch.commands.diary import diary_of
from daylatch.commands.happened.entries import entries_of, refuse_log
from daylatch.commands.happened.records import audit_of
from daylatch.commands.happened.site_words import parted
from daylatch.commands.now import marked_date_at, warn_about
from daylatch.commands.output import hand_over
from daylatch.errors import UsageError
from daylatch.site.reading import load_site

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.commands.dates import Range
    from daylatch.files.occasion import Occasion


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
    refuse_log(output, log)
    entries, source = entries_of(site, log, mapping, wanted)

    def content(write: Callable[..., Any], _: Callable[[], Occasion]) -> bytes:
        found = audit_of(site, diary_of(site), entries, source, marked_date_at(site))
        if form.needs_pictures:
            from daylatch.paper.pictures.audit import draw_audit  # noqa: PLC0415 - if drawn

            made: bytes = write(draw_audit(found))
            return made
        text: bytes = write(found)
        return text

    hand_over(asked, form, site, content, about=source)
