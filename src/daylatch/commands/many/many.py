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
from daylatch.errors import StoppedError, UsageError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from daylatch.commands.dates import Range
    from daylatch.many.folder import Folder
    from daylatch.many.parts import Part
    from daylatch.many.roster import Roster
    from daylatch.many.rows import BadRow
    from daylatch.many.work import Counts

NOT_ALL = 13
"""Exit status of a run that is done, but for rows without a plan, or houses without a card."""
MOST_WORKERS = 256
HERE_HOUSES = 1000
"""Up to how many houses are planned in this process: others would take longer to start."""
_MOST_TOLD = 3


def run(
    sites: Path,
    wanted: Range,
    *,
    output: Path | None,
    like: Path | None,
    ignored: Sequence[str],
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
    ignored
        Columns of the table that are passed over.
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
    from daylatch.many.folder import REJECTED, WARNINGS, Folder  # noqa: PLC0415 - of an extra
    from daylatch.many.parts import Task, cut, versions_here  # noqa: PLC0415
    from daylatch.plan.block import check_range  # noqa: PLC0415

    check_range(first, last)
    data = _like(like)
    roster, bad = _roster(sites, ignored)
    task = Task(first, last, data, roster.keys, summary, versions_here())
    folder = Folder(output, task, None if like is None else like.name)
    with folder.hold():
        parts = list(cut(roster, task))
        before = folder.houses_before()
        abouts = folder.finished(parts)
        left = [part for part in parts if part.name not in abouts]

        def begin() -> None:
            # Only now, since what is there should stand where no worker is.
            folder.keep_only(abouts)
            _put_manifest(folder, abouts, {"sites": sites.name}, complete=False)

        with _held_signals() as stopped:
            try:
                _plan(folder, task, roster, left, abouts, (processes, scheduler), stopped, begin)
            except KeyboardInterrupt:
                stopped.set()
            if stopped.is_set() and len(abouts) < len(parts):
                raise StoppedError(
                    f"stopped: {len(abouts)} of {len(parts)} parts are finished and stand in "
                    f"{output}; the same command goes on from there"
                )
        bad = sorted([*bad, *_rows_with("refused", roster, abouts)])
        folder.put_told(REJECTED, bad)
        folder.put_told(WARNINGS, _rows_with("warned", roster, abouts))
        if summary:
            folder.put_summary_csv()
        told = {"sites": sites.name, "rejected_rows": len(bad)}
        counts = _put_manifest(folder, abouts, told, complete=True)
    stood = f"{len(parts) - len(left)} of {len(parts)} parts were finished before" if before else ""
    _tell(output, counts, len(bad), summary=summary, before=before, stood=stood)
    return NOT_ALL if bad else 0


def _roster(sites: Path, ignored: Sequence[str]) -> tuple[Roster, list[BadRow]]:
    """Return the rows of the table, of which some must be good.

    Raises
    ------
    UsageError
        If it cannot be read, or there is no house in it.
    """
    from daylatch.many.roster import read_roster  # noqa: PLC0415 - of an extra
    from daylatch.many.rows import open_table  # noqa: PLC0415

    file = printable(str(sites))
    with (
        open_table(sites) as table,
        shown_pace(f"Reading {printable(sites.name)}", "rows") as tell,
    ):
        roster, bad = read_roster(file, table, ignored, lambda rows: tell(rows, None))
    if not len(roster):
        # Nothing that is there is taken away for a table that is wrong as a whole.
        raise UsageError(
            f"{file}: has no row that can be planned, so nothing is changed",
            *(
                f"{file}, line {row.line}: {printable(reason)}"
                for row in bad[:_MOST_TOLD]
                for reason in row.reasons
            ),
        )
    return roster, bad


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
    from daylatch.site.reading.site_file import load_data, load_site  # noqa: PLC0415 - for this option only

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
    begin: Callable[[], None],
) -> None:
    """Plan the parts that are left, each put in place as it is done, until it is stopped.

    ``begin`` is called once there is somebody to plan them.
    """
    if not left:
        begin()
        return
    from daylatch.many.dataset import about_of  # noqa: PLC0415 - of an extra

    houses = sum(len(part.rows) for part in left)
    done = 0
    workers, scheduler = where
    is_small = scheduler is None and (workers == 1 or houses <= HERE_HOUSES)
    with contextlib.ExitStack() as stack:
        if is_small:
            from daylatch.many.work import plan_here  # noqa: PLC0415 - of an extra

            made_parts = plan_here(task, roster, left, stopped)
        else:
            from daylatch.many.cluster import (  # noqa: PLC0415 - of an extra
                connect,
                plan_parts,
                require_same_versions,
            )

            client = stack.enter_context(connect(workers, scheduler))
            require_same_versions(client, task)
            made_parts = plan_parts(client, task, roster, left, stopped, _once(warn))
        begin()
        tell = stack.enter_context(shown_pace("Planning", "houses"))
        tell(0, houses)
        for part, made in made_parts:
            folder.put_part(part, made)
            abouts[part.name] = about_of(made.times)
            done += len(part.rows)
            tell(done, houses)


