"""What is said of direct sun in several forms."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.plan.daily.flock_days import find_flock_days
from daylatch.sun.crossings import sun_position
from daylatch.sun.lights import light_words
from daylatch.wording import date_ranges, days_text, duration_text, listed, to_minutes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Minutes
    from daylatch.birds.date_runs import DateRun
    from daylatch.birds.sunlight.dusk import Dusk
    from daylatch.birds.sunlight.sunlight import Sunlight
    from daylatch.sun.skyline import Skyline

HOW = (
    "Direct sun: the Sun's centre at or above the skyline, as geometry has it; a flat horizon is "
    "taken alike. Half of the Sun's disc, and what the air lifts it by near the horizon, show it a "
    "few minutes longer (together up to 0.8°), and cloud is not in it. No time of the door is "
    "moved by any of it."
)
"""How direct sun is meant."""
_MOVES_NOTHING = "No time of the door hangs on it."
_MOST_RUNS = 4
_LEAST_NOON_DEG = 3.0
"""How high the Sun must stand to be looked for over a skyline (our choice, no source)."""
_SURVEY_DEG = 1.0
"""How well a skyline is measured by hand (common practice, no source)."""
_ZERO = np.timedelta64(0, "us")
_HALF_MINUTE = np.timedelta64(30, "s")
# A flock day is half a minute longer or shorter than that.
_WHOLE_DAY = np.timedelta64(24 * 60 - 5, "m")


def skyline_text(skyline: Skyline) -> str:
    """Return what a skyline is like."""
    low, high = int(np.argmin(skyline.elevation_deg)), int(np.argmax(skyline.elevation_deg))
    azimuths, elevations = skyline.azimuth_deg, skyline.elevation_deg
    if elevations[low] == elevations[high]:
        return f"{elevations[low]:g}° high all round"
    return (
        f"lowest {elevations[low]:g}° at azimuth {azimuths[low]:g}, highest {elevations[high]:g}° "
        f"at azimuth {azimuths[high]:g}"
    )


def one_sentence(sunlight: Sunlight) -> str:
    """Return what direct sun amounts to on the days of a plan."""
    count, sunless = len(sunlight.plan), int(sunlight.sunless.sum())
    if sunless == count:
        return f"no direct sun reaches the run on any of {days_text(count)}"
    mean = duration_text(to_minutes(sunlight.length.sum() // count))
    text = f"direct sun reaches the run for {mean} a day on average"
    if not sunless:
        return text
    dates = date_ranges(sunlight.plan.dates[sunlight.sunless], most=_MOST_RUNS)
    return f"{text}; none on {sunless} of {days_text(count)}: {dates}"


def stretch_texts(sunlight: Sunlight) -> dict[int, list[str]]:
    """Return each day's stretches of sun by the wall clock, by its row; none for days without."""
    plan, face = sunlight.plan, sunlight.plan.site.face
    # To the nearest minute, as everything that is not the door's.
    begins, ends = (
        face.times(plan.on_wall(times + _HALF_MINUTE).wall)
        for times in (sunlight.start_utc, sunlight.end_utc)
    )
    of_day: dict[int, list[str]] = {}
    for row, begin, end in zip(sunlight.rows.tolist(), begins, ends, strict=True):
        of_day.setdefault(row, []).append(f"{begin} to {end}")
    return of_day


def day_sentence(sunlight: Sunlight, row: int) -> str:
    """Return when direct sun reaches the run on one day, beside what is said of its times."""
    stretches = stretch_texts(sunlight).get(row)
    if not stretches:
        return f"Over the skyline no direct sun reaches the run that day. {_MOVES_NOTHING}"
    return f"Over the skyline direct sun reaches the run from {listed(stretches)}. {_MOVES_NOTHING}"


def sun_entries(sunlight: Sunlight, dusk: Dusk | None) -> Iterator[tuple[str, str]]:
    """Yield what direct sun amounts to, a label with its text.

    Parameters
    ----------
    sunlight
        Direct sun by day.
    dusk
        What the skyline takes from the light of dusk; None where that is not known.
    """
    yield "Without sun", _sunless(sunlight)
    length, flat = sunlight.length, sunlight.flat.length
    if not sunlight.sunless.all():
        yield from _extremes(sunlight)
        text = f"{_hours(length.sum())} h of direct sun"
        if flat.sum() > _ZERO:
            part = length.sum() / flat.sum()
            text += f", {part:.0%} of the {_hours(flat.sum())} h over a flat horizon"
        yield "In all", text
        yield from _sides(sunlight)
        yield from _gaps(sunlight)
    yield "The door opens", _opening(sunlight)
    yield "Look and see", _lowest_noon(sunlight)
    yield "Hills at dusk", dusk_text(sunlight, dusk)


