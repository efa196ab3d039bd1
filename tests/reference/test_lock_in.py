"""Lock-ins and their waking part against skyfield's own search of risings and settings.

Source: skyfield 1.55, `almanac.find_risings` and `find_settings` with a horizon of -6 degrees, from
the JPL ephemeris DE421, on the UT1 scale. The door times are the plan's; what is checked is how
much of each lock-in has the Sun above civil depression, and day by day how much of the flock day.
"""

import datetime as dt

import numpy as np
import pytest

from daylatch.birds.nights.nights import make_nights
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from reference.jpl_sun import crossings
from sites import Spot, site

# Measured: 0.010, 0.007 and 0.086 s; the last on the grazing days beside the white nights.
TOLERANCE_S = {52.0: 0.05, -36.9: 0.05, 64.0: 0.2}


@pytest.mark.parametrize(
    ("spot", "text"),
    [
        (Spot(52.0, 5.0, "Europe/Amsterdam"), '[open]\nnot_before = "07:00"\n'),
        (Spot(-36.9, 149.9, "Australia/Sydney"), '[open]\nlight = "sunrise"\noffset_min = 30\n'),
        (
            Spot(64.0, 24.0, "Europe/Helsinki"),
            '[open]\nfallback = "06:00"\n[close]\nfallback = "21:00"\n',
        ),
    ],
    ids=lambda value: f"{value.latitude:g}" if isinstance(value, Spot) else "",
)
def test_the_waking_part_is_that_between_skyfields_dawn_and_dusk(spot, text):
    plan = make_plan(site(spot, text), dt.date(2027, 1, 1), dt.date(2027, 12, 31))
    found = make_nights(exactly(plan))
    rising, setting = crossings(spot.latitude, spot.longitude, "2026-12-30", "2028-01-03", -6.0)
    # Stretches of light: from each rising to the setting that follows it, in one list of edges.
    edges = np.concatenate([rising, setting])
    steps = np.repeat([1, -1], [len(rising), len(setting)])
    order = np.argsort(edges)
    edges, steps = edges[order], steps[order]
    assert (np.abs(np.diff(steps)) == 2).all(), "risings and settings take turns"

    def light_before(instants):
        """Return the light before instants, from the first edge on."""
        instants = instants.astype("datetime64[us]")
        up = steps[:-1] == 1
        lengths = np.where(up, np.diff(edges), np.timedelta64(0, "us"))
        sums = np.concatenate([[np.timedelta64(0, "us")], np.cumsum(lengths)])
        index = np.searchsorted(edges, instants, side="right") - 1
        rest = np.where(steps[index] == 1, instants - edges[index], np.timedelta64(0, "us"))
        return sums[index] + rest

    expected = light_before(found.end_utc) - light_before(found.start_utc)
    error_s = np.abs(found.waking - expected) / np.timedelta64(1, "s")
    assert len(found) == 365
    assert found.waking.max() > np.timedelta64(30, "m")
    assert error_s.max() <= TOLERANCE_S[spot.latitude]
