"""What a plain timer does for a lamp: on and off, for the burn before the day and the one after it.

A lamp is never on later than planned and never off earlier, so no day gets shorter.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.birds.daylength.lamp import lamp_burns
from daylatch.door.timer.list_words import ListWords
from daylatch.door.timer.movements import TimerMovement

if TYPE_CHECKING:
    from daylatch.arrays import Times
    from daylatch.birds.daylength.burns import Burns
    from daylatch.plan.plan import Plan


LAMP_WORDS = ListWords(
    title="Lamp timer settings",
    rests="the lamp does not burn",
    would_be_on="the lamp would burn",
    off="no burn: switch this program off",
    when=(
        "A setting holds from its date on: make it the evening before, once the lamp is off and "
        "before it goes on again."
    ),
    worst="Longer at worst",
    late="longer",
    never="never on later, nor off earlier, than planned",
    worst_means=(
        "Longer at worst: minutes for which the lamp is on before, and off after, the planned "
        "time, before the next setting."
    ),
    missed=" If you make it a day late, the lamp burns up to {} min less at one end that day.",
    rounded="on rounded down and off rounded up",
    # Common practice, no source.
    after_a_power_cut=(
        "after one, compare its clock with one that is right, see that its programs are still "
        "there, and see whether the lamp is as it should be now (`daylatch daylength`)"
    ),
)


class LampBurn(NamedTuple):
    """One of the two times at which a lamp may burn on a day.

    Attributes
    ----------
    name : str
        What it is called in files.
    title : str
        What it is called above its settings.
    movements : tuple of TimerMovement
        On and off.
    """

    name: str
    title: str
    movements: tuple[TimerMovement, ...]


@lru_cache(maxsize=8)
def _burns_of(plan: Plan) -> Burns:
    # Each movement asks for it several times.
    return lamp_burns(make_day_lengths(plan))


def _burn(number: int, name: str, title: str) -> LampBurn:
    def on(plan: Plan) -> Times:
        times: Times = _burns_of(plan).on_utc[number]
        return times

    def off(plan: Plan) -> Times:
        times: Times = _burns_of(plan).off_utc[number]
        return times

    return LampBurn(
        name,
        title,
        (TimerMovement("lamp on", "on", on, sign=-1), TimerMovement("lamp off", "off", off)),
    )


BURNS = (
    _burn(0, "morning", "Morning burn"),
    _burn(1, "evening", "Evening burn"),
)
"""Before the natural day, or right through one on which the Sun stays down; and after it."""
