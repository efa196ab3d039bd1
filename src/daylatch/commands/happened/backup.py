"""``daylatch diary backup``: all of the diary in one file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.commands.diary import diary_of
from daylatch.commands.now import warn_about
from daylatch.commands.output import deliver
from daylatch.diary.store.backup import back_up, lost_with
from daylatch.errors import OutputError, UsageError
from daylatch.files.own import is_diary
from daylatch.files.put import is_same_file
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    from pathlib import Path


def run(path: Path, *, output: Path | None, force: bool) -> None:
    """Write what `restore` reads."""
    if output is None:
        raise UsageError("a backup is a file: name it, such as -o hens-2027-11-30.diary")
    site = load_site(path)
    warn_about(site)
    diary = diary_of(site)
    if is_same_file(output, diary.path):
        raise OutputError(f"{output}: is the diary itself; choose another name")

    def content(previous: bytes | None) -> bytes:
        made = back_up(diary.path, site.id)
        lost = 0 if previous is None or force else lost_with(previous, made, output, site.id)
        if lost:
            raise OutputError(
                f"{output}: holds {lost} entries that {diary.path} lacks, so it is left as it is: "
                "`daylatch diary restore` brings them back; or choose another name"
            )
        return made

    deliver(
        content,
        is_diary,
        output,
        site_paths=[path],
        force=force,
        about=f"all that {diary.path} holds",
        site_id=site.id,
    )
