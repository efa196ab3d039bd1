"""``daylatch sync``: keep a calendar on a server as the plan says."""

from __future__ import annotations

import datetime as dt
import sys
import time
from typing import TYPE_CHECKING

import typer

from daylatch.cautions import CAUTION
from daylatch.clock import get_zone, zone_rules_version
from daylatch.commands.extras import require_sync
from daylatch.commands.identity import refuse_to_mix
from daylatch.commands.now import refuse_early_clock, stamp_utc, warn, warn_about
from daylatch.commands.people.sync_aim import find_aim
from daylatch.commands.progress import shown_progress
from daylatch.console import printable
from daylatch.errors import (
    CalendarServerError,
    StoppedError,
    UsageError,
)
from daylatch.site.reading.site_file import load_site
from daylatch.site.sync import Sync
from daylatch.site.values.web_address import check_address, is_safe, origin_of
from daylatch.wording import wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from daylatch.calendars.sync.connection import Connection
    from daylatch.calendars.sync.content import Found
    from daylatch.calendars.sync.differences import Difference
    from daylatch.calendars.sync.sending import Sending
    from daylatch.calendars.sync.server import Account, Collection, RemoteCalendar
    from daylatch.commands.people.sync_aim import Aim, SyncWishes

CONFLICTED = 8
"""Exit status of a sync that left entries as they are because they were edited elsewhere."""
# Entries of a whole day stand at another instant in each zone, and edits move entries a little.
_MARGIN = dt.timedelta(days=3)
# No plan begins before or ends after.
_EARLIEST, _LATEST = dt.date(1902, 1, 1), dt.date(2101, 1, 1)


def run(path: Path, wishes: SyncWishes) -> bool:
    """Bring a calendar up to date; return whether nothing in it was left against the plan."""
    _refuse_mixture(wishes)
    site = load_site(path)
    warn_about(site)
    refuse_early_clock()
    refuse_to_mix(site, path)
    settings = site.settings.sync or Sync.model_construct()
    url = _address(settings, wishes)
    require_sync()
    aim = find_aim(site, settings, url, wishes)
    from daylatch.calendars.sync.connection import Connection  # noqa: PLC0415 - a second of libraries
    from daylatch.calendars.sync.login import find_login  # noqa: PLC0415

    connection = Connection(url, find_login(origin_of(url)), time.monotonic)
    try:
        return _bring_up_to_date(connection, aim, wishes)
    finally:
        connection.close()


def _refuse_mixture(wishes: SyncWishes) -> None:
    """Refuse options that contradict each other or say too little.

    Raises
    ------
    UsageError
        Naming them.
    """
    if wishes.dates.first and not wishes.dates.last:
        raise UsageError("--from says when it begins: add --until, the last date")
    if wishes.yes and not wishes.remove:
        raise UsageError("--yes answers what --remove asks: add --remove, or leave it out")
    if wishes.calendar is not None and not wishes.calendar.strip():
        raise UsageError('--calendar is "": write the name of a calendar')


def _address(settings: Sync, wishes: SyncWishes) -> str:
    """Return the address to go to.

    Raises
    ------
    UsageError
        If there is none, or if what is sent there could be read on the way.
    """
    url = settings.url
    if wishes.url is not None:
        try:
            url = check_address(wishes.url)
        except ValueError as error:
            raise UsageError(f"--url: {error}") from None
    if url is None:
        raise UsageError(
            'say which calendar: write url = "https://..." under [sync] in the site file, or --url'
        )
    if not is_safe(url):
        if not wishes.plain_http:
            raise UsageError(
                f"{url}: over http, everybody on the way can read your password; write https, or "
                "add --plain-http if the network is your own"
            )
        warn(f"{origin_of(url)}: the password goes over the network unencrypted")
    return url


