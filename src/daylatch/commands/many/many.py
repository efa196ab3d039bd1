"""``daylatch many``: plans of thousands of houses, from a table into a dataset."""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import threading
from typing import TYPE_CHECKING, Any

from daylatch.commands.extras import require_many
from daylatch.commands.now import warn
from daylatch.commands.progress import shown_pace
from daylatch.console import printable, say
from daylatch.errors import DaylatchError, UsageError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from daylatch.commands.dates import Range
    from daylatch.many.folder import Folder
    from daylatch.many.parts import Part
    from daylatch.many.roster import Roster
    from daylatch.many.rows import BadRow
    from daylatch.many.work import Counts

REJECTED = 13
"""Exit status of a run that is done, but for rows that have no plan."""
MOST_WORKERS = 256


class StoppedError(DaylatchError):
    """A run that was interrupted; its text says how far it came."""

    exit_status = 130


def run(
    sites: Path,
    wanted: Range,
    *,
    output: Path | None,
    like: Path | None,
    summary: bool,
    workers: int | None,
    scheduler: str | None,
) -> int:
    """Plan every house of a table, and return the exit status.

    Parameters
    ----------
    sites
        The table.
    wanted
        The dates, as they were typed.
    output
        The folder of the dataset.
    like
        A site file that says what the rows do not.
    summary
        Whether a row a house is wanted, instead of one a day.
    workers
        How many processes, if not one for each core.
    scheduler
        The address of a cluster to use instead.

    Raises
    ------
    DaylatchError
        If the table, the folder or the cluster cannot be used; what is finished stands.
    """
    if output is None:
        raise UsageError("say where the plans go: -o DIR, a new or empty folder")
    first, last = _dates(wanted)
    processes = _workers(workers, scheduler)
    require_many()
    # A run takes minutes, and is given up for short ones only.
    gc.enable()
    from daylatch.many.folder import Folder  # noqa: PLC0415 - of an extra
    from daylatch.many.parts import Task, cut, versions_here  # noqa: PLC0415
    from daylatch.many.roster import read_roster  # noqa: PLC0415
    from daylatch.many.rows import open_table  # noqa: PLC0415
    from daylatch.plan.block import check_range  # noqa: PLC0415

    check_range(first, last)
    data = _like(like)
    what = f"Reading {printable(sites.name)}"
    with open_table(sites) as table, shown_pace(what, "rows") as tell:
        roster, bad = read_roster(printable(str(sites)), table, lambda rows: tell(rows, None))
    task = Task(first, last, data, roster.keys, summary, versions_here())
    folder = Folder(output, task)
    told = {"sites": sites.name, "like": like.name if like is not None else None}
    with folder.hold():
        parts = list(cut(roster, task))
        abouts = folder.finished(parts)
        _put_manifest(folder, abouts, told, complete=False)
        left = [part for part in parts if part.name not in abouts]
        with _held_signals() as stopped:
            try:
                _plan(folder, task, roster, left, abouts, (processes, scheduler), stopped)
            except KeyboardInterrupt:
                stopped.set()
            if stopped.is_set() and len(abouts) < len(parts):
                raise StoppedError(
                    f"stopped: {len(abouts)} of {len(parts)} parts are finished and stand in "
                    f"{output}; the same command goes on from there"
                )
        bad += _refused(roster, abouts)
        bad.sort()
        folder.put_rejected(bad)
        counts = _put_manifest(folder, abouts, {**told, "rejected_rows": len(bad)}, complete=True)
    _tell(output, counts, len(bad), summary=summary, again=len(parts) - len(left), of=len(parts))
    return REJECTED if bad else 0


def _dates(wanted: Range) -> tuple[dt.date, dt.date]:
    def today() -> dt.date:
        raise UsageError("say of which dates: --year 2027, or --from and --until")

    return wanted.dates(today)


def _workers(workers: int | None, scheduler: str | None) -> int:
    if scheduler is not None and workers is not None:
        raise UsageError("give either --workers, of this machine, or --scheduler")
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    if workers is None:
        return cores or 1
    if not 1 <= workers <= MOST_WORKERS:
        raise UsageError(f'--workers is "{workers}": write how many processes, 1 to {MOST_WORKERS}')
    return workers


