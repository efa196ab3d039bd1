"""The picture of a flock's light: its evenings and mornings over the twilight of the year."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.arrays import DAY_MIN, MINUTE
from daylatch.diary.roosting.instants import depression_of, light_instants
from daylatch.diary.roosting.looks import Half
from daylatch.diary.roosting.words import (
    light_sentence,
    one_sentence,
    outlier_sentence,
    share_text,
    spread_sentence,
    sun_text,
)
from daylatch.paper.pictures.columns import (
    Columns,
    day_count,
    minus,
    outline,
    sky_columns,
    without,
)
from daylatch.paper.pictures.flags import (
    CLOCK_CHANGE_ENTRY,
    ROW,
    clock_flags,
    draw_flags,
    draw_lines,
    place_flags,
    rows_of,
)
from daylatch.paper.pictures.scales import DEPTH, DrawnDates, date_scale, date_text, draw_dates
from daylatch.paper.pictures.style import (
    BANDS,
    INK,
    LEFT,
    LOST,
    MARGIN,
    PAPER,
    RIGHT,
    SMALL,
    Box,
    Entry,
    Panel,
    Picture,
    looks,
)
from daylatch.plan.daily.flock_days import find_flock_days
from daylatch.plan.summary import describe_place
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from daylatch.arrays import Times
    from daylatch.diary.roosting.half import Learned
    from daylatch.diary.roosting.roosting import Roosting
    from daylatch.plan.plan import Plan

    Floats = NDArray[np.float64]

MARK: dict[str, Any] = {"linestyle": "none", "markersize": 3.0, "markeredgewidth": 0.5}
MOMENT: dict[str, Any] = {"marker": "o", "markerfacecolor": PAPER, "markeredgecolor": INK}
OVER: dict[str, Any] = {"marker": "v", "markerfacecolor": PAPER, "markeredgecolor": INK}
NOT_YET: dict[str, Any] = {"marker": "^", "markerfacecolor": INK, "markeredgecolor": PAPER}
OUTLIER: dict[str, Any] = {"marker": "D", "markerfacecolor": LOST, "markeredgecolor": INK}
OUTLIER |= {"markersize": 4.2}
LIGHT: dict[str, Any] = {"color": INK, "linewidth": 1.1}
NOW: dict[str, Any] = {"color": INK, "linewidth": 0.9, "dashes": (1.0, 2.0)}
PROPOSAL: dict[str, Any] = {"color": INK, "linewidth": 1.1, "dashes": (4.0, 2.0)}
CASING: dict[str, Any] = {"color": PAPER, "linewidth": 2.6}
_AIR = 17.0
"""Between two panels [pt]."""
_BEGIN_MIN = {Half.EVENING: DAY_MIN // 2, Half.MORNING: 0}
"""Where the columns of a half begin, so that no evening is parted at midnight."""
_ROOM_MIN = 40
_LEAST_STEP_MIN = 30
_MOST_LINES = 9
_ABOUT = "At which light the birds go in"
_TITLES = {Half.EVENING: "evenings: going in", Half.MORNING: "mornings: wanting out"}
_WORDS = {
    Half.EVENING: ("last bird in", "all in by then", "still out"),
    Half.MORNING: ("first bird out", "waiting by then", "none waiting"),
}


class _Window(NamedTuple):
    """What part of the day a panel shows, in minutes of its columns."""

    low: int
    high: int


def draw_roosting(roosting: Roosting, plan: Plan) -> Picture:
    """Return the picture of what was learned of a flock, a matplotlib figure.

    Parameters
    ----------
    roosting
        What was learned.
    plan
        Of the years that are drawn.
    """
    with looks():
        return _draw(roosting, plan)


def _draw(roosting: Roosting, plan: Plan) -> Picture:
    site, days = roosting.site, day_count(plan)
    is_of_mornings = all(half.half is Half.MORNING for half in roosting.learned)
    about = "At which light the birds want out" if is_of_mornings else _ABOUT
    picture = Picture(
        f"{site.name}: {about.lower()}, {roosting.first} to {roosting.last}",
        " ".join(_sentences(roosting)),
    )
    flags = clock_flags(plan)
    placed = place_flags(flags, days)
    dates = f"{date_text(roosting.first)} to {date_text(roosting.last)}"
    lines = [f"{describe_place(site)} · {dates}", one_sentence(roosting)]
    lines += [light_sentence(half) for half in roosting.learned]
    head = picture.head(site.name, about, [one for one in lines if one])
    top = head - rows_of(placed) * ROW - 4
    bottom = picture.key(picture.foot() + 6, list(_entries(roosting, plan))) + DEPTH
    halves = roosting.learned
    height = (top - bottom - _AIR * (len(halves) - 1)) / len(halves)
    for number, half in enumerate(halves):
        # The evenings lie lowest, above the dates.
        box = Box(LEFT, bottom + number * (height + _AIR), RIGHT - LEFT, height)
        lines_across = list(_lines(half, plan))
        window = _window(half.half, [values for values, _ in lines_across])
        panel = Panel(picture, box, days, window.low, window.high)
        _draw_sky(panel, sky_columns(plan, _BEGIN_MIN[half.half]), window)
        draw_lines(panel, flags)
        _draw_hours(panel, plan)
        _draw_lights(panel, plan, lines_across)
        _draw_looks(panel, half, plan)
        panel.frame()
        if len(halves) > 1:
            picture.write(MARGIN, box.top + 6, _TITLES[half.half], size=SMALL)
        if number == len(halves) - 1:
            draw_flags(panel, placed)
        if not number:
            weekday = site.settings.writing.first_weekday
            calendar = DrawnDates(plan.dates[0].item(), days, weekday)
            draw_dates(panel, date_scale(calendar, panel.box.width))
    return picture


def _draw_sky(panel: Panel, sky: list[Columns], window: _Window) -> None:
    """Draw the bands of the sky that lie within a window."""
    begin = min((low for column in sky[0] for low, _ in column), default=0)
    end = begin + DAY_MIN
    outside = [(begin, window.low), (window.high, end)]
    inside = [[without(column, outside) for column in columns] for columns in sky]
    for number, ((name, colour), columns) in enumerate(zip(BANDS.items(), inside, strict=True)):
        lighter = inside[number + 1] if number + 1 < len(inside) else None
        alone = columns if lighter is None else minus(columns, lighter)
        panel.shape(outline(alone), name.replace(" ", "-"), facecolor=colour)


def _draw_hours(panel: Panel, plan: Plan) -> None:
    """Draw a line across at full hours, or at half ones if there are few."""
    span = panel.high - panel.low
    step = next(
        s for s in (_LEAST_STEP_MIN, 60, 120, 180, 240) if span <= _MOST_LINES * s or s == 240
    )
    first = -(-int(panel.low) // step) * step
    ticks = list(range(first, int(panel.high) + 1, step))
    panel.ruled(ticks, [plan.site.face.time(minutes % DAY_MIN) for minutes in ticks])


def _draw_lights(panel: Panel, plan: Plan, lines: list[tuple[Floats, dict[str, Any]]]) -> None:
    """Draw lines across the days, each broken where it has no value."""
    days = (plan.dates - plan.dates[0]).astype(int) + 0.5
    for values, look in lines:
        shown = np.isfinite(values) & (values >= panel.low) & (values <= panel.high)
        ends = np.flatnonzero(np.diff(np.concatenate([[False], shown, [False]]).astype(int)))
        for begin, end in zip(ends[::2].tolist(), ends[1::2].tolist(), strict=True):
            xs = [panel.x(day) for day in days[begin:end].tolist()]
            ys = [panel.y(value) for value in values[begin:end].tolist()]
            panel.picture.line(xs, ys, **CASING)
            panel.picture.line(xs, ys, **look)


def _lines(half: Learned, plan: Plan) -> Iterator[tuple[Floats, dict[str, Any]]]:
    """Yield when the door moves now, when the light comes, and when the door would move [min]."""
    site = plan.site
    around = find_flock_days(site.longitude_deg, plan.zone, plan.dates[0], plan.dates[-1], spare=0)

    def past(light_deg: float, offset_min: int) -> Floats:
        sun_deg = depression_of(half.half, light_deg)
        light = light_instants(half.half, site, around.solar_days, sun_deg)
        return _of_day(plan, light + offset_min * MINUTE, plan.dates)

    now = plan.close_utc if half.half is Half.EVENING else plan.open_utc
    yield _of_day(plan, now, plan.dates), NOW
    yield past(half.light_deg, 0), LIGHT
    if half.proposal is not None:
        yield past(half.proposal.light_deg, half.proposal.offset_min), PROPOSAL


def _draw_looks(panel: Panel, half: Learned, plan: Plan) -> None:
    """Draw what was seen on each day; what lies outside the panel stands at its edge."""
    seen = half.looks
    days = (seen.dates - plan.dates[0]).astype(int) + 0.5
    for instants, look in (
        (seen.after_utc, NOT_YET),
        (seen.until_utc, OVER),
        (seen.exact_utc, MOMENT),
    ):
        values = _of_day(plan, instants, seen.dates)
        rows = zip(days.tolist(), values.tolist(), half.outliers.tolist(), strict=True)
        for day, value, is_outlier in rows:
            if np.isfinite(value):
                y = panel.y(min(max(value, panel.low), panel.high))
                mark = MARK | (OUTLIER if is_outlier else look)
                panel.picture.line([panel.x(day)], [y], **mark)


def _of_day(plan: Plan, instants_utc: Times, dates: Times) -> Floats:
    """Return instants as minutes of their flock days' columns, by the wall clock; NaN for none."""
    known = ~np.isnat(instants_utc)
    out = np.full(len(instants_utc), np.nan)
    wall = plan.zone.to_local(instants_utc[known]).wall.astype("datetime64[s]")
    since = wall - dates[known].astype("datetime64[s]")
    out[known] = since.astype(np.int64) / 60
    return out


