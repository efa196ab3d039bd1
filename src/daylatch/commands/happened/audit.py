"""``daylatch audit``: the door against what was due."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from daylatch.commands.diary import diary_of
from daylatch.commands.happened.entries import asked_of_log, entries_of, refuse_log
from daylatch.commands.happened.records import audit_of
from daylatch.commands.now import marked_date_at, warn_about
from daylatch.commands.output import hand_over
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

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
    asked, form, log = asked_of_log(
        "audit", words, wanted, to=to, output=output, force=force, mapping=mapping
    )
    site = load_site(asked.path)
    warn_about(site)
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
