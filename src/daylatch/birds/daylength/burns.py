"""When a lamp goes on and off to keep a length of day, in whole minutes.

The lamp adds what is missing on one side of the natural day. One side cannot take everything: the
lamp never burns beyond the lower transits that bound the flock day, and on one side no longer than
half the target and the natural day together. So it moves evenly towards the transit as the day
vanishes, and is centred on it in the polar night.

A burn that would be shorter than the keeper's least burn is lengthened to it, away from the natural
day, so that no lamp flashes for a few minutes; a day is never made shorter, nor longer than 16 h.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.birds.nights.nights import LitStretches
from daylatch.plan.daily.rules import NEVER, ceil_minute, floor_minute

if TYPE_CHECKING:
    from daylatch.arrays import Minutes, Times
    from daylatch.birds.daylength.daylength import DayLengths


MOST_LIGHT = np.timedelta64(16, "h")
"""More would leave less than 8 h of dark (Defra compendium 8.4.4)."""
_ZERO = np.timedelta64(0, "us")
_NONE = np.timedelta64(0, "m")


class Burns(NamedTuple):
    """When a lamp burns on flock days.

    Attributes
    ----------
    on_utc, off_utc : datetime64[m]
        Shape (2, days): the burn before the natural day, which goes right through a day that has
        none, and the one after it; NaT where it does not burn.
    lengthened : timedelta64[m]
        How much longer it burns that day for the sake of the least burn.
    """

    on_utc: Times
    off_utc: Times
    lengthened: Minutes

    @property
    def in_turn(self) -> tuple[Times, Times]:
        """When it goes on and off, for the first and the second time that day."""
        on, off = self.on_utc.copy(), self.off_utc.copy()
        alone = np.isnat(on[0])
        on[0, alone], off[0, alone] = on[1, alone], off[1, alone]
        on[1, alone], off[1, alone] = NEVER, NEVER
        return on, off

    @property
    def stretches(self) -> LitStretches:
        """All times of burning in their order."""
        return _in_order([(self.on_utc, self.off_utc)])

    def without(self, natural: LitStretches) -> LitStretches:
        """Return when it burns outside of the natural light of the same flock days."""
        # Before the day's light and after it; the lamp of a day reaches into no other day's.
        return _in_order(
            [
                (self.on_utc, np.fmin(self.off_utc, natural.start)),
                (np.fmax(self.on_utc, natural.end), self.off_utc),
            ]
        )


def find_burns(lengths: DayLengths, target: Minutes) -> Burns:
    """Return when the lamp burns, so that no day is shorter than its target.

    Parameters
    ----------
    lengths
        The natural day.
    target
        The length of day that is kept on each flock day [timedelta64[us]].
    """
    plan, (start, end) = lengths.plan, lengths.counted.light
    # Whole minutes within the flock day, so that rounding reaches into no other.
    earliest, latest = ceil_minute(plan.day_start_utc), floor_minute(plan.day_end_utc)
    natural = lengths.counted.length
    extra = np.maximum(target - natural, _ZERO)
    one_side = np.minimum(extra, target // 2 + natural)
    match lengths.laying.lamp:
        case "morning":
            morning = np.minimum(one_side, np.maximum(start - earliest, _ZERO))
        case "evening":
            morning = extra - np.minimum(one_side, np.maximum(latest - end, _ZERO))
        case _:
            morning = extra // 2
    evening = extra - morning
    on = np.stack([_where(morning, floor_minute(start - morning)), _where(evening, end)])
    off = np.stack(
        [_where(morning, ceil_minute(start)), _where(evening, ceil_minute(end + evening))]
    )
    # Where both meet it burns once, right through.
    met = off[0] >= on[1]
    off[0, met], on[1, met], off[1, met] = off[1, met], NEVER, NEVER
    lengthened = _lengthen(lengths, (on, off), (earliest, latest))
    return Burns(on, off, lengthened)


def _lengthen(
    lengths: DayLengths, burns: tuple[Times, Times], bounds: tuple[Times, Times]
) -> Minutes:
    """Lengthen burns that are too short, in place, and return by how much a day [timedelta64[m]].

    One that goes right through the day is lengthened on both of its sides.
    """
    on, off = burns
    natural = lengths.counted.light
    least = np.timedelta64(lengths.laying.least_burn_min, "m")
    lit = np.fmax(np.fmax(*off), natural.end) - np.fmin(np.fmin(*on), natural.start)
    room = np.maximum(MOST_LIGHT - lit, _ZERO).astype("timedelta64[m]")
    short = np.maximum(least - (off - on), _NONE)
    short = np.minimum(np.where(np.isnat(short), _NONE, short), room)
    through = ~np.isnat(off[0]) & (off[0] > ceil_minute(natural.start))
    later = np.where(through, short[0] // 2, _NONE)
    earlier = np.minimum(short[0] - later, np.maximum(on[0] - bounds[0], _NONE))
    earlier = np.where(np.isnat(earlier), _NONE, earlier)
    on[0] -= earlier
    off[0] += later
    after = np.minimum(np.minimum(short[1], room - earlier - later), bounds[1] - off[1])
    after = np.maximum(np.where(np.isnat(after), _NONE, after), _NONE)
    off[1] += after
    lengthened: Minutes = earlier + later + after
    return lengthened


def _where(part: Minutes, times: Times) -> Times:
    """Return times in whole minutes, rounded down, where there is something to add."""
    return np.where(part > _ZERO, floor_minute(times), NEVER)


def _in_order(pieces: list[tuple[Times, Times]]) -> LitStretches:
    begins, ends = (
        np.concatenate([np.ravel(column) for column in columns]).astype("datetime64[us]")
        for columns in zip(*pieces, strict=True)
    )
    kept = np.flatnonzero(begins < ends)
    order = kept[np.argsort(begins[kept])]
    return LitStretches(begins[order], ends[order])
