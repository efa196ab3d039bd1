"""Keys of site files of before: what they said is put where it is said now."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from daylatch.clock import DoorClock
from daylatch.site.messages import show_value

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.messages import KeyPath


_LITTERED = ("littered_share", "littered_m2", "littered_ft2")


class OldKey(NamedTuple):
    """An old key that a file has.

    Attributes
    ----------
    path : tuple of str
        Where it stands.
    found : str
        Its value as TOML has it.
    remedy : str
        What to write instead.
    holds : bool
        Whether the file means what it says; if not, it cannot be used.
    """

    path: KeyPath
    found: str
    remedy: str
    holds: bool


def move_old_keys(data: dict[str, Any]) -> list[OldKey]:
    """Take old keys out of a site file's data, in place, and return them.

    Parameters
    ----------
    data
        As TOML reads it.
    """
    return [*_follows_clock(data), *_litter(data)]


def _follows_clock(data: dict[str, Any]) -> Iterator[OldKey]:
    timer = data.get("timer")
    if not isinstance(timer, dict) or "follows_clock" not in timer:
        return
    path: KeyPath = ("timer", "follows_clock")
    follows = timer.pop("follows_clock")
    found = show_value(follows)
    if not isinstance(follows, bool):
        remedy = (
            'is an old key that was true or false: take it out, and write clock = "wall" under '
            '[door] for a timer that changes to summer time, or clock = "standard"'
        )
        yield OldKey(path, found, remedy, holds=False)
        return
    clock = (DoorClock.WALL if follows else DoorClock.STANDARD).value
    door = data.setdefault("door", {})
    said = door.setdefault("clock", None) if isinstance(door, dict) else clock
    if said is None:
        door["clock"] = clock
        remedy = (
            f'is an old key: write clock = "{clock}" under [door] instead; the plan and its tables '
            "keep that clock too"
        )
    elif said == clock or said not in [each.value for each in DoorClock]:
        remedy = f'is an old key: clock = "{clock}" under [door] says it, so take it out'
    else:
        remedy = (
            f'is an old key, and clock = "{said}" under [door] says otherwise: take it out, or '
            f'write clock = "{clock}" there'
        )
        yield OldKey(path, found, remedy, holds=False)
        return
    yield OldKey(path, found, remedy, holds=True)


def _litter(data: dict[str, Any]) -> Iterator[OldKey]:
    """Yield the key that only told whether the whole floor is littered."""
    house = data.get("house")
    if not isinstance(house, dict) or "litter" not in house:
        return
    path: KeyPath = ("house", "litter")
    whole = house.pop("litter")
    found = show_value(whole)
    said = next((key for key in _LITTERED if key in house), None)
    share = house.get("littered_share")
    if not isinstance(whole, bool):
        remedy = (
            "is an old key that was true or false: write littered_share instead, from 0 for no "
            "litter to 1 for the whole floor"
        )
        yield OldKey(path, found, remedy, holds=False)
    elif isinstance(share, int | float) and whole is not (share == 1):
        remedy = (
            f"is an old key, and littered_share = {show_value(share)} says otherwise: take the "
            "old one out"
        )
        yield OldKey(path, found, remedy, holds=False)
    elif said is not None:
        remedy = f"is an old key: {said} says more, so take it out"
        yield OldKey(path, found, remedy, holds=True)
    elif whole:
        house["littered_share"] = 1
        remedy = "is an old key: write littered_share = 1 instead"
        yield OldKey(path, found, remedy, holds=True)
    else:
        remedy = (
            "is an old key that said: not the whole floor. How much of it is littered is now taken "
            "as not known: write littered_share instead, such as 0.5 for half of it or 0 for none"
        )
        yield OldKey(path, found, remedy, holds=True)
