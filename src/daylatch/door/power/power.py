"""Whether a panel and a battery carry a door through its dates: all that is known of it.

The lower end of the light is what everything is reckoned by; the upper end stands beside.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import DAY
from daylatch.door.power.battery import run, sunless_days
from daylatch.door.power.sizing import (
    Season,
    Sizing,
    ample_pair,
    least_alone,
    least_battery,
    least_from_full,
    least_panel,
)
from daylatch.door.power.sun_year import rows_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Numbers, Times
    from daylatch.door.power.battery import Course, Store
    from daylatch.door.power.demand import Demand
    from daylatch.door.power.light import Light, Stand
    from daylatch.plan.due import Due
    from daylatch.site.battery import Battery
    from daylatch.site.tables import Site

    Floats = NDArray[np.float64]

_TINY_WH = 1e-6


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
    ahead_wanted, ahead_temperature_c : float64
        What the door wants [Wh] and how warm the battery is, for `MOST_SUNLESS_DAYS` more days.
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
    ahead_temperature_c: Floats
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
        return self.ahead_temperature_c[: len(self.dates)]

    @cached_property
    def ahead_floor(self) -> Floats:
        """Under which charge the door stops [Wh], for the dates and the days ahead."""
        return self.store.floor_wh(self.ahead_temperature_c)

    @property
    def floor(self) -> Floats:
        """Under which charge the door stops on each date [Wh]."""
        return self.ahead_floor[: len(self.dates)]

    @cached_property
    def per_watt(self) -> Floats:
        """What each watt of a panel brings to the battery [Wh], before it takes it."""
        return self._per_watt(None if self.light is None else self.light.low)

    def _per_watt(self, plane: Floats | None) -> Floats:
        panel = self.site.settings.panel
        if plane is None or self.light is None or panel is None:
            return np.zeros(len(self.dates))
        # A rated watt is one under 1 kW/m², so kWh/m² are hours of it.
        brought = plane * panel.performance
        if self.battery.facts.charges_in_frost:
            return brought[self.rows]
        if self.light.warm_share is not None and self.battery.temperature_c is None:
            brought = brought * self.light.warm_share
            return brought[self.rows]
        return np.where(self.temperature_c < 0, 0.0, brought[self.rows])

    @cached_property
    def frozen(self) -> Flags:
        """On which dates the panel brings nothing, since the battery must not be charged."""
        if self.light is None:
            return np.zeros(len(self.dates), np.bool_)
        none: Flags = (self.per_watt == 0) & (self.light.low[self.rows] > 0)
        return none

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
        return self._course(self._per_watt(self.light.high) * self.watts)

    def _course(self, brought: Floats) -> Course:
        start = self.battery.starts * self.store.full_wh
        return run(self.store, start, brought, self.wanted, self.floor)

    @cached_property
    def is_full_daily(self) -> bool:
        """Whether every day's light fills the battery."""
        filled = self.course.charge_wh + self.course.drawn_wh
        return bool((filled >= self.store.full_wh - _TINY_WH).all())

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
        """What sizes are tried by."""
        return Season(
            len(self.dates),
            self.per_watt,
            self.ahead_wanted,
            self.ahead_temperature_c,
            self.battery.starts,
        )

    @cached_property
    def sizing(self) -> Sizing:
        """What would do."""
        season, store, reserve = self.season, self.store, self.battery.reserve_days
        can_charge = self.light is not None and store.kept > 0
        return Sizing(
            None if self.watts is None else least_battery(season, store, self.watts, reserve),
            least_panel(season, store, reserve) if can_charge else None,
            least_from_full(season, store, reserve),
            ample_pair(season, store, reserve) if can_charge else None,
            least_alone(season, store) if self.watts is None else None,
        )

    @cached_property
    def months(self) -> list[tuple[np.datetime64, Flags]]:
        """The calendar months, each with its dates."""
        of = self.dates.astype("datetime64[M]")
        firsts = of[np.append(True, of[1:] != of[:-1])]
        return [(month, of == month) for month in firsts]
