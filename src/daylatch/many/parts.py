"""The parts that the work is cut into: houses whose clocks go alike, by their identities.

A part depends on its own rows alone: where a table grows or a line of it moves, the parts of other
houses stay what they are, and so do their files.
"""

from __future__ import annotations

import hashlib
import json
import re
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

import daylatch
from daylatch.clock import zone_rules_version
from daylatch.errors import PlanError
from daylatch.many.houses import HouseRow
from daylatch.plan.block import clock_group

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from daylatch.many.roster import Roster

PART_SITES = 2048
"""How many houses a part has at most, about; half as many on average. A file of a year of so many
has some 3 MB."""
PART_NAME = re.compile(r"clock-[0-9a-f]{8}-\d{4,}-of-\d{4,}")
FORM = 1
"""Of the dataset: higher where its columns or their meaning change, so that parts are redone."""


class Task(NamedTuple):
    """What is the same for all parts of a run.

    Attributes
    ----------
    first, last : date
        Of the plans.
    like : dict
        The data of the site file for all rows.
    keys : tuple of str
        The columns that are keys of the site file.
    summary : bool
        Whether a row a house is wanted, instead of one a day.
    versions : tuple
        Of the program and of the zone rules, as whoever asks has them.
    """

    first: dt.date
    last: dt.date
    like: dict[str, Any]
    keys: tuple[str, ...]
    summary: bool
    versions: tuple[str, str]


class Part(NamedTuple):
    """Houses that are planned together.

    Attributes
    ----------
    name : str
        Also of its files.
    rows : int64 array
        Its places in the roster.
    digest : str
        What differs as soon as anything does that its files come from.
    """

    name: str
    rows: NDArray[np.int64]
    digest: str


def versions_here() -> tuple[str, str]:
    """Return the versions of what makes plans: equal ones make equal plans."""
    return daylatch.__version__, zone_rules_version()


def cut(roster: Roster, task: Task) -> Iterator[Part]:
    """Yield the parts of a roster, in the order of their names."""
    labels = [_clock_label(zone, task) for zone in roster.zones]
    groups = sorted(set(labels))
    group_of = np.array([groups.index(label) for label in labels], np.int64)[roster.zone_of]
    head, marks = _digest_of_task(task), _marks(roster)
    # A digest's first two bytes say in which part of its clock's houses one is.
    heads = roster.digests.view(np.uint8).reshape(-1, 16)[:, :2].astype(np.int64)
    bucket_of = 256 * heads[:, 0] + heads[:, 1]
    for number, label in enumerate(groups):
        rows = np.flatnonzero(group_of == number)
        bits = max(int(np.ceil(np.log2(max(len(rows), 1) / PART_SITES))), 0)
        buckets = bucket_of[rows] >> (16 - min(bits, 16))
        order = np.lexsort((roster.digests[rows], buckets))
        edges = np.searchsorted(buckets[order], np.arange(2**bits + 1))
        for bucket in range(2**bits):
            inside = rows[order[edges[bucket] : edges[bucket + 1]]]
            if inside.size:
                name = f"{label}-{bucket + 1:04d}-of-{2**bits:04d}"
                yield Part(name, inside, _digest(head, roster, marks, inside))


def rows_of_part(roster: Roster, part: Part) -> list[HouseRow]:
    """Return the rows of a part, as they are sent to whoever plans it."""
    return [
        HouseRow(
            roster.ids[row],
            float(roster.latitude_deg[row]),
            float(roster.longitude_deg[row]),
            roster.zones[roster.zone_of[row]],
            roster.settings[roster.settings_of[row]],
        )
        for row in part.rows.tolist()
    ]


def _clock_label(zone: str, task: Task) -> str:
    try:
        group = repr(clock_group(zone, task.first, task.last))
    except PlanError:
        group = zone
    return f"clock-{hashlib.blake2b(group.encode(), digest_size=4).hexdigest()}"


def _digest_of_task(task: Task) -> bytes:
    told = [
        FORM,
        str(task.first),
        str(task.last),
        task.summary,
        task.versions,
        task.keys,
        task.like,
    ]
    return json.dumps(told, default=str, sort_keys=True).encode()


def _digest(head: bytes, roster: Roster, marks: _Marks, rows: NDArray[np.int64]) -> str:
    digest = hashlib.blake2b(head, digest_size=16)
    for column in (roster.latitude_deg, roster.longitude_deg, *marks):
        digest.update(column[rows].tobytes())
    digest.update("\0".join(roster.ids[row] for row in rows.tolist()).encode())
    return digest.hexdigest()


class _Marks(NamedTuple):
    """Of each row: what differs if its zone does, or its settings."""

    zone: NDArray[np.bytes_]
    settings: NDArray[np.bytes_]


def _marks(roster: Roster) -> _Marks:
    zones, settings = (
        np.array([_mark(value) for value in values] or [b""], "S16")
        for values in (roster.zones, roster.settings)
    )
    return _Marks(zones[roster.zone_of], settings[roster.settings_of])


def _mark(value: object) -> bytes:
    return hashlib.blake2b(repr(value).encode(), digest_size=16).digest()
