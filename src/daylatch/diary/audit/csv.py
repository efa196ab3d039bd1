"""An audit as CSV (RFC 4180), a row a movement; those that were dangerous come first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.cautions import CAUTION
from daylatch.diary.audit.text import danger_words
from daylatch.files.csv_file import defuse, lay_out
from daylatch.files.own import header_is
from daylatch.wording import local_text, utc_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Times
    from daylatch.diary.audit.door_audit import DoorAudit

HEADER = (
    "danger",
    "date",
    "movement",
    "planned_utc",
    "due_utc",
    "seen_utc",
    "planned_local",
    "due_local",
    "seen_local",
    "late_min",
    "by_clock_min",
    "up_to_min",
    "verdict",
    "caution",
)
wrote = header_is(HEADER)


def render(audit: DoorAudit) -> bytes:
    """Return the file: UTF-8, CRLF; a danger that is no movement has a row of its own."""
    return lay_out(HEADER, _rows(audit), CAUTION)


def _rows(audit: DoorAudit) -> Iterator[list[object]]:
    for danger in audit.dangers:
        words = f"{danger.kind.value}: {danger_words(audit, danger)}"
        seen = np.array([danger.at_utc])
        local = local_text(audit.due.plan.on_wall(seen))
        yield [defuse(words), danger.date, "", "", "", *utc_text(seen), "", "", *local, *[""] * 4]
    moves = audit.found.movements
    columns = [
        _column([getattr(one, name) for one in moves])
        for name in ("planned_utc", "due_utc", "seen_utc")
    ]
    utc = [utc_text(column) for column in columns]
    shown = [local_text(audit.due.plan.on_wall(column)) for column in columns]
    for one, *times in zip(moves, *utc, *shown, strict=True):
        yield [
            "",
            one.date,
            "open" if one.opening else "close",
            *times,
            "" if one.late_min is None else f"{one.late_min:.1f}",
            "" if one.by_clock_min is None else f"{one.by_clock_min:.1f}",
            one.up_to_min,
            one.verdict.value,
        ]


def _column(instants: list[np.datetime64]) -> Times:
    return np.array(instants, "datetime64[s]")
