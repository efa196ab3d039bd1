"""The fitted lines, told as what ails a clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.diary.audit.clock.causes import Jump, find_causes
from daylatch.diary.audit.clock.door_clock import PPM_PER_MIN_A_DAY, Clock, Step
from daylatch.diary.audit.clock.pruning import LEAST_ERRORS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from daylatch.arrays import Times
    from daylatch.clock import ClockChange
    from daylatch.diary.audit.clock.fit import Fit
    from daylatch.diary.audit.clock.observations import Observations

LEAST_OFFSET_MIN = 1.0
"""A smaller offset is not worth telling, nor one that lies less than half of this beyond what all
movements may be wrong alike (this program's choice)."""


def describe_clock(
    seen: Observations,
    fit: Fit,
    clock_set_utc: Times,
    changes: Sequence[ClockChange],
    *,
    follows_zone: bool,
) -> Clock:
    """Return what ails a clock.

    Parameters
    ----------
    seen
        What judged it.
    fit
        The lines through that.
    clock_set_utc, changes, follows_zone
        As in `daylatch.diary.audit.clock.causes.find_causes`.
    """
    t_95 = fit.lines.t_95
    offset, error = fit.lines.at(0, 0.0)
    jumps, dates = _jumps(seen, fit)
    causes = find_causes(jumps, clock_set_utc, changes, follows_zone=follows_zone)
    return Clock(
        first_date=seen.dates[0],
        offset_min=offset,
        offset_error_min=t_95 * error + seen.bias_min,
        drift_ppm=fit.drift.slope * PPM_PER_MIN_A_DAY,
        drift_error_ppm=fit.drift.t_95 * fit.drift.slope_error * PPM_PER_MIN_A_DAY,
        steps=tuple(
            Step(date, jump.since, jump.until, jump.minutes, jump.error_min, cause)
            for jump, date, cause in zip(jumps, dates, causes, strict=True)
        ),
        has_offset=abs(offset) >= max(LEAST_OFFSET_MIN, seen.bias_min + LEAST_OFFSET_MIN / 2)
        and abs(offset) >= seen.bias_min + LEAST_ERRORS * error,
        has_drift=fit.has_drift,
    )


def _jumps(seen: Observations, fit: Fit) -> tuple[list[Jump], list[np.datetime64]]:
    """Return each jump, between the points on its two lines, and the first date after it."""
    sizes, errors = fit.lines.jumps()
    found, dates = [], []
    for number, (size, error) in enumerate(zip(sizes.tolist(), errors.tolist(), strict=True)):
        last = np.flatnonzero(fit.lines.inliers & (fit.segment == number))[-1]
        first = np.flatnonzero(fit.lines.inliers & (fit.segment == number + 1))[0]
        before, _ = fit.lines.at(number, seen.days[first])
        found.append(
            Jump(seen.at_utc[last], seen.at_utc[first], size, fit.lines.t_95 * error, before)
        )
        dates.append(seen.dates[first])
    return found, dates
