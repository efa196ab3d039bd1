"""What the watch speaks up about, a line each: its title, and how it is told."""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple


class Kind(Enum):
    """What can be wrong."""

    NOT_SHUT = "not_shut"
    OPEN_AGAIN = "open_again"
    NOT_OPEN = "not_open"
    NOT_COUNTED = "not_counted"
    BIRDS_OUT = "birds_out"
    LINK_LOST = "link_lost"
    BATTERY_LOW = "battery_low"
    CLOCK_OFF = "clock_off"
    ENDS_SOON = "ends_soon"
    IN_DOUBT = "in_doubt"
    NOT_LOOKED = "not_looked"


class Pace(NamedTuple):
    """How a kind is told.

    Attributes
    ----------
    title : str
        What is wrong, in a few words.
    is_urgent : bool
        Whether birds may be in danger: quiet hours never silence it, and once acknowledged it comes
        again until it is cleared.
    most_rounds : int or None
        How often it is told at most; None for as long as it lasts.
    is_daily : bool
        Whether it is told again after a day, not after the keeper's minutes.
    lapses : bool
        Whether it ends with its night or day though nobody said that it was put right.
    over : str
        Why it is over, in a sentence, where nothing more is known.
    """

    title: str
    is_urgent: bool = False
    most_rounds: int | None = None
    is_daily: bool = False
    lapses: bool = False
    over: str = "It is over."


PACES = {
    Kind.NOT_SHUT: Pace("the door is not known to be shut", is_urgent=True, lapses=True),
    Kind.OPEN_AGAIN: Pace("the door is open and should be shut", is_urgent=True, lapses=True),
    Kind.BIRDS_OUT: Pace("birds are out", is_urgent=True, lapses=True),
    Kind.IN_DOUBT: Pace("the watch cannot look", is_urgent=True, over="The watch can look again."),
    Kind.NOT_OPEN: Pace("the door is not known to be open", most_rounds=4, lapses=True),
    Kind.NOT_COUNTED: Pace("nobody has counted heads", most_rounds=4, lapses=True),
    Kind.LINK_LOST: Pace("the door is not connected", most_rounds=4),
    Kind.BATTERY_LOW: Pace("the door's battery is low", is_daily=True),
    Kind.CLOCK_OFF: Pace("the door's clock is wrong", is_daily=True),
    Kind.ENDS_SOON: Pace("something ends soon", is_daily=True, over="It has been renewed."),
    Kind.NOT_LOOKED: Pace("nobody was watching", most_rounds=1),
}
AGAIN_MIN = 60
"""After how long an urgent alarm that somebody has acknowledged comes again [min] (our choice, no
source)."""
DAILY_MIN = 24 * 60
