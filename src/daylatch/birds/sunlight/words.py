"""What is said of direct sun in several forms."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from daylatch.arrays import MINUTE
from daylatch.sun.lights import light_words
from daylatch.wording import date_ranges, days_text, duration_text, to_minutes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.birds.sunlight.dusk import Dusk
    from daylatch.birds.sunlight.sunlight import SunlessRun, Sunlight
    from daylatch.sun.skyline import Skyline

HOW = (
    "Direct sun: the Sun's centre at or above the skyline, as geometry has it. Cloud is not in it, "
    "and the air lifts a low Sun by up to half a degree, which shows it a few minutes longer. No "
    "time of the door is moved by any of it."
)
"""How direct sun is meant."""
_MOST_RUNS = 4
_ZERO = np.timedelta64(0, "us")


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
    length, dates = sunlight.length, sunlight.plan.dates
    if not sunlight.sunless.all():
        most = int(np.argmax(length))
        yield "Most sun", f"{_length(length[most])} on {dates[most]}"
        if not sunlight.sunless.any():
            least = int(np.argmin(length))
            yield "Least sun", f"{_length(length[least])} on {dates[least]}"
        whole, daylight = _hours(length.sum()), _hours(sunlight.daylight.length.sum())
        part = length.sum() / sunlight.daylight.length.sum()
        yield (
            "In all",
            f"{whole} h of direct sun, {part:.0%} of the {daylight} h from sunrise to sunset",
        )
        yield from _sides(sunlight)
        yield from _gaps(sunlight)
    yield "The door opens", _opening(sunlight)
    yield "Hills at dusk", dusk_text(sunlight, dusk)


def dusk_text(sunlight: Sunlight, dusk: Dusk | None) -> str:
    """Return what the skyline takes from the light of dusk, with its source and its limit."""
    light = sunlight.plan.site.settings.close.light
    if dusk is None:
        return (
            f"not reckoned for this light ({light_words(light)}): only for the twilights, on "
            "evenings that have it"
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


def _run(sunlight: Sunlight, run: SunlessRun) -> str:
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
    """Yield how long after sunrise direct sun comes, and how long before sunset it leaves."""
    for label, gaps, words in (
        ("After sunrise", sunlight.after_sunrise, ("comes", "after")),
        ("Before sunset", sunlight.before_sunset, ("leaves", "before")),
    ):
        some = np.flatnonzero(~np.isnat(gaps))
        if not some.size:
            continue
        most = some[np.argmax(gaps[some])]
        median = np.median(gaps[some].astype(np.int64)).astype("timedelta64[us]")
        verb, side = words
        yield (
            label,
            f"direct sun {verb} {_about(median)} {side} that of a flat horizon on half of the "
            f"days, at most {_about(gaps[most])} (on {sunlight.plan.dates[most]})",
        )


def _gaps(sunlight: Sunlight) -> Iterator[tuple[str, str]]:
    """Yield on which days the Sun goes behind something and comes again."""
    counts = np.bincount(sunlight.rows, minlength=len(sunlight.plan))
    often = counts > 1
    if often.any():
        most = int(np.argmax(counts))
        yield (
            "Comes and goes",
            f"on {days_text(int(often.sum()))}, up to {counts[most]} times a day (on "
            f"{sunlight.plan.dates[most]})",
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
        parts.append(f"before sunrise on {days_text(int(before.sum()))}")
    waits = sunlight.sun_after_opening
    some = np.flatnonzero(~np.isnat(waits))
    if some.size:
        most = some[np.argmax(waits[some])]
        median = np.median(waits[some].astype(np.int64)).astype("timedelta64[us]")
        parts.append(
            f"direct sun follows {_length(median)} after the {word} on half of the days that have "
            f"any, at most {_length(waits[most])} (on {dates[most]})"
        )
    return "; ".join(parts)


def _length(duration: np.timedelta64) -> str:
    return duration_text(to_minutes(duration))


def _about(duration: np.timedelta64) -> str:
    """Return a gap as a duration; over a horizon below the horizontal it is less than none."""
    return f"-{_length(-duration)}" if duration < -MINUTE else _length(max(duration, _ZERO))


def _small(duration: np.timedelta64) -> str:
    return f"{duration / MINUTE:.1f} min"


def _hours(duration: np.timedelta64) -> int:
    return round(duration / np.timedelta64(1, "h"))


def doubt_text(more: np.timedelta64, skyline: Skyline, *, is_file: bool) -> str:
    """Return what is said where azimuths may be counted from south.

    Parameters
    ----------
    more
        How much more sun there would be.
    skyline
        As it is given.
    is_file
        Whether it stands in a file of its own.
    """
    high = skyline.azimuth_deg[int(np.argmax(skyline.elevation_deg))]
    where = "the file's azimuths" if is_file else "the azimuths"
    return (
        f"it is highest at azimuth {high:g}, where the Sun passes, and hides more of it than if "
        f"{where} were counted from south (then there would be {_hours(more)} h more sun). "
        "Azimuths are clockwise from true north: add 180 to each if south is 0 in yours; if the "
        "hill does stand there, leave them"
    )
