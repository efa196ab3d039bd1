"""Turning a plan into text or bytes.

A writer is a module with two functions: ``render`` makes the bytes of a file from a plan, and
``wrote`` tells from a file's content whether this writer made it, so that nobody else's file is
ever replaced. A new export is one new module and one line in `EXPORTS`.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol, cast

from daylatch.door.table import TableWish

if TYPE_CHECKING:
    import datetime as dt

    from daylatch.plan.plan import Plan

EXPORTS = {
    "text": "daylatch.plan.text",
    "csv": "daylatch.plan.csv",
    "ics": "daylatch.calendars.plan_calendar",
    "json": "daylatch.plan.json",
    "table": "daylatch.door.table.file",
}
"""The module of each export, imported when it is used."""


@dataclass(frozen=True)
class Occasion:
    """What a writer may know besides the plan.

    Attributes
    ----------
    stamp_utc : datetime
        When new or changed entries are said to be made (aware, UTC, whole seconds).
    previous : bytes or None
        The file that is to be replaced, if this writer made it.
    table : TableWish
        What a controller table is to be like.
    update : bool
        Whether a calendar keeps what is no longer planned, as cancelled.
    """

    stamp_utc: dt.datetime
    previous: bytes | None = None
    table: TableWish = field(default_factory=TableWish)
    update: bool = False


class Writer(Protocol):
    """What every module in `EXPORTS` offers."""

    @staticmethod
    def render(plan: Plan, occasion: Occasion) -> bytes:
        """Return the whole file."""

    @staticmethod
    def wrote(content: bytes) -> bool:
        """Return whether a file's content was made by this writer."""


def get_writer(name: str) -> Writer:
    """Return the writer of an export."""
    return cast("Writer", importlib.import_module(EXPORTS[name]))