def _extremes(sunlight: Sunlight) -> Iterator[tuple[str, str]]:
    """Yield the days with the most and the least sun."""
    length, dates = sunlight.length, sunlight.plan.dates
    whole = length > _WHOLE_DAY
    most, least = int(np.argmax(length)), int(np.argmin(length))
    if whole.any():
        days = days_text(int(whole.sum()))
        yield "Sun all day", f"and all night on {days}: {date_ranges(dates[whole], _MOST_RUNS)}"
    elif most != least:
        yield "Most sun", f"{_length(length[most])} on {dates[most]}"
    if not sunlight.sunless.any() and not whole.all():
        label = "Least sun" if most != least else "Sun"
        yield label, f"{_length(length[least])} on {dates[least]}"


def dusk_text(sunlight: Sunlight, dusk: Dusk | None) -> str:
    """Return what the skyline takes from the light of dusk, with its source and its limit."""
    light = sunlight.plan.site.settings.close.light
    if dusk is None:
        return (
            f"not reckoned for the light of your closing ({light_words(light)}) over this skyline: "
            "only for twilights, on evenings that have them"
        )
    if not dusk.lower_deg:
        return "the skyline takes nothing from the light of dusk"
    return (
        f"from an equally bright sky {dusk.view:.0%} of the light reaches the run over this "
        f"skyline, as if the Sun stood {dusk.lower_deg:.2f}° lower: the light of your closing "
        f"({light_words(light)}) comes {_small(dusk.median)} earlier on half of the evenings, at "
        f"most {_small(dusk.most)} (on {dusk.most_on}). So much by Dozier and Frew 1990 and the "
        f"light of a clear sky (Explanatory Supplement 1992); a real dusk is brighter in the west, "
        f"and no figures for that were found. `daylatch roosting` learns from evenings what your "
        f"place really does"
    )


def _sunless(sunlight: Sunlight) -> str:
    runs = sunlight.sunless_runs
    if not runs:
        return "no day"
    days = days_text(int(sunlight.sunless.sum()))
    if sunlight.sunless.all():
        return f"all of {days}"
    told = "; ".join(_run(sunlight, run) for run in runs[:_MOST_RUNS])
    more = f"; and {len(runs) - _MOST_RUNS} more times" if len(runs) > _MOST_RUNS else ""
    return f"{days}: {told}{more}"


def _run(sunlight: Sunlight, run: DateRun) -> str:
    """Return a run of dates with the last sun before and the first after it."""
    dates = sunlight.plan.dates
    text = str(run.first) if run.first == run.last else f"{run.first} to {run.last}"
    begin, end = np.searchsorted(dates, [run.first, run.last])
    around = []
    if begin > 0:
        around.append(f"last sun on {dates[begin - 1]}")
    if end + 1 < len(dates):
        around.append(f"first sun on {dates[end + 1]}")
    return f"{text} ({', '.join(around)})" if around else text


def _sides(sunlight: Sunlight) -> Iterator[tuple[str, str]]:
    """Yield how much later than over a flat horizon sun comes, and how much earlier it leaves."""
    for label, gaps, verb, sides in (
        ("Morning", sunlight.comes_later, "comes", ("later", "earlier")),
        ("Evening", sunlight.leaves_earlier, "leaves", ("earlier", "later")),
    ):
        known = gaps[~np.isnat(gaps)]
        if not known.size:
            continue
        # From a hilltop it is the other way round.
        is_other = bool(np.median(known.astype(np.int64)) < 0)
        away = -gaps if is_other else gaps
        than = f"direct sun {verb} {sides[is_other]} than over a flat horizon"
        yield label, f"{than}: by {_spread(sunlight, away)}"


def _spread(sunlight: Sunlight, durations: Minutes) -> str:
    """Return durations, NaT on some days, as what half of the days keep to and the most."""
    some = np.flatnonzero(~np.isnat(durations))
    most = some[np.argmax(durations[some])]
    longest = _length(max(durations[most], _ZERO))
    median = np.median(durations[some].astype(np.int64)).astype("timedelta64[us]")
    if some.size == 1:
        return longest
    if median < _HALF_MINUTE:
        return f"at most {longest} (on {sunlight.plan.dates[most]})"
    return (
        f"{_length(max(median, _ZERO))} or less on half of the days, at most {longest} (on "
        f"{sunlight.plan.dates[most]})"
    )


