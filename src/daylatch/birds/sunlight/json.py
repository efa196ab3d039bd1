"""Direct sun as JSON, for programs; ``docs/reference/json.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.birds.sunlight.words import HOW
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is
from daylatch.plan.json import due_head
from daylatch.wording import minute_counts, to_minutes, utc_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.birds.sunlight.dusk import Dusk
    from daylatch.birds.sunlight.sunlight import MonthOfSun, Sunlight

GENERATOR = "daylatch sunlight"
wrote = generator_is(GENERATOR)
FORMAT = 1


def render(sunlight: Sunlight, dusk: Dusk | None) -> bytes:
    """Return the file: the skyline, the summary, the months and a line for each flock day."""
    plan = sunlight.plan
    head = head_of(plan.site, GENERATOR, FORMAT)
    head["about"] = HOW
    head["from"], head["until"] = (str(date) for date in plan.dates[[0, -1]])
    head["due"] = due_head(sunlight.due)
    head["skyline"] = {
        "azimuth": sunlight.skyline.azimuth_deg.tolist(),
        "elevation": sunlight.skyline.elevation_deg.tolist(),
    }
    head["summary"] = {
        "sun_min": _minutes(sunlight.length.sum()),
        "flat_horizon_min": _minutes(sunlight.flat.length.sum()),
        "days_without_sun": int(sunlight.sunless.sum()),
        "days_opening_in_shade": int(sunlight.opens_in_shade.sum()),
    }
    head["dusk"] = None if dusk is None else _dusk(dusk)
    rows = {
        "without_sun": (
            {"from": str(run.first), "until": str(run.last), "count": run.count}
            for run in sunlight.sunless_runs
        ),
        "months": map(_month, sunlight.months),
        "days": _days(sunlight),
    }
    return lay_out(head, rows)


def _minutes(duration: np.timedelta64) -> int:
    return int(to_minutes(duration) // MINUTE)


def _dusk(dusk: Dusk) -> dict[str, Any]:
    return {
        "view": round(dusk.view, 4),
        "lower_deg": round(dusk.lower_deg, 3),
        "median_min": round(float(dusk.median / MINUTE), 2),
        "most_min": round(float(dusk.most / MINUTE), 2),
        "most_on": str(dusk.most_on),
    }


def _month(month: MonthOfSun) -> dict[str, Any]:
    return {
        "month": str(month.month),
        "sun_min": _minutes(month.sun),
        "flat_horizon_min": _minutes(month.flat),
        "days": month.days,
        "days_without_sun": month.sunless,
    }


def _days(sunlight: Sunlight) -> Iterator[dict[str, Any]]:
    starts, ends = (utc_text(times, "ms") for times in (sunlight.start_utc, sunlight.end_utc))
    bounds = np.searchsorted(sunlight.rows, np.arange(len(sunlight.plan) + 1)).tolist()
    sun = minute_counts(to_minutes(sunlight.length))
    daylight = minute_counts(to_minutes(sunlight.flat.length))
    shade = sunlight.opens_in_shade.tolist()
    for row, date in enumerate(sunlight.plan.dates):
        here = slice(bounds[row], bounds[row + 1])
        yield {
            "date": str(date),
            "sun": [
                {"from": start, "until": end}
                for start, end in zip(starts[here], ends[here], strict=True)
            ],
            "sun_min": sun[row],
            "flat_horizon_min": daylight[row],
            "opens_in_shade": shade[row],
        }
