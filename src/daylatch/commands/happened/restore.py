"""``daylatch diary restore``: what a backup holds, back into the diary."""

from __future__ import annotations

from pathlib import Path

from daylatch.commands.diary import diary_of
from daylatch.commands.happened.site_words import parted
from daylatch.commands.now import warn_about
from daylatch.console import printable
from daylatch.diary.store.backup import bring_back
from daylatch.diary.store.opening import MOST_BYTES
from daylatch.errors import DiaryError, UsageError
from daylatch.files.own import is_diary
from daylatch.files.put import is_same_file
from daylatch.site.reading.site_file import load_site


def run(words: list[str]) -> None:
    """Add to the diary what it lacks of a backup."""
    path, rest = parted(words)
    if len(rest) != 1:
        raise UsageError("say which backup: daylatch diary restore hens-2027-11-30.diary")
    backup = Path(rest[0])
    site = load_site(path)
    warn_about(site)
    diary = diary_of(site)
    if is_same_file(backup, diary.path):
        raise UsageError(f"{backup}: is the diary itself; name a backup of it")
    came = bring_back(_read(backup), backup, diary.path, site.id)
    print(printable(f"{diary.path}: {came.new} entries brought back, {came.known} were there"))


def _read(backup: Path) -> bytes:
    try:
        with backup.open("rb") as stream:
            content = stream.read(MOST_BYTES + 1)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise DiaryError(
            f"{backup}: cannot be read ({why}): name a file of `daylatch diary backup`"
        ) from error
    if len(content) > MOST_BYTES or not is_diary(content):
        raise DiaryError(f"{backup}: is no diary: name a file of `daylatch diary backup`")
    return content
