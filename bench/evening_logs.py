"""Simulated logs of flocks that go in, for the bench of what is learned from them.

None is real. The first truth: birds start in at one illuminance, that of a clear sky with the Sun
4° below the horizon; clouds divide the light by 1, 2, 3 or 10 (the divisors of US Naval Observatory
Circular 171, by way of the skylight package's documentation) with probabilities .40, .25, .25 and
.10; settling takes 6 +- 3 min (gamma); 3 % of evenings have a straggler 15 to 45 min later; the log
is to 5 min and lacks 15 % of days. Probabilities and minutes are assumed, without a source. The
second truth drifts brighter by 1.2° over the season, has two flocks in one house whose lights
differ by 1.5°, and a log to 10 min; nothing was chosen by it.

Illuminance by the Sun's altitude: the fit that E. Ofek's sunlight.m has (1999), put down to
Seidelmann, Explanatory Supplement (1992), from memory; within .02 of its logarithm.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.sun.crossings import sun_crossings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

START_DEPRESSION_DEG = 4.0
DIVISORS = np.array([1.0, 2.0, 3.0, 10.0])
LIKELY = np.array([0.40, 0.25, 0.25, 0.10])
STRAGGLERS = 0.03
MISSING = 0.15
_FIT = (
    (-90.0, (2.70, 12.17, -431.69, -1899.83)),
    (-5.0, (2.88, 21.81, -258.11, -858.36)),
    (-0.8, (2.88, 22.26, -207.64, 1034.30)),
)
_GRID_DEG = np.linspace(-9.0, 5.0, 14_001)
_MINUTE_US = 60_000_000


def log_lux(altitude_deg: Floats) -> Floats:
    """Return the logarithm of the illuminance of a clear sky, for altitudes from -12 to 5."""
    x = altitude_deg / 90.0
    out = np.zeros_like(x)
    for above, factors in _FIT:
        out = np.where(altitude_deg > above, np.polyval(factors[::-1], x), out)
    return out


def depressions(start_deg: float) -> Floats:
    """Return the depression at which each sky has the light that a clear one has at another."""
    wanted = log_lux(np.array([-start_deg])) + np.log10(DIVISORS)
    return -np.interp(wanted, log_lux(_GRID_DEG), _GRID_DEG)


class Manner(NamedTuple):
    """How a flock and its keeper are."""

    step_min: float = 5.0
    hour_off: float = 0.0
    trend_deg: float = 0.0
    second_flock_deg: float = 0.0
    strays: float = STRAGGLERS


PLAIN = Manner()
SECOND = Manner(step_min=10.0, trend_deg=-1.2, second_flock_deg=-1.5)


@dataclass(frozen=True, eq=False)
class Evenings:
    """A log: the days, when the last bird really was in, and when the log says so [min, UTC]."""

    solar_days: NDArray[np.datetime64]
    true_min: Floats
    logged_min: Floats

    @property
    def logged_utc(self) -> NDArray[np.datetime64]:
        return (self.logged_min * 60).round().astype(np.int64).astype("datetime64[s]")


@dataclass(frozen=True, eq=False)
class Flock:
    """A flock at a place, over so many days that a log of its evenings can be drawn of them."""

    latitude_deg: float
    first: str
    evenings: int
    manner: Manner = PLAIN
    solar_days: NDArray[np.datetime64] = field(init=False)
    _starts: list[Floats] = field(init=False)

    def __post_init__(self) -> None:
        # So that a tenth more than the usual gaps still leaves enough.
        days = int(self.evenings / (1 - MISSING) * 1.1) + 12
        object.__setattr__(self, "solar_days", np.datetime64(self.first) + np.arange(days))
        flocks = [0.0] if not self.manner.second_flock_deg else [0.0, self.manner.second_flock_deg]
        starts = []
        for other in flocks:
            trend = self.manner.trend_deg * np.arange(days) / days
            deg = np.stack([depressions(START_DEPRESSION_DEG + other + one) for one in trend])
            setting = sun_crossings(self.latitude_deg, 0.0, self.solar_days[:, None], -deg).setting
            starts.append(setting.astype(np.int64) / _MINUTE_US)
        object.__setattr__(self, "_starts", starts)

    def draw(self, random: np.random.Generator, evenings: int | None = None) -> Evenings:
        """Return a log of the wanted number of evenings, or of all days."""
        if evenings is None:
            rows = np.arange(len(self.solar_days))
        else:
            kept = random.random(len(self.solar_days)) >= MISSING
            rows = np.flatnonzero(kept)[:evenings]
            assert len(rows) == evenings
        sky = random.choice(len(DIVISORS), len(rows), p=LIKELY)
        late = [start[rows, sky] + random.gamma(4.0, 1.5, len(rows)) for start in self._starts]
        true = np.max(late, axis=0)
        strays = random.random(len(rows)) < self.manner.strays
        true = true + np.where(strays, random.uniform(15.0, 45.0, len(rows)), 0.0)
        off = random.random(len(rows)) < self.manner.hour_off
        logged = true + np.where(off, random.choice([-60.0, 60.0], len(rows)), 0.0)
        step = self.manner.step_min
        return Evenings(self.solar_days[rows], true, np.round(logged / step) * step)
