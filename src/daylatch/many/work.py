"""The work on one part, wherever it is done: from rows to the bytes of its files."""

from __future__ import annotations

import ctypes
import sys
from collections import Counter
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from daylatch.errors import ClusterError
from daylatch.many.checked import checked_blocks, sample
from daylatch.many.dataset import (
    HOUSES,
    TIMES,
    ParquetFile,
    content_mark,
    houses_table,
    times_table,
    to_parquet,
)
from daylatch.many.houses import HouseMaker, Refusal
from daylatch.many.parts import rows_of_part, versions_here
from daylatch.many.summary import summary_schema, summary_table
from daylatch.many.warned import IN_DAYLIGHT, INEXACT, SHORT, warnings_of
from daylatch.site.reading.slips import is_at_sea

if TYPE_CHECKING:
    import threading
    from collections.abc import Iterator, Sequence

    from daylatch.many.houses import HouseRow
    from daylatch.many.parts import Part, Task
    from daylatch.many.roster import Roster
    from daylatch.site.tables import Site

# Of glibc's malloc.h. Arrays of a block are a little larger than what it gives back to the system
# at once, so that every one would be made of fresh pages.
_M_TRIM_THRESHOLD, _M_MMAP_THRESHOLD = -1, -3
_KEPT_BYTES = 64 * 1024 * 1024
_LARGEST_KEPT_BYTES = 32 * 1024 * 1024


class Counts(NamedTuple):
    """What came of a part.

    Attributes
    ----------
    houses, days : int
        Houses with a plan, and rows of their days.
    events, by_astral, unsure : int
        As in `daylatch.many.checked.CheckedBlock`.
    in_daylight : int
        Houses that close in daylight on some day.
    short : int
        Houses that fall short of the least open time or the least night that they ask for.
    at_sea : int
        Houses in no country's zone.
    inexact : int
        Houses whose door moves later than planned, by what works it.
    added : int
        Houses that got limits or a least night, as `daylatch new` writes them for short nights.
    """

    houses: int = 0
    days: int = 0
    events: int = 0
    by_astral: int = 0
    unsure: int = 0
    in_daylight: int = 0
    short: int = 0
    at_sea: int = 0
    inexact: int = 0
    added: int = 0

    def plus(self, other: Counts) -> Counts:
        """Return the sum of both."""
        return Counts(*(mine + theirs for mine, theirs in zip(self, other, strict=True)))


class Made(NamedTuple):
    """What a part became.

    Attributes
    ----------
    times : bytes
        Its rows as Parquet: of days, or of houses if a summary was wanted.
    houses : bytes
        Its houses as Parquet.
    """

    times: bytes
    houses: bytes


def plan_here(
    task: Task, roster: Roster, parts: Sequence[Part], stopped: threading.Event
) -> Iterator[tuple[Part, Made]]:
    """Yield parts with what they became, done in this process.

    Parameters
    ----------
    task, roster, parts
        What is to be planned.
    stopped
        Once it is set, no more are begun.
    """
    for part in parts:
        if stopped.is_set():
            return
        yield part, plan_part(task, part.name, part.digest, rows_of_part(roster, part))


def plan_part(task: Task, name: str, digest: str, rows: Sequence[HouseRow]) -> Made:
    """Return the files of a part.

    Parameters
    ----------
    task
        What is the same for all parts.
    name, digest
        Of the part.
    rows
        Its houses.

    Raises
    ------
    ClusterError
        If other versions are at work here than where it was asked for.
    """
    _keep_memory()
    here = versions_here()
    if here != tuple(task.versions):
        raise ClusterError(
            f"a worker has daylatch {here[0]} with zone rules {here[1]}, and this run has "
            f"{task.versions[0]} with {task.versions[1]}: install the same on both; finished parts "
            "stand, and the same command goes on from there"
        )
    maker = HouseMaker(task.like, task.keys, task.first)
    sites, refused = maker.sites(rows)
    row_of = {site.id: row for row, site in sites}
    schema = summary_schema(task.first, task.last) if task.summary else TIMES
    file = ParquetFile(schema)
    planned: list[Site] = []
    warned: dict[str, list[str]] = {}
    kinds: list[tuple[str, str]] = []
    counts = Counts()
    all_sites = [site for _, site in sites]
    sampled = sample(all_sites, name)
    for block in checked_blocks(all_sites, task.first, task.last, sampled):
        refused += [Refusal(row_of[site.id], error.lines) for site, error in block.refused]
        if block.times is None:
            continue
        planned += block.sites
        for column, kind, words in warnings_of(block.sites, block.times):
            warned.setdefault(block.sites[column].file_name, []).append(words)
            kinds.append((kind, block.sites[column].id))
        file.add(
            summary_table(block.sites, block.times, schema)
            if task.summary
            else times_table(block.sites, block.times)
        )
        counts = counts.plus(
            Counts(
                houses=len(block.sites),
                days=block.times.open_utc.size,
                events=block.events,
                by_astral=block.by_astral,
                unsure=block.unsure,
            )
        )
    houses_with = Counter(kind for kind, _ in set(kinds))
    counts = counts._replace(
        in_daylight=houses_with[IN_DAYLIGHT],
        short=houses_with[SHORT],
        inexact=houses_with[INEXACT],
        at_sea=sum(is_at_sea(site.zone) for site in planned),
        added=maker.added,
    )
    about = {
        "part": name,
        "digest": digest,
        "zone_rules": here[1],
        "program": here[0],
        "counts": counts._asdict(),
        # As they stand in the table, by the house: its lines may move.
        "refused": {rows[row].id: reasons for row, reasons in refused},
        "warned": warned,
    }
    times = file.end(about)
    beside = {"part": name, "digest": digest, "rows": content_mark(times)}
    return Made(times, to_parquet([houses_table(planned)], HOUSES, beside))


@lru_cache(maxsize=1)
def _keep_memory() -> None:
    """Let this process keep the memory of one block for the next, where its library can.

    An environment variable does that too, but a worker elsewhere was started without it.
    """
    if not sys.platform.startswith("linux"):
        return
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError):
        # Another C library, which has its own way.
        return
    mallopt(_M_TRIM_THRESHOLD, _KEPT_BYTES)
    mallopt(_M_MMAP_THRESHOLD, _LARGEST_KEPT_BYTES)
