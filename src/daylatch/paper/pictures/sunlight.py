"""The picture of direct sun: the Sun's paths through the year, by azimuth and altitude, over hills.

The middle is where the Sun stands at noon: south in the northern half of the Earth, north in the
southern.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.arrays import HOUR, MINUTE
from daylatch.birds.sunlight.words import HOW, one_sentence, skyline_text
from daylatch.paper.pictures.style import (
    BANDS,
    FAINT,
    INK,
    LEFT,
    NORMAL,
    OPEN,
    PAPER,
    RIGHT,
    SMALL,
    Box,
    Entry,
    Panel,
    Picture,
    looks,
    text_width,
)
from daylatch.paper.pictures.words import date_words
from daylatch.plan.daily.flock_days import find_flock_days
from daylatch.plan.summary import describe_place
from daylatch.sun.crossings import sun_position
from daylatch.wording import capital

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from daylatch.arrays import Times
    from daylatch.birds.sunlight.sunlight import Sunlight
    from daylatch.plan.plan import Plan

    Floats = NDArray[np.float64]

_TURN_DEG = 360
# From one solstice to the other the Sun's declination passes nearly even steps on these days; each
# path stands for two dates of the year.
_PATHS = {
    "06-21": "21 Jun",
    "05-21": "21 May, 23 Jul",
    "04-20": "20 Apr, 22 Aug",
    "03-20": "20 Mar, 23 Sep",
    "02-18": "18 Feb, 23 Oct",
    "01-20": "20 Jan, 22 Nov",
    "12-21": "21 Dec",
}
_NAMED_HOURS = {False: (0, 3, 6), True: (0,)}
"""The paths whose hours are written beside them, counted from the highest: by whether the Sun can
stand on either side at noon, where paths lie closer."""
_TROPIC_DEG = 23.44
_ABOVE = {False: (12.0, -9.5, 3.0, -9.5, 3.0, 3.0, -9.5), True: (3.0,) * 7}
"""How high over the top of each path, from the highest on, its dates are written [pt]; the same."""
_NOON_DEG = 25.0
_ROOM = 28.0
_STEP = np.timedelta64(2, "m")
_POINTS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
_DEPTH = 26.0
_AIR_DEG = 4.0

HILL: dict[str, Any] = {"facecolor": BANDS["civil twilight"], "edgecolor": INK, "linewidth": 0.9}
LIT: dict[str, Any] = {"color": OPEN, "linewidth": 2.0, "solid_capstyle": "butt"}
LIT_CORE: dict[str, Any] = {"color": INK, "linewidth": 0.5}
HIDDEN: dict[str, Any] = {"color": INK, "linewidth": 0.6, "dashes": (1.5, 2.0)}
MARK: dict[str, Any] = {"linestyle": "none", "marker": "o", "markersize": 2.6}
MARK |= {"markerfacecolor": PAPER, "markeredgecolor": INK, "markeredgewidth": 0.6}


class _Path(NamedTuple):
    """The Sun on one flock day.

    Attributes
    ----------
    name
        Its dates.
    times_utc
        Every two minutes.
    across, up
        Azimuth from the picture's left end, and altitude [deg].
    is_lit
        Whether it stands above the skyline.
    """

    name: str
    times_utc: Times
    across: Floats
    up: Floats
    is_lit: NDArray[np.bool_]


def draw_sunlight(sunlight: Sunlight) -> Picture:
    """Return the picture of the Sun's paths over the skyline, a matplotlib figure.

    Parameters
    ----------
    sunlight
        Direct sun on the days of a plan, in whose first year the paths are drawn.
    """
    with looks():
        return _draw(sunlight)


def _draw(sunlight: Sunlight) -> Picture:
    plan = sunlight.plan
    begin = 0 if plan.site.latitude_deg >= 0 else -_TURN_DEG // 2
    paths = sorted(_paths(sunlight, begin), key=lambda path: -path.up.max())
    picture = Picture(
        f"{plan.site.name}: direct sun over the skyline, {plan.dates[0]} to {plan.dates[-1]}",
        " ".join(_sentences(sunlight)),
    )
    lines = [
        f"{describe_place(plan.site)} · {date_words(plan)} · hours by the wall clock of "
        f"{plan.site.zone}",
        f"{capital(one_sentence(sunlight))}.",
    ]
    top = picture.head(plan.site.name, "When direct sun reaches the run", lines) - 6
    bottom = picture.key(picture.foot(HOW) + 6, list(_entries())) + _DEPTH
    low = min(0, 10 * math.floor(sunlight.skyline.lowest_deg / 10))
    highest = max(sunlight.skyline.highest_deg, *(path.up.max() for path in paths))
    high = max(10 * math.ceil((highest + _AIR_DEG) / 10), 20)
    panel = Panel(picture, Box(LEFT, bottom, RIGHT - LEFT, top - bottom), _TURN_DEG, low, high)
    picture.fill(panel.box, facecolor=BANDS["day"])
    # The hills lie over the sky, and the hidden parts of the paths are drawn on them.
    panel.shape([_hill(sunlight, begin, low)], "skyline", **HILL)
    for path in paths:
        _draw_path(panel, path, low)
    is_tropical = abs(plan.site.latitude_deg) < _TROPIC_DEG
    named = _NAMED_HOURS[is_tropical]
    for number, path in enumerate(paths):
        _draw_hours(panel, path, plan, low, is_named=number in named)
    _name_paths(panel, paths, _ABOVE[is_tropical])
    step = 10 if high - low <= 80 else 15
    heights = list(range(step * math.ceil(low / step), high + 1, step))
    panel.ruled(heights, [f"{height}°" for height in heights])
    panel.frame()
    _draw_directions(panel, begin)
    return picture


def _paths(sunlight: Sunlight, begin: int) -> Iterator[_Path]:
    """Yield the Sun's paths of the plan's first year, from the June solstice to the other."""
    plan = sunlight.plan
    year = plan.dates[0].item().year
    for of_year, name in _PATHS.items():
        day = np.datetime64(f"{year}-{of_year}")
        flock = find_flock_days(plan.site.longitude_deg, plan.zone, day, day, spare=0)
        lower = flock.lower_utc.astype("datetime64[m]")
        times = np.arange(lower[0], lower[1], _STEP)
        sun = sun_position(plan.site.latitude_deg, plan.site.longitude_deg, times)
        across = (sun.azimuth_deg - begin) % _TURN_DEG
        lit = sun.altitude_deg >= sunlight.skyline.elevation_at(sun.azimuth_deg)
        yield _Path(name, times, across, sun.altitude_deg, lit)


def _hill(sunlight: Sunlight, begin: int, low: int) -> list[Any]:
    """Return the outline of the skyline down to the foot of the picture."""
    azimuths = np.unique(
        np.concatenate(
            [(sunlight.skyline.azimuth_deg - begin) % _TURN_DEG, np.arange(_TURN_DEG + 1.0)]
        )
    )
    heights = sunlight.skyline.elevation_at(azimuths + begin)
    line = list(zip(azimuths.tolist(), heights.tolist(), strict=True))
    return [(0.0, low), (float(_TURN_DEG), low), *reversed(line)]


def _draw_path(panel: Panel, path: _Path, low: int) -> None:
    shown = path.up >= low
    # A path breaks where it goes round the picture's ends, too.
    jumps = np.abs(np.diff(path.across)) > _TURN_DEG / 2
    state = np.where(shown, np.where(path.is_lit, 2, 1), 0)
    cuts = np.flatnonzero((state[1:] != state[:-1]) | jumps) + 1
    for begin, end in zip([0, *cuts], [*cuts, len(state)], strict=True):
        if not state[begin]:
            continue
        # On to the next point, so that a line has no holes.
        joined = end < len(state) and not jumps[end - 1] and bool(state[end])
        here = slice(begin, end + joined)
        xs = [panel.x(value) for value in path.across[here]]
        ys = [panel.y(value) for value in path.up[here]]
        for look in (LIT, LIT_CORE) if state[begin] == 2 else (HIDDEN,):
            panel.picture.line(xs, ys, **look)


def _draw_hours(panel: Panel, path: _Path, plan: Plan, low: int, *, is_named: bool) -> None:
    """Mark the full hours of the wall clock on a path, and write some beside it."""
    wall = plan.on_wall(path.times_utc).wall
    minute = (wall - wall.astype("datetime64[D]")) // MINUTE % (HOUR // MINUTE)
    for at in np.flatnonzero((minute < _STEP // MINUTE) & (path.up >= low)):
        x, y = panel.x(path.across[at]), panel.y(path.up[at])
        panel.picture.line([x], [y], **MARK)
        hour = int((wall[at] - wall[at].astype("datetime64[D]")) // HOUR)
        # Beside the ends of the picture there is no room.
        if is_named and panel.box.left + _ROOM < x < panel.box.right - _ROOM:
            text = plan.site.face.hour(hour)
            side = path.across[at] - _TURN_DEG / 2
            if abs(side) < _NOON_DEG:
                panel.picture.write(x, y + 3.5, text, size=SMALL, across="center")
            else:
                # Outside the bow, so that no path runs through it.
                out = math.copysign(4.0, side)
                across = "left" if side > 0 else "right"
                panel.picture.write(x + out, y, text, size=SMALL, across=across)


def _name_paths(panel: Panel, paths: list[_Path], heights: tuple[float, ...]) -> None:
    """Write the dates of each path over its highest point."""
    for path, above in zip(paths, heights, strict=True):
        at = int(np.argmax(path.up))
        if path.up[at] >= panel.low:
            half = text_width(path.name, SMALL) / 2 + 2
            x = np.clip(panel.x(path.across[at]), panel.box.left + half, panel.box.right - half)
            # Not on the frame of the picture.
            y = np.clip(panel.y(path.up[at]) + above, panel.box.bottom + 3, panel.box.top - 9)
            panel.picture.write(float(x), float(y), path.name, size=SMALL, across="center")


def _draw_directions(panel: Panel, begin: int) -> None:
    """Write the directions under the picture."""
    bottom = panel.box.bottom
    step = _TURN_DEG // len(_POINTS)
    for across in range(0, _TURN_DEG + 1, step):
        azimuth = (across + begin) % _TURN_DEG
        x = panel.x(across)
        panel.picture.line([x, x], [bottom - 4, bottom], linewidth=0.5)
        name = _POINTS[azimuth // step]
        panel.picture.write(x, bottom - 11, name, size=NORMAL, across="center")
        panel.picture.write(
            x, bottom - 19, f"{azimuth}°", size=SMALL, across="center", colour=FAINT
        )


def _entries() -> Iterator[Entry]:
    yield Entry("the Sun's path, with direct sun", line=LIT)
    yield Entry("behind the skyline", line=HIDDEN)
    yield Entry("hills, trees and houses", fills=(HILL,))
    yield Entry("full hours, on the first date of each path", mark=MARK)


def _sentences(sunlight: Sunlight) -> Iterator[str]:
    """Yield what the picture shows, for those who cannot see it."""
    yield (
        "Directions run across and heights above the horizontal run up. Lines show the Sun's path "
        "on seven days from one solstice to the other, thick where direct sun reaches the run and "
        "dotted where the skyline hides it."
    )
    yield f"The skyline: {skyline_text(sunlight.skyline)}."
    yield f"{capital(one_sentence(sunlight))}."
    for month in sunlight.months:
        hours = month.sun / HOUR
        yield f"{month.month}: {hours:.0f} h of direct sun."
