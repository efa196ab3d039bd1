"""The picture of a door's power: the battery's charge over the dates, and what comes and goes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.cautions import POWER_CAUTION
from daylatch.door.power.words import high_sentence, verdict, would_do
from daylatch.paper.pictures.columns import day_count
from daylatch.paper.pictures.scales import DEPTH, DrawnDates, date_scale, date_text, draw_dates
from daylatch.paper.pictures.style import (
    BANDS,
    FAINT,
    GAINED,
    INK,
    LEFT,
    LOST,
    MARGIN,
    PAPER,
    RIGHT,
    SMALL,
    WAKING,
    Box,
    Entry,
    Panel,
    Picture,
    looks,
    wrapped_to,
)
from daylatch.plan.summary import describe_place
from daylatch.wording import capital, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from daylatch.door.power.power import Power

    Floats = NDArray[np.float64]

CHARGE: dict[str, Any] = {"facecolor": BANDS["civil twilight"]}
CHARGE_LINE: dict[str, Any] = {"color": INK, "linewidth": 1.0}
HIGH: dict[str, Any] = {"color": INK, "linewidth": 0.8, "dashes": (1.2, 1.8)}
FLOOR: dict[str, Any] = {"color": INK, "linewidth": 1.0, "dashes": (5.0, 2.0)}
STOPPED: dict[str, Any] = {"facecolor": (LOST, 0.6), "hatch": "xxx", "edgecolor": INK}
BROUGHT: dict[str, Any] = {"facecolor": WAKING}
WANTED: dict[str, Any] = {"color": INK, "linewidth": 1.2}
VOLTS: dict[str, Any] = {"linestyle": "none", "marker": "o", "markersize": 4.4}
VOLTS |= {"markerfacecolor": GAINED, "markeredgecolor": PAPER, "markeredgewidth": 0.5}
_AIR = 20.0
"""Between the two panels [pt]."""
_CHARGE_SHARE = 0.68
_VOLTS_ROOM = 26.0
_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
_MOST_LINES = 6
_LEAST_WH = 0.01
_ABOUT = "The charge of the door's battery"


def draw_power(power: Power) -> Picture:
    """Return the picture of how a door's battery fares, a matplotlib figure."""
    with looks():
        return _draw(power)


def _draw(power: Power) -> Picture:
    site, dates = power.site, power.dates
    picture = Picture(
        f"{site.name}: {_ABOUT.lower()}, {dates[0]} to {dates[-1]}", " ".join(_sentences(power))
    )
    span = f"{date_text(dates[0].item())} to {date_text(dates[-1].item())}"
    lines = [f"{describe_place(site)} · {span}", f"{verdict(power)}."]
    lines += [f"{capital(text)}." for text in [high_sentence(power)] if text]
    top = picture.head(site.name, _ABOUT, lines) - 12
    bottom = picture.key(_foot(picture) + 6, list(_entries(power))) + DEPTH
    has_volts = bool(len(power.seen.volts))
    width = RIGHT - LEFT - _VOLTS_ROOM * has_volts
    upper = (top - bottom - _AIR) * _CHARGE_SHARE
    low = Box(LEFT, bottom, width, top - bottom - _AIR - upper)
    high = Box(LEFT, top - upper, width, upper)
    days = day_count(power.due.plan)
    _draw_charge(Panel(picture, high, days, 0, power.store.full_wh * 1.03), power)
    # A door that draws nothing has an axis all the same.
    most = float(max(power.brought.max(), power.wanted.max(), _LEAST_WH)) * 1.05
    panel = Panel(picture, low, days, 0, most)
    _draw_flow(panel, power)
    calendar = DrawnDates(dates[0].item(), days, site.settings.writing.first_weekday)
    draw_dates(panel, date_scale(calendar, low.width))
    return picture


def _foot(picture: Picture) -> float:
    """Write the cautions of power over those that every picture has; return where they end."""
    y = picture.foot()
    for line in reversed(wrapped_to(POWER_CAUTION, RIGHT - MARGIN, SMALL)):
        picture.write(MARGIN, y, line, size=SMALL, colour=FAINT)
        y += SMALL * 1.28
    return y


