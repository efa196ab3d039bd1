"""Keys of site files of before: what they said is put where it is said now."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from daylatch.clock import DoorClock
from daylatch.site.messages import show_value

if TYPE_CHECKING:
    from daylatch.site.messages import KeyPath


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
    timer = data.get("timer")
    if not isinstance(timer, dict) or "follows_clock" not in timer:
        return []
    path: KeyPath = ("timer", "follows_clock")
    follows = timer.pop("follows_clock")
    found = show_value(follows)
    if not isinstance(follows, bool):
        remedy = (
            'is an old key that was true or false: take it out, and write clock = "wall" under '
            '[door] for a timer that changes to summer time, or clock = "standard"'
        )
        return [OldKey(path, found, remedy, holds=False)]
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
        return [OldKey(path, found, remedy, holds=False)]
    return [OldKey(path, found, remedy, holds=True)]