def _bring_up_to_date(connection: Connection, aim: Aim, wishes: SyncWishes) -> bool:
    """Do it, and say what was done; return whether nothing was left against the plan."""
    from daylatch.calendars.sync.differences import Kind, compare  # noqa: PLC0415
    from daylatch.calendars.sync.report import (  # noqa: PLC0415
        conflict_lines,
        counts_text,
        difference_lines,
    )
    from daylatch.calendars.sync.sending import Sending  # noqa: PLC0415
    from daylatch.calendars.sync.server import Account, RemoteCalendar  # noqa: PLC0415

    account = Account(connection)
    collection = account.locate(aim.url, aim.calendar)
    calendar = RemoteCalendar(connection, collection)
    found = _look(calendar, aim, wishes) if collection.exists else []
    differences = compare(aim.wanted, found, aim.scope)
    print("\n".join(_head(aim, collection)))
    if aim.asks_first and not wishes.dry_run and not wishes.yes:
        _ask(sum(one.kind is Kind.REMOVE for one in differences), aim)
    sending = Sending(calendar, aim.scope, stamp_utc())
    if wishes.dry_run:
        sending.counts.update(one.kind for one in differences)
        sending.conflicts += [one for one in differences if one.kind is Kind.CONFLICT]
        lines = difference_lines(differences, get_zone(aim.site.zone), aim.site.face)
        print("\n".join(lines), end="\n" if lines else "")
    elif collection.exists or not wishes.remove:
        _send(sending, differences, account, collection, connection)
    lines = conflict_lines(sending.conflicts, get_zone(aim.site.zone), aim.site.face)
    if lines:
        lines.append("Edited elsewhere, so left as it is; --overwrite replaces it.")
    would = "Nothing was sent. A sync would give: " if wishes.dry_run else ""
    print("\n".join([*lines, *wrapped([f"{would}{counts_text(sending.counts)}", CAUTION])]))
    return not sending.conflicts


def _ask(count: int, aim: Aim) -> None:
    """Ask whether all entries are to be taken out.

    Raises
    ------
    UsageError
        If not, or if nobody can be asked.
    """
    if not count:
        return
    if not sys.stdin.isatty():
        raise UsageError(
            f"{count} entries would be taken out, of all dates, and nobody can be asked here: add "
            "--yes, or --from and --until for some dates"
        )
    name = printable(aim.site.name)
    if not typer.confirm(f"Take out all {count} entries of {name}, of all dates?"):
        raise UsageError("nothing was taken out")


def _head(aim: Aim, collection: Collection) -> list[str]:
    """Return which days of which house go where."""
    name = f'"{printable(collection.name)}"' if collection.name else "The calendar"
    site, scope = aim.site, aim.scope
    dates = "all dates" if aim.asks_first else f"{scope.first} to {scope.last}"
    return wrapped(
        [
            f"{site.name}, {dates} (wall clock of {site.zone}, time-zone "
            f"rules {zone_rules_version()})",
            f"{name} at {collection.url}{'' if collection.exists else ', which is not there yet'}",
            *aim.notes,
        ]
    )


def _send(
    sending: Sending,
    differences: Sequence[Difference],
    account: Account,
    collection: Collection,
    connection: Connection,
) -> None:
    """Send the differences; whatever stops it, say how far it came.

    Raises
    ------
    CalendarServerError, StoppedError
        If not all of it could be sent.
    """
    from daylatch.calendars.sync.differences import SENT  # noqa: PLC0415
    from daylatch.calendars.sync.report import counts_text  # noqa: PLC0415

    made = collection.exists
    try:
        if not made:
            account.make(collection, CAUTION)
            made = True
        with shown_progress("Sending") as tell:
            sending.run(differences, connection.stop.set, tell)
    except (CalendarServerError, KeyboardInterrupt) as error:
        so_far = f"before that: {counts_text(sending.counts)}"
        if made and not collection.exists:
            so_far = f"the calendar was made; {so_far}"
        to_send = sum(one.kind in SENT for one in differences)
        so_far = (
            f"{so_far}; {to_send - sending.sent} of {to_send} are left to send, though some may "
            "have arrived: run it again, and it carries on from there"
        )
        if isinstance(error, CalendarServerError):
            raise CalendarServerError(*error.lines, so_far) from None
        raise StoppedError(f"stopped; {so_far}") from None


def _look(calendar: RemoteCalendar, aim: Aim, wishes: SyncWishes) -> list[Found]:
    """Return what the calendar holds: everything near the window, and strays of ours.

    An entry that somebody moved far away is not near it any more, so what is missed is asked for by
    its address before it is called new.
    """
    from daylatch.calendars.sync.differences import strangers  # noqa: PLC0415

    begin, end = (
        dt.datetime.combine(date, dt.time(), dt.UTC)
        for date in (
            max(aim.scope.first, _EARLIEST) - _MARGIN,
            min(aim.scope.last, _LATEST) + _MARGIN,
        )
    )
    found = calendar.entries(begin, end)
    missing = [entry.uid for entry in aim.wanted if entry.uid not in {there.uid for there in found}]
    if missing:
        found += calendar.entries_named(missing)
    others = strangers(found, aim.scope)
    if others and not wishes.renamed:
        name = printable(aim.site.file_name)
        raise UsageError(
            f"{len(others)} entries there carry the id of {name} and "
            "were written for a site of another name or place: if this site was renamed or moved, "
            "add --renamed; if its file is a copy of another house's, give it an id of its own, "
            "as `daylatch new` writes one"
        )
    return found