def _window(half: Half, lines: list[Floats]) -> _Window:
    """Return the part of the day in which there is anything to see, by the lines across it."""
    low, high = _BEGIN_MIN[half], _BEGIN_MIN[half] + DAY_MIN
    if half is Half.MORNING:
        high = DAY_MIN * 3 // 4
    values = np.concatenate(lines)
    values = values[np.isfinite(values)]
    ends = (float(values.min()) - _ROOM_MIN, float(values.max()) + _ROOM_MIN)
    step = _LEAST_STEP_MIN
    return _Window(max(low, int(ends[0] // step) * step), min(high, -int(-ends[1] // step) * step))


def _entries(roosting: Roosting, plan: Plan) -> Iterator[Entry]:
    for name, colour in reversed(BANDS.items()):
        yield Entry(name, ({"facecolor": colour, "edgecolor": INK, "linewidth": 0.4},))
    for half in roosting.learned:
        looks_of = zip(
            _WORDS[half.half],
            (half.looks.exact_utc, half.looks.until_utc, half.looks.after_utc),
            (MOMENT, OVER, NOT_YET),
            strict=True,
        )
        for words, instants, look in looks_of:
            if not np.isnat(instants).all():
                yield Entry(words, mark=MARK | look)
    verbs = ["shuts" if half.half is Half.EVENING else "opens" for half in roosting.learned]
    yield Entry(f"the door {listed(verbs)} now", line=NOW)
    if any(half.outliers.any() for half in roosting.learned):
        yield Entry("far from the others", mark=MARK | OUTLIER)
    for half in roosting.learned:
        yield Entry(f"Sun {sun_text(half.light_deg)}", line=LIGHT)
        if half.proposal is not None:
            verb = "shut" if half.half is Half.EVENING else "open"
            share = share_text(half.proposal.share)
            yield Entry(
                f"proposal to {verb}: {half.proposal.offset_min} min later ({share})", line=PROPOSAL
            )
    if plan.clock_changes:
        yield CLOCK_CHANGE_ENTRY


def _sentences(roosting: Roosting) -> Iterator[str]:
    """Yield what the picture shows, for those who cannot see it."""
    yield (
        "Dates run across and clock time runs up. Bands show day, the three twilights and night; "
        "marks show what was seen on each day, a line when the Sun comes to the light that was "
        "learned, a dashed one when the door would move, and a dotted one when it does now."
    )
    for half in roosting.learned:
        yield light_sentence(half)
        yield spread_sentence(half)
        outliers = outlier_sentence(half, roosting.site)
        if outliers:
            yield f"Far from the others: {outliers}"
