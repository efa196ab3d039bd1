"""``daylatch diary add``: note what was seen or done."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.clock import get_zone
from daylatch.commands.diary import diary_of
from daylatch.commands.happened.doubts import doubts
from daylatch.commands.happened.records import record_named
from daylatch.commands.happened.site_words import parted
from daylatch.commands.instants import parse_instant
from daylatch.commands.now import date_now, now_utc, refuse_early_clock, warn, warn_about
from daylatch.diary.entries import EntryError
from daylatch.diary.grammar.phrases import EXAMPLES
from daylatch.diary.grammar.words import At, GrammarError, Typed, read_words
from daylatch.diary.words import entry_text
from daylatch.errors import UsageError
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    from daylatch.diary.entries import Entry
    from daylatch.site.tables import Site


def run(
    words: list[str], *, at: str | None, given: tuple[str, str, str], instead_of: int | None
) -> None:
    """Put an entry into the diary, and say what was understood.

    Given are what stamped it, how sure that is and who reports it; empty where nothing was typed.
    """
    path, said = parted(words, never_alone=True)
    at_utc = parse_instant(at, "--at") if at is not None else None
    site = load_site(path)
    warn_about(site)
    refuse_early_clock()
    diary, zone = diary_of(site), get_zone(site.zone)
    place = At(zone, site.door_clock, now_utc(), date_now(site), site.face)
    old = None if instead_of is None else diary.entry(instead_of)
    try:
        entry = read_words(
            " ".join(said), place, at_utc, Typed(*given), None if old is None else old.entry
        )
    except GrammarError as error:
        examples = (f"  {words.ljust(30)}{meaning}".rstrip() for words, meaning in EXAMPLES)
        raise UsageError(
            f"{error}: write one of these, with a time if not now:", *examples
        ) from error
    except EntryError as error:
        raise UsageError(str(error)) from error
    records = {0: record_named(site, entry.value)} if entry.what == "in_use" else {}
    for doubt in doubts(site, diary, entry, place.now_utc):
        warn(doubt)
    (number,) = diary.add([entry], place.now_utc, instead_of=instead_of, records=records).numbers
    instead = (
        "" if old is None else f" instead of {instead_of} ({entry_text(old.entry, site, zone)})"
    )
    print(f"noted as {number}{instead}: {entry_text(entry, site, zone)}")
    _hint(site, entry)


def _hint(site: Site, entry: Entry) -> None:
    """Say what else is to be done."""
    if entry.what == "in_use" and site.settings.door.in_use != entry.value:
        warn(
            f'the plan goes by what the site file says: write in_use = "{entry.value}" under [door]'
        )
