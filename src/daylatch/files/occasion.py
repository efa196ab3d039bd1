"""When and over what a file is written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable


@dataclass(frozen=True)
class Occasion:
    """What a writer may know besides what it writes.

    Attributes
    ----------
    stamp_utc : datetime
        When new or changed entries are said to be made (aware, UTC, whole seconds).
    previous : bytes or None
        The file that is to be replaced, if this writer made it.
    on_progress : callable or None
        What a writer that takes its time may call as (done, of).
    """

    stamp_utc: dt.datetime
    previous: bytes | None = None
    on_progress: Callable[[int, int], None] | None = None
