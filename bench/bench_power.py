"""How good the power is that is reckoned for a door, beside measured light.

Run by ``make bench``. The typical year of 45 N 8 E (PVGIS (c) European Union, 2001-2025), hour by
hour, is what light by month is held against: `tests/door/power` shows that our hours on a plane are
those of pvlib. Months of Copenhagen in 2020 (CAMS Radiation Service), whose diffuse part was
measured, are the dull winter. Both stand in `tests/door/power/data` with their licences.
"""

from __future__ import annotations

import datetime as dt
import statistics
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from daylatch.door.power import text
from daylatch.door.power.battery import Store, sunless_days
from daylatch.door.power.light.light_file import MonthlyLight, read_light
from daylatch.door.power.light.on_panel import (
    Stand,
    clearness_of,
    from_hours,
    from_level,
    from_months,
)
from daylatch.door.power.light.plane import Plane
from daylatch.door.power.light.split import erbs_monthly
from daylatch.door.power.light.sun_year import MONTH_OF_DAY, month_means
from daylatch.door.power.make import make_power, stand_of
from daylatch.door.power.sizing import handbook_wh
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

ROOT = Path(__file__).resolve().parent.parent
DATA = ROOT / "tests/door/power/data"
GOAL = 0.10
TILTS = (30, 60, 90)
DULL_DAYS = (3, 5, 7, 10)
REPEATS = 9
MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def stand(tilt: float, latitude_deg: float, longitude_deg: float) -> Stand:
    return Stand.at(latitude_deg, longitude_deg, Plane(tilt, 180.0, 0.2), None)


def typical_year() -> bool:
    """Print light by month over light by hours; return whether the goal is met."""
    year = read_light((DATA / "typical_year_45N_8E.csv").read_text(), 60, 180)
    assert not isinstance(year, MonthlyLight)
    level = month_means(from_hours(stand(0, 45, 8), year).low)
    print("Typical year, 45 N 8 E: light by month on the level, turned onto a plane that faces")
    print("south, over the same plane hour by hour")
    print(f"{'':16}{'  '.join(MONTHS)}")
    met = True
    for tilt in TILTS:
        place = stand(tilt, 45, 8)
        hours = month_means(from_hours(place, year).low)
        light = from_level(place, level)
        for name, end in (("lower", light.low), ("upper", light.high)):
            ratio = month_means(end) / hours
            cells = " ".join(f"{value:.2f}" for value in ratio)
            within = bool((np.abs(ratio - 1) <= GOAL).all())
            goal = ""
            if name == "upper" and tilt >= 60:
                goal = f"  (goal +-10 %: {'met' if within else 'MISSED'})"
                met &= within
            print(f"tilt {tilt:2d}, {name}  {cells}{goal}")
    upright = from_hours(stand(60, 45, 8), year).low
    dullest = [worst_days(upright, days) for days in DULL_DAYS]
    words = ", ".join(
        f"{days} days {ratio:.2f}" for days, ratio in zip(DULL_DAYS, dullest, strict=True)
    )
    print(f"its worst days in a row at tilt 60 (gaps left out), over their months' means: {words}")
    return met


def worst_days(light: Floats, days: int) -> float:
    """Return the least that so many days in a row had, over the mean of their months."""
    usual = month_means(light)[MONTH_OF_DAY]
    # Days without any light at all are a gap in the file.
    light = np.where(light > 0, light, usual)
    ring = np.concatenate([light, light[: days - 1]])
    rows = np.concatenate([usual, usual[: days - 1]])
    one = np.convolve(ring, np.ones(days), "valid") / np.convolve(rows, np.ones(days), "valid")
    return float(one.min())


def dull_winter() -> None:
    """Print both ends over what the measured diffuse part makes of Copenhagen's months."""
    rows = [
        line.split(";")
        for line in (DATA / "copenhagen_months_2020.csv").read_text().splitlines()
        if line[:1].isdigit()
    ]
    days, rest = np.array([31, 29, 31, 30]), np.full(8, 3.0)
    level = np.append(np.array([float(row[6]) for row in rows]) / 1000 / days, rest)
    share = np.append([float(row[8]) / float(row[6]) for row in rows], np.full(8, 0.5))
    print("\nCopenhagen, January to April 2020: measured light on the level, and over the plane")
    print("with the measured diffuse part")
    for tilt in TILTS:
        place = stand(tilt, 55.7906, 12.5251)
        known = MonthlyLight(level, share, None, None, None)
        true = month_means(from_months(place, known).low)[:4]
        light = from_level(place, level)
        for name, end in (("lower", light.low), ("upper", light.high)):
            cells = " ".join(f"{value:.2f}" for value in month_means(end)[:4] / true)
            print(f"tilt {tilt:2d}, {name}  {cells}")
    clearness = clearness_of(place.sun, level)[:4]
    found = erbs_monthly(clearness, place.sun.sunset_deg[:4])
    for words, values in (
        ("clearness", clearness),
        ("diffuse, monthly split", found),
        ("measured", share[:4]),
    ):
        print(f"{words:24}{' '.join(f'{value:.2f}' for value in values)}")


def batteries() -> bool:
    """Print known sizings; return whether they come out."""
    store = Store(84, 1.0, 0.03, 0.2)
    floor = store.floor_wh(np.full(400, 25.0))
    lasts = int(sunless_days(store, np.array([84.0]), np.full(400, 0.42), floor)[0])
    handbook = handbook_wh(1000, 2.5, 0.5, 4.4)
    met = lasts == 143 and round(handbook) == 6500
    print(f"\n84 Wh, 0.42 Wh a day, 3 % a month, stops under 20 %: {lasts} days without sun (143)")
    print(f"1000 Wh a day, 2.5 days, half of it, 4.4 C, by the handbook: {handbook:.0f} Wh (6500)")
    return met


def speed() -> bool:
    """Print what power takes beside the plan of its year; return whether that is under 0.5 s."""
    site = load_site(ROOT / "schedules/sallow-end.toml")
    dates = dt.date(2027, 1, 1), dt.date(2027, 12, 31)
    plan_s = _median(lambda: make_plan(site, *dates))
    due = exactly(make_plan(site, *dates))
    power_s = _median(lambda: text.render(make_power(due, stand_of(due.plan.site))))
    met = power_s < 0.5
    print(
        f"\npower of a year, as text: {1000 * power_s:.0f} ms, {power_s / plan_s:.2f} of its plan "
        f"(goal under 500 ms: {'met' if met else 'MISSED'})"
    )
    return met


def _median(work: Callable[[], object]) -> float:
    taken = []
    for _ in range(REPEATS):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return statistics.median(taken)


def main() -> None:
    met = typical_year()
    dull_winter()
    met &= batteries()
    met &= speed()
    if not met:
        sys.exit("a goal is missed")


if __name__ == "__main__":
    main()