def _draw_charge(panel: Panel, power: Power) -> None:
    """Draw the charge at the end of each day, the cut-off, and voltages by their own scale."""
    picture = panel.picture
    at = (power.dates - power.dates[0]).astype(np.int64)
    _rule(panel, " Wh")
    panel.shape(_steps(at, power.course.charge_wh), "charge", **CHARGE)
    stopped = [
        [(day, 0.0), (day, panel.high), (day + 1, panel.high), (day + 1, 0.0)]
        for day in at[power.stops].tolist()
    ]
    panel.shape(stopped, "stopped", **STOPPED)
    for values, look in (
        (power.course.charge_wh, CHARGE_LINE),
        (None if power.high_course is None else power.high_course.charge_wh, HIGH),
        (power.floor, FLOOR),
    ):
        if values is not None:
            xs = [panel.x(day + 1) for day in at.tolist()]
            picture.line(xs, [panel.y(value) for value in values.tolist()], **look)
    panel.frame()
    picture.write(MARGIN, panel.box.top + 4, "charge at the end of each day", size=SMALL)
    _draw_volts(panel, power)


def _draw_volts(panel: Panel, power: Power) -> None:
    volts = power.seen.volts
    if not len(volts):
        return
    low, high = float(volts.min()), float(volts.max())
    step = _step(max(high - low, 0.5))
    low, high = np.floor(low / step) * step, np.ceil(high / step) * step
    high = max(high, low + step)
    box, picture = panel.box, panel.picture

    def height(value: float) -> float:
        return float(box.bottom + box.height * (0.06 + 0.88 * (value - low) / (high - low)))

    for value in np.arange(low, high + step / 2, step).tolist():
        y = height(value)
        picture.line([box.right, box.right + 3], [y, y], linewidth=0.5)
        picture.write(box.right + 5, y, f"{value:.4g} V", size=SMALL, up="center_baseline")
    zone = power.due.plan.zone
    wall = zone.to_local(power.seen.instant_utc).wall.astype("datetime64[s]")
    since = (wall - power.dates[0].astype("datetime64[s]")).astype(np.float64) / 86400
    for day, value in zip(since.tolist(), volts.tolist(), strict=True):
        picture.line([panel.x(day)], [height(value)], **VOLTS)


def _draw_flow(panel: Panel, power: Power) -> None:
    """Draw what the panel brings on each day, and what the door wants."""
    at = (power.dates - power.dates[0]).astype(np.int64)
    _rule(panel, " Wh")
    panel.shape(_steps(at, power.brought), "brought", **BROUGHT)
    xs = [panel.x(day + 0.5) for day in at.tolist()]
    panel.picture.line(xs, [panel.y(value) for value in power.wanted.tolist()], **WANTED)
    panel.frame()
    panel.picture.write(MARGIN, panel.box.top + 4, "a day", size=SMALL)


def _rule(panel: Panel, unit: str) -> None:
    step = _step(panel.high)
    ticks = np.arange(0, panel.high, step).tolist()
    panel.ruled(ticks, [f"{value:g}{unit}" for value in ticks])


def _step(span: float) -> float:
    """Return a round step of which a span has a few."""
    unit = 10.0 ** np.floor(np.log10(span / _MOST_LINES))
    return float(next(step * unit for step in _STEPS if span <= _MOST_LINES * step * unit))


def _steps(at: NDArray[np.int64], values: Floats) -> list[list[tuple[float, float]]]:
    """Return the outline of columns from 0 up, a day wide."""
    upper = [
        corner
        for day, value in zip(at.tolist(), values.tolist(), strict=True)
        for corner in ((day, value), (day + 1, value))
    ]
    return [[(upper[0][0], 0.0), *upper, (upper[-1][0], 0.0)]]


def _entries(power: Power) -> Iterator[Entry]:
    yield Entry("charge", (CHARGE,), line=CHARGE_LINE)
    if power.high_course is not None:
        yield Entry("the same at the upper end of the light", line=HIGH)
    yield Entry("under this the door stops", line=FLOOR)
    if power.stops.any():
        yield Entry("the door stops", (STOPPED,))
    if power.watts is not None:
        yield Entry("what the panel brings", (BROUGHT,))
    yield Entry("what the door needs", line=WANTED)
    if len(power.seen.volts):
        yield Entry("voltage seen (scale on the right)", mark=VOLTS)


def _sentences(power: Power) -> Iterator[str]:
    """Yield what the picture shows, for those who cannot see it."""
    yield (
        "Dates run across; above, the battery's charge at the end of each day runs up, over a "
        "dashed line under which the door stops; below, what the panel brings and what the door "
        "needs on each day."
    )
    yield f"{verdict(power)}."
    words = [*would_do(power)]
    if words:
        yield f"What would do: {listed(words, 'and')}."
