"""Random sites, of any place, zone and rules, as the text of their files; invented, by a seed."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from daylatch.clock import zone_at

if TYPE_CHECKING:
    import random

# Zones whose places and clocks are out of the way, with a place that fits.
ODD = (
    (-13.83, -171.77, "Pacific/Apia"),
    (1.87, -157.4, "Pacific/Kiritimati"),
    (-31.55, 159.08, "Australia/Lord_Howe"),
    (33.6, -7.6, "Africa/Casablanca"),
    (47.56, -52.71, "America/St_Johns"),
    (-72.01, 2.53, "Antarctica/Troll"),
)
GUARDS = ('"civil"', '"nautical"', "15")
WIDEN = ("both", "open earlier", "close later")
LENGTHEN = ("both", "close earlier", "open later")


def random_text(rng: random.Random, number: int) -> str:
    """Return the text of a site file; some contradict themselves or lack a fallback."""
    if rng.random() < 0.15:
        latitude, longitude, zone = rng.choice(ODD)
    else:
        latitude = rng.choice([rng.uniform(-90, 90), rng.uniform(60, 90), rng.uniform(-66, 66)])
        longitude = rng.uniform(-180, 180)
        zone = zone_at(latitude, longitude) or "UTC"
    lines = [
        f'id = "00000000-0000-4000-8000-{number:012d}"',
        f'name = "house {number}"',
        "[place]",
        f"latitude = {latitude!r}",
        f"longitude = {longitude!r}",
        f'zone = "{zone}"',
        "[open]",
        *_movement(rng, "", 6 * 60),
        "[close]",
        *_movement(rng, "", 21 * 60),
        "[day]",
        *_some(rng, 0.4, f"least_open_h = {rng.randint(1, 14)}"),
        *_some(rng, 0.4, f'widen = "{rng.choice(WIDEN)}"'),
        *_some(rng, 0.4, f"guard = {rng.choice(GUARDS)}"),
        "[night]",
        *_some(rng, 0.4, f"least_h = {rng.randint(4, 9)}"),
        *_some(rng, 0.4, f'lengthen = "{rng.choice(LENGTHEN)}"'),
    ]
    for _ in range(rng.choice([0, 0, 0, 1, 2])):
        first = dt.date(2027, 1, 1) + dt.timedelta(days=rng.randint(-10, 370))
        last = first + dt.timedelta(days=rng.randint(0, 60))
        lines += [
            "[[span]]",
            f"from = {first}",
            f"until = {last}",
            *_some(rng, 0.3, "shut = true"),
            *_movement(rng, "open.", 6 * 60),
            *_some(rng, 0.2, f"open.fixed = {_time(rng, 5 * 60, 8 * 60)}"),
            *_movement(rng, "close.", 21 * 60),
            *_some(rng, 0.3, f"night.least_h = {rng.randint(0, 9)}"),
        ]
    return "\n".join(lines)


def _some(rng: random.Random, share: float, line: str) -> list[str]:
    return [line] if rng.random() < share else []


def _time(rng: random.Random, low: int, high: int) -> str:
    minutes = rng.randint(low, high) % 1440
    return f'"{minutes // 60:02d}:{minutes % 60:02d}"'


def _movement(rng: random.Random, before: str, around: int) -> list[str]:
    light = rng.choice(['"civil"', '"nautical"', "4.5", "2", "9.25"])
    return [
        *_some(rng, 0.6, f"{before}light = {light}"),
        *_some(rng, 0.6, f"{before}offset_min = {rng.randint(-60, 60)}"),
        *_some(rng, 0.3, f"{before}not_before = {_time(rng, around - 90, around + 60)}"),
        *_some(rng, 0.3, f"{before}not_after = {_time(rng, around - 30, around + 200)}"),
        *_some(rng, 0.7, f"{before}fallback = {_time(rng, around - 60, around + 60)}"),
        *_some(rng, 0.3, f"{before}dark_fallback = {_time(rng, around, around + 120)}"),
    ]