def _gaps(sunlight: Sunlight) -> Iterator[tuple[str, str]]:
    """Yield on which days the Sun goes behind something and comes again."""
    # What is parted at the lowest Sun goes on.
    goes_on = np.append(False, sunlight.start_utc[1:] == sunlight.end_utc[:-1])
    same_day = np.append(False, sunlight.rows[1:] == sunlight.rows[:-1])
    again = np.bincount(sunlight.rows[same_day & ~goes_on], minlength=len(sunlight.plan))
    if again.any():
        most = int(np.argmax(again))
        times = "once" if again[most] == 1 else f"{again[most]} times"
        yield (
            "Comes and goes",
            f"on {days_text(int((again > 0).sum()))} it goes behind the skyline and comes again, "
            f"up to {times} a day (on {sunlight.plan.dates[most]})",
        )


def _lowest_noon(sunlight: Sunlight) -> str:
    """Return where the Sun stands at noon when that is lowest, and whether it is to be seen there.

    By that anybody can check a skyline, and where its azimuths begin, on one day.
    """
    site, plan = sunlight.plan.site, sunlight.plan
    days = find_flock_days(site.longitude_deg, plan.zone, plan.dates[0], plan.dates[-1], spare=0)
    sun = sun_position(site.latitude_deg, site.longitude_deg, days.transit_utc)
    high = np.flatnonzero(sun.altitude_deg > _LEAST_NOON_DEG)
    if not high.size:
        return f"the Sun stands over {_LEAST_NOON_DEG:g}° at noon on none of these days"
    row = int(high[np.argmin(sun.altitude_deg[high])])
    altitude, azimuth = float(sun.altitude_deg[row]), float(sun.azimuth_deg[row])
    height = float(sunlight.skyline.elevation_at(azimuth))
    noon = site.face.instant(plan.zone, days.transit_utc[row])
    there = (
        f"at the lowest noon of these days that is worth a look ({noon}) the Sun stands "
        f"{altitude:.1f}° high at azimuth {round(azimuth) % 360}, and the skyline there reaches "
        f"{height:.1f}°"
    )
    if abs(altitude - height) < _SURVEY_DEG:
        return f"{there}: so near to each other that a look then tells nothing"
    seen = "is to be seen" if altitude > height else "is hidden"
    return (
        f"{there}, so that the Sun {seen}. If that is not so, look at the skyline again, and at "
        "where its azimuths begin"
    )


def _opening(sunlight: Sunlight) -> str:
    due, dates = sunlight.due, sunlight.plan.dates
    word = "due opening" if due.differs.any() else "opening"
    shade, before = sunlight.opens_in_shade, sunlight.opens_before_sunrise
    parts = []
    if shade.any():
        parts.append(
            f"in shade on {days_text(int(shade.sum()))}, with the Sun up and behind the skyline: "
            f"{date_ranges(dates[shade])}"
        )
    else:
        parts.append("on no day in shade, with the Sun up and behind the skyline")
    if before.any():
        parts.append(f"before the Sun is up on {days_text(int(before.sum()))}")
    waits = sunlight.sun_after_opening
    if not np.isnat(waits).all():
        parts.append(f"direct sun follows the {word} by {_spread(sunlight, waits)}")
    return "; ".join(parts)


def _length(duration: np.timedelta64) -> str:
    return duration_text(to_minutes(duration))


def _small(duration: np.timedelta64) -> str:
    return f"{duration / MINUTE:.1f} min"


def _hours(duration: np.timedelta64) -> int:
    return round(duration / np.timedelta64(1, "h"))


def doubt_text(more: np.timedelta64, *, is_file: bool) -> str:
    """Return what is said where azimuths may be counted from south.

    Parameters
    ----------
    more
        How much more sun there would be.
    is_file
        Whether it stands in a file of its own.
    """
    where = "the file's azimuths" if is_file else "the azimuths"
    return (
        f"it hides much more of the Sun than if {where} were counted from south (then there would "
        f"be {_hours(more)} h more sun). Azimuths are clockwise from true north: add 180 to each "
        "if south is 0 in yours; if the hills do stand there, leave them"
    )
