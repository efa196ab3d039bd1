"""What a year takes as a controller table, beside other codings and the goals.

Run by ``make bench``. Civil dawn to civil dusk with no offset and no limits, on a clock at a fixed
distance from UTC, one common year. The trial's figures are those that were measured before the
format was made, for its two streams alone; ours are given both so and for the whole file. What the
trial did on days without the light is not known; here a fallback stands there.
"""

from __future__ import annotations

import datetime as dt
import lzma
import resource
import sys
import time
import zlib
from typing import TYPE_CHECKING

import numpy as np

from daylatch.door.table.decode import decode
from daylatch.door.table.encode import encode
from daylatch.door.table.format import LARGEST_BYTES
from daylatch.errors import PlanError
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import read_site

if TYPE_CHECKING:
    from daylatch.plan.plan import Plan

YEAR = 2027
# Latitude: payload of the trial for a width of 0, 1 and 2 minutes.
TRIAL = {
    0: (63, 38, 34),
    35: (77, 43, 39),
    52: (89, 52, 43),
    60: (110, 59, 51),
    65: (141, 92, 80),
    69: (154, 95, 82),
}
# Which latitudes, which width, and the most bytes of a whole file that are hoped for.
GOALS = (
    ("52 deg", (52,), 0, 112),
    ("52 deg", (52,), 1, 72),
    ("-60 to 60 deg", (-60, -55, -45, -30, -15, 15, 30, 45, 55, 58, 60), 0, 130),
    ("65 to 69 deg", (65, 66, 67, 68, 69), 0, 176),
)
LONGITUDES = (-130, -67, 0, 5, 83)
GOAL_S = 3.0
# Minutes late, at 52 degrees.
WIDE = (15, 30, 60, 120, 255)
WIDE_GOAL_S = 10.0
WIDE_GOAL_MB = 200


def solar_plan(latitude: float, longitude: float, fallbacks: tuple[str, str]) -> Plan:
    """Return a year from civil dawn to civil dusk; the fallbacks stand where there is none."""
    opening, closing = fallbacks
    # The zones of whole hours are named by their sign reversed: Etc/GMT-1 is an hour ahead of UTC.
    behind = -round(longitude / 15)
    zone = f"Etc/GMT{behind:+d}" if behind else "UTC"
    site = read_site(
        'id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"\nname = "Bench (demo)"\n'
        f'[place]\nlatitude = {latitude}\nlongitude = {longitude}\nzone = "{zone}"\n'
        f"[open]\noffset_min = 0\n{opening}[close]\noffset_min = 0\n{closing}",
        "bench.toml",
    )
    return make_plan(site, dt.date(YEAR, 1, 1), dt.date(YEAR, 12, 31))


def year_of(latitude: float, longitude: float) -> Plan:
    try:
        return solar_plan(latitude, longitude, ("", ""))
    except PlanError:
        return solar_plan(latitude, longitude, ('fallback = "05:30"\n', 'fallback = "22:30"\n'))


def squeezed(plan: Plan) -> tuple[int, int]:
    """Return the bytes that deflate and LZMA need for the same minutes' differences, bare."""
    content = b""
    for instants in (plan.open_utc, plan.close_utc):
        minutes = (plan.on_door(instants).wall - plan.dates) // np.timedelta64(1, "m")
        steps = np.diff(minutes.astype(np.int64))
        content += int(minutes[0].astype(np.int64)).to_bytes(2, "little", signed=True)
        narrow = np.abs(steps).max() <= 127
        content += steps.astype("<i1" if narrow else "<i2").tobytes()
    packer = zlib.compressobj(9, zlib.DEFLATED, -15, 9)
    deflated = packer.compress(content) + packer.flush()
    chain = [{"id": lzma.FILTER_LZMA1, "preset": 9 | lzma.PRESET_EXTREME, "lc": 0, "pb": 0}]
    return len(deflated), len(lzma.compress(content, lzma.FORMAT_RAW, filters=chain))


def payload(content: bytes) -> int:
    table = decode(content)
    return table.opening_bytes + table.closing_bytes


def print_wide() -> None:
    print("\nwide tables at 52 deg; MB: the most that the process has had so far")
    plan, slowest, before = year_of(52, 0), 0.0, LARGEST_BYTES
    for width in WIDE:
        begun = time.process_time()
        length = len(encode(plan, within_min=width))
        took = time.process_time() - begun
        most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        larger = "" if length <= before else "  LARGER than a narrower one"
        slowest, before = max(slowest, took), length
        print(f"  within {width:3} min: {length:3} bytes, {took:4.1f} s, {most_mb:3.0f} MB{larger}")
    met = slowest < WIDE_GOAL_S and most_mb < WIDE_GOAL_MB
    print(f"  goal {WIDE_GOAL_S} s and {WIDE_GOAL_MB} MB: {'met' if met else 'NOT met'}")


def main() -> int:
    print("\na year as a controller table [bytes]; payload: both streams; s: processor time")
    print("  lat  width  payload  trial  file  deflate  LZMA     s")
    slowest, beaten = 0.0, True
    for latitude, trial in TRIAL.items():
        plan = year_of(latitude, 0)
        deflated, packed = squeezed(plan)
        for width, before in enumerate(trial):
            begun = time.process_time()
            content = encode(plan, within_min=width)
            took = time.process_time() - begun
            slowest = max(slowest, took)
            inside = payload(content)
            beaten &= inside < min(deflated, packed) and inside <= before
            print(
                f"  {latitude:3}  {width:5}  {inside:7}  {before:5}  {len(content):4}  "
                f"{deflated:7}  {packed:4}  {took:4.1f}"
            )
    print(f"  smaller than deflate and LZMA, and no larger than the trial: {beaten}")
    print(
        f"  slowest {slowest:.1f} s (goal {GOAL_S} s: {'met' if slowest < GOAL_S else 'NOT met'})"
    )
    print_wide()
    print("\nthe largest whole file over longitudes", *LONGITUDES)
    for name, latitudes, width, goal in GOALS:
        sizes = []
        for latitude in latitudes:
            for longitude in LONGITUDES:
                plan = year_of(latitude, longitude)
                content = encode(plan, within_min=width)
                sizes.append((len(content), latitude, longitude))
                if payload(content) >= min(squeezed(plan)):
                    print(f"  NOT smaller than deflate or LZMA at {latitude}, {longitude}")
        size, latitude, longitude = max(sizes)
        print(
            f"  {name:14} within {width} min: {size} at {latitude}, {longitude}"
            f"  (goal {goal}: {'met' if size <= goal else 'NOT met'})",
            flush=True,
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
