"""Which panel and which battery would do: found by trying sizes day by day.

A size does if the door works on every day, and if the battery would last the wanted days without
any sun from every evening. Where the dates are about a year, that year is taken to come again and
again, and the battery begins empty on its brightest day: none does that only lives on how full it
was at first.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.door.power.battery import run, sunless_days, usable_share

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from daylatch.door.power.battery import Store

    Floats = NDArray[np.float64]

_YEAR_DAYS = 360
"""From how many days on a range stands for a year."""
_HALVINGS = 20
_AMPLE = 1.5
"""How much larger than the smallest a battery of a pair is (this program's choice, no source)."""
_MOST_WH = 1e7
_MOST_W = 1e5
# Lead-acid batteries at temperatures [°C]: by how much a battery must be larger than at 26.7 °C, as
# a handbook of stand-alone systems has it (simplified IEEE 1013 method, as worked at
# batteries-solar.blogspot.com).
_HANDBOOK_C = (-6.7, -1.1, 4.4, 10.0, 15.6, 21.2, 26.7)
_HANDBOOK_TIMES = (1.59, 1.40, 1.30, 1.19, 1.11, 1.04, 1.00)


class Sizing(NamedTuple):
    """What would do.

    Attributes
    ----------
    battery_wh : float or None
        The smallest battery with the panel that is there; None if none does, or without a panel.
    panel_w : float or None
        The smallest panel with the battery that is there; None if none does, or it is not known how
        one would stand.
    from_full_wh : float
        The smallest battery that lasts the wanted days without sun if each day before fills it.
    pair : tuple of float or None
        Another battery, and the smallest panel with it [Wh, W]; None if neither does.
    alone_wh : float or None
        The smallest battery that lasts through the dates without a panel; None with one.
    """

    battery_wh: float | None
    panel_w: float | None
    from_full_wh: float
    pair: tuple[float, float] | None
    alone_wh: float | None


class Season(NamedTuple):
    """What comes to a battery and what the door wants, day by day, beyond the dates too.

    Attributes
    ----------
    days : int
        How many dates there are.
    per_watt : float64
        What each watt of a panel brings [Wh], an element a date; 0 without a panel.
    wanted : float64
        What the door wants [Wh], some days more than there are dates.
    temperature_c : float64
        Of the battery, for as many.
    starts : float
        How full it is at first.
    """

    days: int
    per_watt: Floats
    wanted: Floats
    temperature_c: Floats
    starts: float

    @property
    def is_year(self) -> bool:
        """Whether it stands for a year."""
        return self.days >= _YEAR_DAYS

    def does(self, store: Store, watts: float, reserve_days: int) -> bool:
        """Return whether a panel and a battery do; without a panel, through the dates once."""
        if self.is_year and watts:
            return self._does_for_ever(store, watts, reserve_days)
        days, floor = self.days, store.floor_wh(self.temperature_c)
        start = self.starts * store.full_wh
        brought = self.per_watt * watts
        return _holds(store, start, (brought, self.wanted, floor), 0, days, reserve_days)

    def _does_for_ever(self, store: Store, watts: float, reserve_days: int) -> bool:
        """Return the same of a year that comes again and again, from an empty battery on."""
        days = self.days
        # It begins on the brightest day; a year later the battery is as it is ever after.
        turn = -int(np.argmax(self.per_watt))
        floor = store.floor_wh(self.temperature_c)
        brought, wanted, floors = (
            np.tile(np.roll(values[:days], turn), 2 + -(-reserve_days // days))
            for values in (self.per_watt * watts, self.wanted, floor)
        )
        columns = (brought, wanted, floors)
        return _holds(store, float(floors[0]), columns, days, 2 * days, reserve_days)


def _holds(
    store: Store,
    start_wh: float,
    columns: tuple[Floats, Floats, Floats],
    begin: int,
    end: int,
    reserve_days: int,
) -> bool:
    """Return whether the door works on some days, and could go on from each without any sun."""
    brought, wanted, floor = columns
    course = run(store, start_wh, brought[:end], wanted[:end], floor[:end])
    if not course.works[begin:].all():
        return False
    charge = course.charge_wh[begin:]
    lasts = sunless_days(store, charge, wanted[begin + 1 :], floor[begin + 1 :], reserve_days)
    return bool((lasts >= reserve_days).all())


def least_battery(season: Season, store: Store, watts: float, reserve_days: int) -> float | None:
    """Return the smallest battery of a kind that does with a panel [Wh]; None if none does."""

    def does(full_wh: float) -> bool:
        return season.does(store._replace(full_wh=full_wh), watts, reserve_days)

    return _least(does, least_from_full(season, store, reserve_days), _MOST_WH)


def least_alone(season: Season, store: Store) -> float | None:
    """Return the smallest battery that lasts through the dates without a panel [Wh]."""
    return _least(lambda wh: season.does(store._replace(full_wh=wh), 0.0, 0), 1.0, _MOST_WH)


def least_panel(season: Season, store: Store, reserve_days: int) -> float | None:
    """Return the smallest panel that does with a battery [W]; None if none does."""
    return _least(lambda watts: season.does(store, watts, reserve_days), 1.0, _MOST_W)


def least_from_full(season: Season, store: Store, reserve_days: int) -> float:
    """Return the smallest battery that lasts so long if each day before fills it [Wh].

    That is on the coldest date, with the most that the door draws on any. The day that fills it
    draws too; infinite if no size lasts so long.
    """
    days = reserve_days + 1
    left = store.left_a_day
    needed = float(season.wanted.max()) * sum(left**ahead for ahead in range(days))
    usable = float(usable_share(season.temperature_c.min())) * (1 - store.cut_off)
    share = left**reserve_days - 1 + usable
    return needed / share if share > 0 else math.inf


def ample_pair(season: Season, store: Store, reserve_days: int) -> tuple[float, float] | None:
    """Return a battery with some spare, and the smallest panel that does with it [Wh, W]."""
    full_wh = _AMPLE * least_from_full(season, store, reserve_days)
    if not full_wh <= _MOST_WH:
        return None
    watts = least_panel(season, store._replace(full_wh=full_wh), reserve_days)
    return None if watts is None else (full_wh, watts)


def handbook_wh(
    daily_wh: float, days: float, depth: float, temperature_c: float | None = None
) -> float:
    """Return a battery by the handbook's rule for stand-alone systems [Wh].

    Parameters
    ----------
    daily_wh
        What is drawn a day.
    days
        How many days it must last.
    depth
        Which share of it may be drawn.
    temperature_c
        How cold it gets, for lead-acid batteries; without it nothing is added for cold.

    References
    ----------
    The simplified IEEE 1013 method, as worked at batteries-solar.blogspot.com: 1000 Wh a day, 2.5
    days, half of it, 4.4 °C make 6500 Wh.
    """
    times = 1.0
    if temperature_c is not None:
        times = float(np.interp(temperature_c, _HANDBOOK_C, _HANDBOOK_TIMES))
    return daily_wh * days / depth * times


def rounded_up(value: float) -> float:
    """Return a size with two digits that count, rounded up: nobody sells more exact ones."""
    if value <= 0:
        return 0.0
    unit = 10.0 ** (math.floor(math.log10(value)) - 1)
    # What is whole but for its last bits is not rounded up.
    return round(math.ceil(round(value / unit, 4)) * unit, 6)


def _least(does: Callable[[float], bool], start: float, most: float) -> float | None:
    """Return the least value that does, of those from which on all do."""
    high = max(start, 1e-6)
    while high <= most and not does(high):
        high *= 2
    if high > most:
        return None
    low = 0.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if does(middle):
            high = middle
        else:
            low = middle
    return high
