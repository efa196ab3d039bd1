"""How a house fits as JSON, for programs; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import DAY
from daylatch.birds.fit.fit import LOCAL_LAW
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is
from daylatch.plan.json import due_head
from daylatch.site.values.measures import UNITS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.birds.fit.fit import Fit
    from daylatch.birds.fit.line import Line, Need
    from daylatch.site.norms import Norm

GENERATOR = "daylatch fit"
wrote = generator_is(GENERATOR)
FORMAT = 2


def render(fit: Fit) -> bytes:
    """Return the file: the dates of each case, and a line for each requirement."""
    stays = fit.stays
    head = head_of(fit.plan.site, GENERATOR, FORMAT)
    head["from"], head["until"] = (str(date) for date in fit.plan.dates[[0, -1]])
    head["due"] = due_head(fit.due)
    head["local_law"] = LOCAL_LAW
    head["awake_h"], head["long_night_h"] = stays.awake_h, stays.long_night_h
    head |= {
        "asleep_only": _runs(stays.asleep),
        "awake_inside": _runs(stays.awake),
        "shut_all_day": _runs(stays.shut),
        "awake_by_lamp": _runs(stays.lamp),
        "not_known": _runs(stays.unknown),
        "long_nights": _runs(stays.long),
    }
    return lay_out(head, {"requirements": (_line(line, fit.flock.size) for line in fit.lines)})


def _runs(dates: NDArray[np.datetime64[Any]]) -> list[dict[str, Any]]:
    """Return dates as runs of them."""
    runs = np.split(dates, np.flatnonzero(np.diff(dates) > DAY) + 1)
    return [
        {"from": str(run[0]), "until": str(run[-1]), "count": len(run)} for run in runs if len(run)
    ]


def _line(line: Line, size: str | None) -> dict[str, Any]:
    return {
        "requirement": line.requirement,
        "case": line.case.value,
        "verdict": line.verdict.value,
        "values": [round(value, 6) for value in line.values],
        "found": line.found,
        "norm": _norm(line.norm, size) if line.norm else None,
        "wanted": line.wanted,
        "needs": [_need(need) for need in line.needs],
        "notes": list(line.notes),
        "doubts": list(line.doubts),
    }


def _norm(norm: Norm, size: str | None) -> dict[str, Any]:
    figures = norm.base_figures(size)
    return {
        "name": norm.name,
        "figures": None if figures is None else [round(figure, 6) for figure in figures],
        "unit": UNITS[norm.unit].base,
        "source": norm.source,
        "scope": norm.scope,
        "year": norm.year,
        "mark": norm.mark,
        "status": norm.status,
    }


def _need(need: Need) -> dict[str, Any]:
    return {
        "from": str(need.first),
        "until": str(need.last),
        "shut_days": need.shut_days,
        "awake_min": need.awake_min,
        "share_of_days": round(need.share, 4),
        "least": round(need.least, 1),
        "most": round(need.most, 1),
    }
