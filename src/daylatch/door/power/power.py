"""Whether a panel and a battery carry a door through its dates: all that is known of it.

The lower end of the light is what everything is reckoned by; the upper end stands beside.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import DAY
from daylatch.door.power.battery import TINY_WH, run, sunless_days
from daylatch.door.power.light.sun_year import DAYS, LEAP_ROW, rows_of
from daylatch.door.power.sizing import (
    Season,
    Sizing,
    ample_pair,
    least_alone,
    least_battery,
    least_from_full,
    least_panel,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Numbers, Times
    from daylatch.door.power.battery import Course, Store
    from daylatch.door.power.demand import Demand
    from daylatch.door.power.light.on_panel import Light, Stand
    from daylatch.plan.due import Due
    from daylatch.site.battery import Battery
    from daylatch.site.tables import Site

    Floats = NDArray[np.float64]

_PLAINLY = 0.03
"""By which share of full a charge must be lower after a year to be told (this program's choice, no
source)."""


class Seen(NamedTuple):
    """Voltages of the battery as the diary has them.

    Attributes
    ----------
    instant_utc : datetime64[s]
        When.
    volts : float64
        What.
    """

    instant_utc: Times
    volts: Floats


@dataclass(frozen=True, eq=False)
class Power:
    """How a door's battery fares; arrays have an element a date of the plan.

    Attributes
    ----------
    due : Due
        When the door moves.
    battery : Battery
        As the site file has it.
    store : Store
        The same, as it is reckoned with.
    demand : Demand
        What the door draws.
    light : Light or None
        What a panel would get; None if it is not known how one stands.
    stand : Stand or None
        How it stands.
    watts : float or None
        The panel's; None without one.
    ahead_wanted : float64
        What the door wants [Wh], for `MOST_SUNLESS_DAYS` more days.
    year_temperature_c : float64
        How warm the battery is on each day of a year.
    seen : Seen
        Voltages from the diary.
    """

    due: Due
    battery: Battery
    store: Store
    demand: Demand
    light: Light | None
    stand: Stand | None
    watts: float | None
    ahead_wanted: Floats
    year_temperature_c: Floats
    seen: Seen

    @property
    def site(self) -> Site:
        """Whose door it is."""
        return self.due.plan.site

    @property
    def dates(self) -> Times:
        """The dates."""
        return self.due.plan.dates

    @cached_property
    def rows(self) -> Numbers:
        """Where each date stands in a year's light."""
        return rows_of(self.dates)

    @property
    def wanted(self) -> Floats:
        """What the door wants on each date [Wh]."""
        return self.ahead_wanted[: len(self.dates)]

    @property
    def temperature_c(self) -> Floats:
        """How warm the battery is on each date."""
        return self.year_temperature_c[self.rows]

    @cached_property
    def ahead_floor(self) -> Floats:
        """Under which charge the door stops [Wh], for the dates and the days ahead."""
        days = self.dates[-1] + DAY * np.arange(1, len(self.ahead_wanted) - len(self.dates) + 1)
        rows = np.append(self.rows, rows_of(days))
        return self.store.floor_wh(self.year_temperature_c[rows])

    @property
    def floor(self) -> Floats:
        """Under which charge the door stops on each date [Wh]."""
        return self.ahead_floor[: len(self.dates)]

    @property
    def per_watt(self) -> Floats:
        """What each watt of a panel brings to the battery on each date [Wh], before it takes it."""
        return self.year_per_watt[self.rows]

    @cached_property
    def year_per_watt(self) -> Floats:
        """The same on each day of a year."""
        return self._per_watt(None if self.light is None else self.light.low)

    def _per_watt(self, plane: Floats | None) -> Floats:
        """Return the same by some light of a year."""
        panel = self.site.settings.panel
        if plane is None or self.light is None or panel is None:
            return np.zeros(DAYS)
        # A rated watt is one under 1 kW/m², so kWh/m² are hours of it.
        brought = plane * panel.performance
        if self.battery.facts.charges_in_frost:
            return brought
        if self.light.warm_share is not None and self.battery.temperature_c is None:
            return np.asarray(brought * self.light.warm_share)
        return np.where(self.year_temperature_c < 0, 0.0, brought)

    @cached_property
    def frozen(self) -> Flags:
        """On which dates there is light, and the battery must not be charged by any of it."""
        light = self.light
        if light is None or self.battery.facts.charges_in_frost:
            return np.zeros(len(self.dates), np.bool_)
        cold = self.year_temperature_c < 0
        if light.warm_share is not None and self.battery.temperature_c is None:
            cold = light.warm_share == 0
        return np.asarray((cold & (light.low > 0))[self.rows])

    @property
    def brought(self) -> Floats:
        """What the panel brings to the battery on each date [Wh]."""
        return self.per_watt * (self.watts or 0.0)

    @cached_property
    def course(self) -> Course:
        """How the battery fares, at the lower end of the light."""
        return self._course(self.brought)

    @cached_property
    def high_course(self) -> Course | None:
        """How it fares at the upper end; None if that is the lower end too."""
        if self.watts is None or self.light is None or not self.light.has_range:
            return None
        return self._course(self._per_watt(self.light.high)[self.rows] * self.watts)

    def _course(self, brought: Floats) -> Course:
        start = self.battery.starts * self.store.full_wh
        return run(self.store, start, brought, self.wanted, self.floor)

    @property
    def is_full_daily(self) -> bool:
        """Whether every day's light fills the battery."""
        return self._fills_daily(self.course)

    @property
    def is_full_daily_at_best(self) -> bool:
        """Whether it would at the upper end of the light."""
        return self.high_course is not None and self._fills_daily(self.high_course)

    def _fills_daily(self, course: Course) -> bool:
        filled = course.charge_wh + course.drawn_wh
        return bool((filled >= self.store.full_wh - TINY_WH).all())

    @cached_property
    def lowest(self) -> int:
        """The row with the lowest charge, the first of them."""
        return int(np.argmin(self.course.charge_wh))

    @cached_property
    def lasts_days(self) -> Numbers:
        """For how many days without any sun it lasts from each evening."""
        return sunless_days(
            self.store, self.course.charge_wh, self.ahead_wanted[1:], self.ahead_floor[1:]
        )

    @property
    def days_without_sun(self) -> int:
        """For how many it lasts from the worst evening."""
        return int(self.lasts_days.min())

    @property
    def stops(self) -> Flags:
        """On which dates the door does not get all that it wants."""
        return ~self.course.works

    @cached_property
    def until(self) -> np.datetime64 | None:
        """The last date to which a battery lasts that nothing charges; None if that is too far."""
        start = np.array([self.battery.starts * self.store.full_wh])
        most = len(self.ahead_wanted)
        lasts = int(sunless_days(self.store, start, self.ahead_wanted, self.ahead_floor, most)[0])
        return None if lasts == most else self.dates[0] + (lasts - 1) * DAY

    @cached_property
    def season(self) -> Season:
        """What sizes are tried by: a leap year of light, and a door that is shut on no day."""
        rows = np.insert(np.arange(DAYS), LEAP_ROW, LEAP_ROW - 1)
        return Season(self.year_per_watt[rows], self.demand.most_wh, self.year_temperature_c[rows])

    @cached_property
    def sizing(self) -> Sizing:
        """What would do."""
        season, store, reserve = self.season, self.store, self.battery.reserve_days
        # By a cloudless sky any size is too small.
        is_known = self.light is not None and not self.light.is_bound and store.kept > 0
        battery = None
        if self.watts is not None and is_known:
            battery = least_battery(season, store, self.watts, reserve)
        low, high = (None, None) if battery is None else battery
        alone = None
        if self.watts is None:
            alone = least_alone(self.wanted, self.temperature_c, self.battery.starts, store)
        return Sizing(
            battery_wh=low,
            battery_most_wh=high,
            panel_w=least_panel(season, store, reserve) if is_known else None,
            pair=ample_pair(season, store, reserve) if is_known else None,
            from_full_wh=least_from_full(season, store, reserve),
            alone_wh=alone,
        )

    @property
    def brings_too_little(self) -> bool:
        """Whether a year's light brings less than the door wants, whatever the battery."""
        brought = float(self.year_per_watt.mean()) * (self.watts or 0.0) * self.store.kept
        return brought < self.demand.most_wh

    @cached_property
    def runs_down(self) -> bool:
        """Whether after a year with a panel another like it would end plainly lower."""
        if self.watts is None or len(self.dates) < DAYS:
            return False
        last = slice(-DAYS, None)
        end = float(self.course.charge_wh[-1])
        more = run(self.store, end, self.brought[last], self.wanted[last], self.floor[last])
        return bool(more.charge_wh[-1] < end - _PLAINLY * self.store.full_wh)

    @cached_property
    def months(self) -> list[tuple[np.datetime64, Flags]]:
        """The calendar months, each with its dates."""
        of = self.dates.astype("datetime64[M]")
        firsts = of[np.append(True, of[1:] != of[:-1])]
        return [(month, of == month) for month in firsts]
