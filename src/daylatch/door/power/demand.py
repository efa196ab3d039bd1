"""What the door draws from its battery, day by day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Numbers
    from daylatch.plan.due import Due
    from daylatch.site.battery import Load

    Floats = NDArray[np.float64]

MOVEMENTS = 2
"""How often a door moves on a day: it opens and closes."""
_AGAIN = 2
"""And once more both ways, where it opens briefly for those that were shut out."""
_S_PER_H, _MIN_PER_H, _MA_PER_A, _H_PER_DAY = 3600, 60, 1000, 24


@dataclass(frozen=True, eq=False)
class Demand:
    """What the door draws.

    Attributes
    ----------
    movement_wh : float
        For one movement.
    standby_wh, radio_wh : float
        On each day, whether the door moves or not.
    movements : int64
        How often it moves on each day.
    most_movements : int
        How often it moves on a day beyond them, at most.
    """

    movement_wh: float
    standby_wh: float
    radio_wh: float
    movements: Numbers
    most_movements: int

    @property
    def always_wh(self) -> float:
        """What is drawn on a day without any movement [Wh]."""
        return self.standby_wh + self.radio_wh

    @property
    def wanted_wh(self) -> Floats:
        """What is drawn on each day [Wh]."""
        moved: Floats = self.movements.astype(np.float64) * self.movement_wh
        return self.always_wh + moved

    @property
    def most_wh(self) -> float:
        """What is drawn on a day beyond them, at most [Wh]."""
        return self.always_wh + self.movement_wh * self.most_movements


def demand_of(load: Load, voltage_v: float, due: Due) -> Demand:
    """Return what the door draws on the days of a plan, from its due movements.

    Parameters
    ----------
    load
        With the motor's current and the time of a movement.
    voltage_v
        At which it draws its currents.
    due
        When the door moves; days on which it stays shut have no movement.
    """
    assert load.current_a is not None
    assert load.movement_s is not None
    assert load.standby_ma is not None
    again = due.plan.settings.second_pass
    movements = np.where(due.is_open, MOVEMENTS + _AGAIN * again, 0)
    radio_ma, radio_min = load.radio_ma or 0.0, load.radio_min_day or 0.0
    return Demand(
        voltage_v * load.current_a * load.movement_s / _S_PER_H,
        voltage_v * load.standby_ma / _MA_PER_A * _H_PER_DAY,
        voltage_v * radio_ma / _MA_PER_A * radio_min / _MIN_PER_H,
        movements,
        MOVEMENTS + _AGAIN * bool(again.any()),
    )
