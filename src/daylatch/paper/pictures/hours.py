"""The scale of hours beside a chart of days, which need not begin at midnight."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.arrays import DAY_MIN
from daylatch.paper.pictures.style import INK, LEADING, NORMAL, PAPER

if TYPE_CHECKING:
    from daylatch.paper.pictures.style import Panel
    from daylatch.wording import ClockFace


def draw_hours(panel: Panel, face: ClockFace, *, step_h: int) -> None:
    """Draw a scale of hours, so many apart, and midnight where it lies within the panel."""
    begin = int(panel.low)
    if not begin:
        hours = range(0, 25, step_h)
        panel.ruled([60 * hour for hour in hours], list(map(face.hour, hours)))
        return
    end = begin + DAY_MIN
    step = 60 * step_h
    ticks = list(range(begin // step * step + step, end, step))
    # Its own ends are told where their labels have room.
    ticks += [
        edge
        for edge in (begin, end)
        if min(abs(panel.y(edge) - panel.y(tick)) for tick in ticks) >= LEADING * NORMAL
    ]
    panel.ruled(ticks, [face.hour(minutes % DAY_MIN // 60) for minutes in ticks])
    midnight = panel.y(DAY_MIN if begin > 0 else 0)
    ends = [panel.box.left, panel.box.right]
    # Light under dark, to be seen on both.
    for looks in ({"color": PAPER, "linewidth": 2.0}, {"color": INK, "linewidth": 0.8}):
        panel.picture.line(ends, [midnight, midnight], solid_capstyle="butt", **looks)


def beyond_midnight(begin_min: int, face: ClockFace) -> str:
    """Return where the hours beyond midnight stand, in a chart that begins at another hour."""
    midnight = face.hour(0)
    if begin_min > 0:
        return f"above the line at {midnight}: after midnight, on top of the evening before"
    return f"below the line at {midnight}: before midnight, at the foot of the next morning"
