"""Day length and lamp as JSON; ``docs/how-to/day-length-and-lamp.md`` names every field."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.birds.daylength.csv import lacking_text, state_text
from daylatch.birds.daylength.daylength import NATURAL_DAYS, PHOTOPERIOD_NORMS
from daylatch.birds.daylength.text import describe_lamp
from daylatch.cautions import LAMP_CAUTION
from daylatch.files.json_file import head_of, lay_out
from daylatch.files.own import generator_is
from daylatch.wording import FACE_24_HOURS, local_text, to_minutes, utc_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.birds.daylength.daylength import DayLengths, Daylight
    from daylatch.birds.daylength.lamp import Lamp
    from daylatch.files.occasion import Occasion

GENERATOR = "daylatch day length"
wrote = generator_is(GENERATOR)
FORMAT = 2


def render(lengths: DayLengths, lamp: Lamp | None, occasion: Occasion) -> bytes:
    """Return the file: what it amounts to, and a line for each flock day."""
    head = head_of(lengths.plan.site, GENERATOR, FORMAT)
    if lamp is not None:
        head["lamp_caution"] = LAMP_CAUTION
    head["norms"] = list(PHOTOPERIOD_NORMS)
    head["from"], head["until"] = (str(date) for date in lengths.plan.dates[[0, -1]])
    head["wanted_min"] = _minutes(lengths.wanted)
    head["counts"] = lengths.laying.counts
    head["summary"] = _summary(lengths)
    head["lamp"] = None if lamp is None else _about_lamp(lamp)
    return lay_out(head, {"days": _days(lengths, lamp)})


def _minutes(duration: np.timedelta64) -> int:
    return int(to_minutes(duration) // MINUTE)


def _summary(lengths: DayLengths) -> dict[str, Any]:
    dates = lengths.plan.dates
    found: dict[str, Any] = {
        "under_days": int(lengths.under.sum()),
        "falls_under": [str(date) for date in lengths.falls],
        "reaches": [str(date) for date in lengths.rises],
    }
    for key, daylight in lengths.by.items():
        extremes = {"longest": np.argmax(daylight.length), "shortest": np.argmin(daylight.length)}
        found[key] = {
            name: {"date": str(dates[row]), "min": _minutes(daylight.length[row])}
            for name, row in extremes.items()
        }
    return found


def _about_lamp(lamp: Lamp) -> dict[str, Any]:
    # Programs read these too, so they do not follow the face that the site's people are shown.
    notes = describe_lamp(lamp, FACE_24_HOURS)
    return {
        "side": lamp.laying.lamp,
        "days": int(lamp.lit.sum()),
        "burns_min": _minutes(lamp.burning.sum()),
        "weekly_step_min": lamp.laying.weekly_step_min,
        "least_burn_min": lamp.laying.least_burn_min,
        "most_min": _minutes(lamp.most),
        "notes": [f"{label}: {text}" for label, text in notes],
    }


def _days(lengths: DayLengths, lamp: Lamp | None) -> Iterator[dict[str, Any]]:
    natural = {NATURAL_DAYS[key].name: _natural(daylight) for key, daylight in lengths.by.items()}
    lacking = lacking_text(lengths)
    burns = _burns(lamp) if lamp is not None else [[] for _ in lacking]
    for row, date in enumerate(lengths.plan.dates):
        day = {
            "date": str(date),
            **{name: next(days) for name, days in natural.items()},
            "lacking_min": int(lacking[row]),
            "lamp": burns[row],
        }
        if lamp is not None:
            day["target_min"] = _minutes(lamp.target[row])
            day["with_lamp_min"] = _minutes(lamp.length[row])
            day["before_opening_min"] = _minutes(lamp.before_opening[row])
            day["after_closing_min"] = _minutes(lamp.after_closing[row])
        yield day


def _natural(daylight: Daylight) -> Iterator[dict[str, Any]]:
    columns = (
        utc_text(daylight.rising, "ms"),
        utc_text(daylight.setting, "ms"),
        daylight.length,
        state_text(daylight),
    )
    for start, end, length, state in zip(*columns, strict=True):
        yield {
            "from": start or None,
            "until": end or None,
            "min": _minutes(length),
            "sun": state or "crosses",
        }


def _burns(lamp: Lamp) -> list[list[dict[str, str]]]:
    """Return each day's times of burning."""
    on_wall = lamp.lengths.plan.on_wall
    columns = [
        (local_text(on_wall(lamp.on_utc[turn])), local_text(on_wall(lamp.off_utc[turn])))
        for turn in (0, 1)
    ]
    return [
        [{"on": on[row], "off": off[row]} for on, off in columns if on[row]]
        for row in range(len(lamp.target))
    ]
