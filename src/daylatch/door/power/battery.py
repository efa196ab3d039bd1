"""The charge of a battery day by day, and for how many days without any sun it lasts."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags, Numbers

    Floats = NDArray[np.float64]

MOST_SUNLESS_DAYS = 400
"""How far days without any sun are counted."""
WARM_C = 25.0
"""At which temperature a battery's capacity is stated."""
_COLD_LOSS = 0.16
"""Which share of the capacity cannot be had at 0 °C, at a slow discharge (data sheets of small
lead-acid batteries; taken for all kinds, and as a straight line from 25 °C)."""
_DAYS_OF_A_MONTH = 365.25 / 12
TINY_WH = 1e-6
"""What is left over by rounding is no charge."""


class Store(NamedTuple):
    """A battery.

    Attributes
    ----------
    full_wh : float
        What it holds, at 25 °C.
    kept : float
        Which share of what is brought to it it keeps.
    lost_a_month : float
        Which share of its charge it loses in a month by itself.
    cut_off : float
        Under which share of full the door stops, at 25 °C.
    """

    full_wh: float
    kept: float
    lost_a_month: float
    cut_off: float

    @property
    def left_a_day(self) -> float:
        """Which share of its charge is left after a day of self-discharge."""
        left: float = (1 - self.lost_a_month) ** (1 / _DAYS_OF_A_MONTH)
        return left

    def floor_wh(self, temperature_c: Floats) -> Floats:
        """Return under which charge the door stops: in the cold a part cannot be had."""
        return self.full_wh * (1 - usable_share(temperature_c) * (1 - self.cut_off))


class Course(NamedTuple):
    """How a battery fares, an element a day.

    Attributes
    ----------
    before_wh, charge_wh : float64
        Its charge when the day begins, and when the night after it is over.
    stored_wh : float64
        What it took of the light.
    drawn_wh : float64
        What the door drew.
    lost_wh : float64
        What it lost by itself.
    works : bool
        Whether the door got all that it wanted.
    """

    before_wh: Floats
    charge_wh: Floats
    stored_wh: Floats
    drawn_wh: Floats
    lost_wh: Floats
    works: Flags


def usable_share(temperature_c: Floats) -> Floats:
    """Return which share of a battery's capacity can be had at a temperature."""
    share: Floats = np.minimum(1 - _COLD_LOSS * (WARM_C - temperature_c) / WARM_C, 1.0)
    return share


def run(store: Store, start_wh: float, brought: Floats, wanted: Floats, floor: Floats) -> Course:
    """Return a battery's charge day by day.

    A day's light comes before what its night draws. What a full battery cannot take is lost, and
    the door gets nothing from under the floor.

    Parameters
    ----------
    store
        The battery.
    start_wh
        Its charge when the first day begins.
    brought, wanted, floor
        What comes to it, what the door wants, and under which charge the door stops [Wh], an
        element a day.
    """
    full, kept, left = store.full_wh, store.kept, store.left_a_day
    charge, rows = start_wh, []
    for light, need, least in zip(brought.tolist(), wanted.tolist(), floor.tolist(), strict=True):
        before = charge
        held = before * left
        lit = min(full, held + light * kept)
        drawn = min(need, max(lit - least, 0.0))
        charge = max(lit - drawn, 0.0)
        rows.append((before, charge, lit - held, drawn, before - held, drawn >= need - TINY_WH))
    before_wh, charge_wh, stored_wh, drawn_wh, lost_wh, works = np.array(rows).reshape(-1, 6).T
    return Course(before_wh, charge_wh, stored_wh, drawn_wh, lost_wh, works > 0)


def sunless_days(
    store: Store, charge: Floats, wanted: Floats, floor: Floats, most: int = MOST_SUNLESS_DAYS
) -> Numbers:
    """Return for how many days the door works on from each day's charge, without any sun.

    Parameters
    ----------
    store
        The battery.
    charge
        When each day begins [Wh].
    wanted, floor
        As for `run`, with ``most`` more days than there are charges.
    most
        How far is counted.
    """
    days = len(charge)
    left, now = store.left_a_day, charge.copy()
    lasts, count = np.ones(days, np.bool_), np.zeros(days, np.int64)
    for ahead in range(most):
        now = now * left - wanted[ahead : ahead + days]
        lasts &= now >= floor[ahead : ahead + days] - TINY_WH
        if not lasts.any():
            break
        count += lasts
    return count
