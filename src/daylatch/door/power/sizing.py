"""Which panel and which battery would do: found by trying sizes day by day.

A size does if the door works on every day, and if the battery would last the wanted days without
any sun from every evening. It is tried on one year of light that comes again and again, with a door
that stays shut on no day, from an empty battery on the brightest day on: so none does that only
lives on how full it was at first, on dates without a winter, or on a door that was shut once.
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

_ROUNDS = 3
"""After how many years a battery counts. One that takes longer to fill is taken for too small, to
which a panel a few hundredths larger is the remedy."""
_HALVINGS = 25
_STEP = 1.1
"""By which factor batteries are tried: among those that lose much by themselves only some sizes do,
and a larger one may be worse."""
_MOST_TIMES = 100.0
_AMPLE = 1.5
"""How much larger than the smallest a battery of a pair is (this program's choice, no source)."""
_MOST_WH = 1e7
_MOST_W = 1e5
# Lead-acid batteries at temperatures [°C]: by how much a battery must be larger than at 26.7 °C, as
# a handbook of stand-alone systems has it (simplified IEEE 1013 method, as worked at
# batteries-solar.blogspot.com). It ends at -6.7 °C, and its last figure is taken below.
_HANDBOOK_C = (-6.7, -1.1, 4.4, 10.0, 15.6, 21.2, 26.7)
_HANDBOOK_TIMES = (1.59, 1.40, 1.30, 1.19, 1.11, 1.04, 1.00)


class Season(NamedTuple):
    """A year of light, and what a door wants on each of its days.

    Attributes
    ----------
    per_watt : float64
        What each watt of a panel brings [Wh], an element a day.
    wanted_wh : float
        What the door wants on each.
    temperature_c : float64
        Of the battery, an element a day.
    """

    per_watt: Floats
    wanted_wh: float
    temperature_c: Floats

    def does(self, store: Store, watts: float, reserve_days: int) -> bool:
        """Return whether a panel and a battery do."""
        days = len(self.per_watt)
        # It begins on the brightest day, and the last year counts.
        turn = -int(np.argmax(self.per_watt))
        brought, floor = (
            np.tile(np.roll(values, turn), _ROUNDS + 1 + reserve_days // days)
            for values in (self.per_watt * watts, store.floor_wh(self.temperature_c))
        )
        wanted = np.full(len(floor), self.wanted_wh)
        begin = (_ROUNDS - 1) * days
        end = begin + days
        course = run(store, float(floor[0]), brought[:end], wanted[:end], floor[:end])
        if not course.works[begin:].all():
            return False
        charge = course.charge_wh[begin:]
        lasts = sunless_days(store, charge, wanted[begin + 1 :], floor[begin + 1 :], reserve_days)
        return bool((lasts >= reserve_days).all())


class Sizing(NamedTuple):
    """What would do; all but the last two are None where no light, or a cloudless sky's, is known.

    Attributes
    ----------
    battery_wh, battery_most_wh : float or None
        The smallest battery with the panel that is there, and the largest, if one can be too large;
        None if none does, or without a panel.
    panel_w : float or None
        The smallest panel with the battery that is there; None if none does, or it is not known how
        one would stand.
    pair : tuple of float or None
        Another battery, and the smallest panel with it [Wh, W]; None if neither does.
    from_full_wh : float
        The smallest battery that lasts the wanted days without sun if each day before fills it;
        infinite if none does.
    alone_wh : float or None
        The smallest battery that lasts through the dates without a panel; None with one.
    """

    battery_wh: float | None
    battery_most_wh: float | None
    panel_w: float | None
    pair: tuple[float, float] | None
    from_full_wh: float
    alone_wh: float | None


def least_battery(
    season: Season, store: Store, watts: float, reserve_days: int
) -> tuple[float, float | None] | None:
    """Return the smallest battery of a kind that does with a panel, and the largest [Wh].

    The largest is None if none that was tried is too large. None if none at all does.
    """

    def does(full_wh: float) -> bool:
        return season.does(store._replace(full_wh=full_wh), watts, reserve_days)

    smallest = least_from_full(season, store, reserve_days)
    steps = math.ceil(math.log(_MOST_TIMES) / math.log(_STEP))
    sizes = [smallest * _STEP**step for step in range(steps)] if smallest <= _MOST_WH else []
    found = next((number for number, size in enumerate(sizes) if does(size)), None)
    if found is None:
        return None
    low = sizes[found]
    if found:
        low = _between(does, sizes[found], sizes[found - 1])
    failed = next((size for size in sizes[found + 1 :] if not does(size)), None)
    return low, None if failed is None else _between(does, failed / _STEP, failed)


def least_panel(season: Season, store: Store, reserve_days: int) -> float | None:
    """Return the smallest panel that does with a battery [W]; None if none does."""

    def does(watts: float) -> bool:
        return season.does(store, watts, reserve_days)

    return _smallest(does, _MOST_W)


def least_alone(wanted: Floats, temperature_c: Floats, starts: float, store: Store) -> float | None:
    """Return the smallest battery that lasts through some dates without a panel [Wh].

    Parameters
    ----------
    wanted, temperature_c
        What the door wants [Wh] and how warm the battery is, an element a date.
    starts
        How full it is at first.
    store
        Its kind.
    """

    def does(full_wh: float) -> bool:
        size = store._replace(full_wh=full_wh)
        floor = size.floor_wh(temperature_c)
        return bool(run(size, starts * full_wh, np.zeros(len(wanted)), wanted, floor).works.all())

    return _smallest(does, _MOST_WH) if wanted.any() else None


def least_from_full(season: Season, store: Store, reserve_days: int) -> float:
    """Return the smallest battery that lasts so long if each day before fills it [Wh].

    That is on the coldest date. The day that fills it draws too; infinite if no size lasts so long.
    """
    days = reserve_days + 1
    left = store.left_a_day
    needed = season.wanted_wh * sum(left**ahead for ahead in range(days))
    usable = float(usable_share(season.temperature_c.min())) * (1 - store.cut_off)
    share = left**reserve_days - 1 + usable
    return needed / share if share > 0 else math.inf


def ample_pair(season: Season, store: Store, reserve_days: int) -> tuple[float, float] | None:
    """Return a battery with some spare, and the smallest panel that does with it [Wh, W]."""
    smallest = _AMPLE * least_from_full(season, store, reserve_days)
    if not smallest <= _MOST_WH:
        return None
    # As it is told.
    full_wh = rounded_up(smallest)
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
    return _rounded(value, math.ceil)


def rounded_down(value: float) -> float:
    """Return one that must not be larger, with two digits that count."""
    return _rounded(value, math.floor)


def _rounded(value: float, to_whole: Callable[[float], int]) -> float:
    if value <= 0:
        return 0.0
    unit = 10.0 ** (math.floor(math.log10(value)) - 1)
    # What is whole but for its last bits is not rounded.
    return round(to_whole(round(value / unit, 4)) * unit, 6)


def _smallest(does: Callable[[float], bool], most: float) -> float | None:
    """Return the smallest size that does; None if none up to the most does."""
    size = 1.0
    while not does(size):
        size *= 2
        if size > most:
            return None
    return _between(does, size, 0.0)


def _between(does: Callable[[float], bool], good: float, bad: float) -> float:
    """Return a value that does and lies next to those that do not."""
    for _ in range(_HALVINGS):
        middle = (good + bad) / 2
        if does(middle):
            good = middle
        else:
            bad = middle
    return good