def _once(tell: Callable[[str], None]) -> Callable[[str], None]:
    """Return what tells each thing once."""
    told: set[str] = set()

    def tell_once(words: str) -> None:
        if words not in told:
            told.add(words)
            tell(words)

    return tell_once


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


def _rows_with(what: str, roster: Roster, abouts: Mapping[str, Mapping[str, Any]]) -> list[BadRow]:
    """Return what is told of rows that could be read, in the order of the table.

    Parameters
    ----------
    what
        ``refused``, without a plan; or ``warned``, with one.
    roster, abouts
        The rows, and what is told of the parts.
    """
    from daylatch.many.rows import BadRow  # noqa: PLC0415 - of an extra

    told = {name: tuple(words) for about in abouts.values() for name, words in about[what].items()}
    if not told:
        return []
    return [
        BadRow(line, name, told[name])
        for line, name in zip(roster.lines.tolist(), roster.ids, strict=True)
        if name in told
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
    output: Path, counts: Counts, rejected: int, *, summary: bool, before: int, stood: str
) -> None:
    """Say what was made, and what should be looked at."""
    folder = printable(str(output))
    houses = "1 house" if counts.houses == 1 else f"{counts.houses:,} houses"
    what = "a row each" if summary else f"{counts.days:,} days"
    then = f" ({before:,} before; {stood})" if stood else ""
    print(f"wrote {folder}: {houses}, {what}{then}")
    if counts.events:
        print(
            f"Second opinion: {counts.events:,} light events checked on arrays, "
            f"{counts.by_astral:,} by astral on a sample; all agree"
        )
    if counts.added:
        print(
            f"Note: {_counted(counts.added, 'house', 'have')} limits or a least night as `daylatch "
            "new` writes them where nights are short (in the folder houses)."
        )
    listed = f"{folder}/warnings.csv says which"
    notes = [
        (
            counts.in_daylight,
            "close",
            f"in daylight on some days: birds outside then stay out; {listed}",
        ),
        (counts.short, "fall", f"short of the least open time or night they ask for; {listed}"),
        (
            counts.at_sea,
            "lie",
            "at sea or in no country (their zone begins with Etc/): check signs and order, or give "
            "the zone",
        ),
        (
            counts.inexact,
            "have",
            f"a door that moves later than planned, by what works it; {listed}",
        ),
    ]
    for count, verb, words in notes:
        if count:
            warn(f"{_counted(count, 'house', verb)} {words}")
    if rejected:
        say(
            f"daylatch: {_counted(rejected, 'row', 'have')} no plan; {folder}/rejected.csv says "
            "why, with line and every reason: mend what is wrong, and run the same command again"
        )
    print("A schedule does not see the birds: count heads at dusk.")


def _counted(count: int, what: str, verb: str) -> str:
    """Return how many do something: ``1 house has``, ``2 houses have``."""
    if count == 1:
        return f"1 {what} {'has' if verb == 'have' else verb + 's'}"
    return f"{count:,} {what}s {verb}"