def _like(like: Path | None) -> dict[str, Any]:
    """Return the data of the site file for all rows, which must be a good one by itself."""
    if like is None:
        return {}
    from daylatch.site.reading import load_data, load_site  # noqa: PLC0415 - for this option only

    for problem in load_site(like).warnings:
        if not problem.key.startswith("place"):
            warn(problem.sentence(str(like)))
    return load_data(like)


def _plan(
    folder: Folder,
    task: Any,
    roster: Roster,
    left: list[Part],
    abouts: dict[str, dict[str, Any]],
    where: tuple[int, str | None],
    stopped: threading.Event,
) -> None:
    """Plan the parts that are left, each put in place as it is done, until it is stopped."""
    if not left:
        return
    from daylatch.many.cluster import connect, plan_parts, require_same_versions  # noqa: PLC0415
    from daylatch.many.dataset import about_of  # noqa: PLC0415

    houses = sum(len(part.rows) for part in left)
    done = 0
    with connect(*where) as client, shown_pace("Planning", "houses") as tell:
        require_same_versions(client, task)
        tell(0, houses)
        for part, made in plan_parts(client, task, roster, left, stopped):
            folder.put_part(part, made)
            abouts[part.name] = about_of(made.times)
            done += len(part.rows)
            tell(done, houses)


@contextlib.contextmanager
def _held_signals() -> Iterator[threading.Event]:
    """Give what is set once the run is to stop: between two parts, and not within one.

    A second signal stops it at once.
    """
    stopped = threading.Event()
    before: dict[signal.Signals, Any] = {}

    def stop(number: int, _: object) -> None:
        stopped.set()
        signal.signal(number, before[signal.Signals(number)])

    for one in (signal.SIGINT, signal.SIGTERM):
        # Only the main thread of a program may ask for signals.
        if threading.current_thread() is threading.main_thread():
            before[one] = signal.signal(one, stop)
    try:
        yield stopped
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)


def _refused(roster: Roster, abouts: Mapping[str, Mapping[str, Any]]) -> list[BadRow]:
    """Return the rows that could be read, but have no plan."""
    from daylatch.many.rows import BadRow  # noqa: PLC0415 - of an extra

    refused = {
        name: tuple(why) for about in abouts.values() for name, why in about["refused"].items()
    }
    if not refused:
        return []
    return [
        BadRow(line, name, refused[name])
        for line, name in zip(roster.lines.tolist(), roster.ids, strict=True)
        if name in refused
    ]


def _put_manifest(
    folder: Folder,
    abouts: Mapping[str, Mapping[str, Any]],
    told: Mapping[str, Any],
    *,
    complete: bool,
) -> Counts:
    from daylatch.many.work import Counts  # noqa: PLC0415 - of an extra

    counts = Counts()
    for about in abouts.values():
        counts = counts.plus(Counts(**about["counts"]))
    folder.put_manifest(abouts, counts, told, complete=complete)
    return counts


def _tell(
    output: Path, counts: Counts, rejected: int, *, summary: bool, again: int, of: int
) -> None:
    """Say what was made, and what should be looked at."""
    what = "a row each" if summary else f"{counts.days:,} days"
    stood = f" ({again} of {of} parts were finished before)" if again else ""
    houses = "1 house" if counts.houses == 1 else f"{counts.houses:,} houses"
    print(f"wrote {printable(str(output))}: {houses}, {what}{stood}")
    print(
        f"Second opinion: {counts.events:,} light events checked on arrays, "
        f"{counts.by_astral:,} by astral on a sample; all agree"
    )
    notes = [
        (counts.in_daylight, "close", "in daylight on some days: birds outside then stay out"),
        (
            counts.at_sea,
            "lie",
            "at sea or in no country: check signs and order, or give the zone",
        ),
        (
            counts.inexact,
            "have",
            "a door that moves later than planned, by what works it; the times are planned ones",
        ),
    ]
    for count, verb, words in notes:
        if count:
            warn(f"{_counted(count, 'house', verb)} {words}")
    if rejected:
        say(
            f"daylatch: {_counted(rejected, 'row', 'have')} no plan; "
            f"{printable(str(output))}/rejected.csv says why, with line and every reason: mend "
            "what is wrong, and run the same command again"
        )
    print("A schedule does not see the birds: count heads at dusk.")


def _counted(count: int, what: str, verb: str) -> str:
    """Return how many do something: ``1 house has``, ``2 houses have``."""
    if count == 1:
        return f"1 {what} {'has' if verb == 'have' else verb + 's'}"
    return f"{count:,} {what}s {verb}"
