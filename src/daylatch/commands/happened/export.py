"""``daylatch diary export``: the diary as CSV."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.commands.diary import diary_of
from daylatch.commands.happened.bounds import bounds_of
from daylatch.commands.now import warn_about
from daylatch.commands.output import deliver
from daylatch.diary.log.layout import write_log, wrote
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.commands.dates import Range


def run(path: Path, wanted: Range, *, output: Path | None, force: bool) -> None:
    """Print or write the entries that hold, all of them without dates."""
    site = load_site(path)
    warn_about(site)
    noted = diary_of(site).entries(*bounds_of(site, wanted))
    deliver(
        lambda _: write_log([one.entry for one in noted]),
        wrote,
        output,
        site_paths=[path],
        force=force,
        about=f"{len(noted)} entries",
    )
