"""What the watch remembers between two looks, in a file beside the site file."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from daylatch.files.plain import NotPlainError, read_plain
from daylatch.files.put import put
from daylatch.home.instants import instant_text, read_instant
from daylatch.home.watch.alarms import Alarm, Delivery
from daylatch.home.watch.kinds import Kind

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np

_VERSION = 1
_MOST_BYTES = 4_000_000
MOST_PAST = 100
"""How many alarms that are over are remembered (our choice, no source)."""
_DAMAGED = (
    ValueError,
    KeyError,
    TypeError,
    AttributeError,
    OverflowError,
    RecursionError,
)


class StateError(ValueError):
    """A file that cannot be what the watch remembers; its text says why."""


@dataclass(frozen=True)
class State:
    """What the watch remembers.

    Attributes
    ----------
    looked_utc : datetime64[s] or None
        When it looked last; None before the first time.
    ran_utc : datetime64[s] or None
        When it last ran, whether or not it could look.
    listening_since_utc : datetime64[s] or None
        Since when somebody listened to the door without a gap.
    heard_utc : datetime64[s] or None
        Until when what the broker has for us was heard; None if that is not known.
    began_utc : datetime64[s] or None
        When the house was first watched; None if that is not known.
    alarms : tuple of Alarm
        Those that stand, and those of whose end not all have been told.
    link_lost_utc : datetime64[s] or None
        Since when the door's link is lost.
    broker_lost_utc : datetime64[s] or None
        Since when the broker cannot be reached.
    topic_said : str
        What was last published for a buzzer, for sure; empty if nothing was.
    watcher : str
        Who looked last.
    has_reported : bool
        Whether the door has reported, so that its silence says something.
    had_diary : bool
        Whether there was a diary.
    put_back_until_utc : datetime64[s] or None
        Until when a clock that was put back is not trusted.
    past : tuple of Alarm
        Those that are over and told, the last `MOST_PAST` of them.
    """

    looked_utc: np.datetime64 | None = None
    ran_utc: np.datetime64 | None = None
    listening_since_utc: np.datetime64 | None = None
    heard_utc: np.datetime64 | None = None
    began_utc: np.datetime64 | None = None
    alarms: tuple[Alarm, ...] = ()
    link_lost_utc: np.datetime64 | None = None
    broker_lost_utc: np.datetime64 | None = None
    topic_said: str = ""
    watcher: str = ""
    has_reported: bool = False
    had_diary: bool = False
    put_back_until_utc: np.datetime64 | None = None
    past: tuple[Alarm, ...] = ()


def load_state(path: Path, house: str) -> State:
    """Return what is remembered of a house; nothing if there is no file yet.

    Raises
    ------
    StateError
        If the file cannot be read, or is damaged or another house's.
    """
    try:
        _, content = read_plain(path, _MOST_BYTES)
    except FileNotFoundError:
        return State()
    except NotPlainError as error:
        raise StateError(str(error)) from error
    except OSError as error:
        raise StateError(f"cannot be read ({error.strerror})") from error
    try:
        return _read(json.loads(content), house)
    except _DAMAGED as error:
        if isinstance(error, StateError):
            raise
        raise StateError("is damaged") from error


def house_of(path: Path) -> str | None:
    """Return the id of the house of which a file tells; None if that cannot be known."""
    try:
        _, content = read_plain(path, _MOST_BYTES)
        return str(json.loads(content)["house"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def save_state(path: Path, house: str, state: State) -> None:
    """Put down what is remembered.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    data = {
        "daylatch_watch": _VERSION,
        "house": house,
        "looked_utc": instant_text(state.looked_utc),
        "ran_utc": instant_text(state.ran_utc),
        "listening_since_utc": instant_text(state.listening_since_utc),
        "heard_utc": instant_text(state.heard_utc),
        "began_utc": instant_text(state.began_utc),
        "link_lost_utc": instant_text(state.link_lost_utc),
        "broker_lost_utc": instant_text(state.broker_lost_utc),
        "topic_said": state.topic_said,
        "watcher": state.watcher,
        "has_reported": state.has_reported,
        "had_diary": state.had_diary,
        "put_back_until_utc": instant_text(state.put_back_until_utc),
        "alarms": [_of_alarm(alarm) for alarm in state.alarms],
        "past": [_of_alarm(alarm) for alarm in state.past],
    }
    put(path, json.dumps(data, indent=1).encode() + b"\n", private=True)


def _read(data: Any, house: str) -> State:
    if data["daylatch_watch"] != _VERSION:
        raise StateError("was written by another version of daylatch")
    if data["house"] != house:
        raise StateError(f"is of another house (id {data['house']})")
    return State(
        read_instant(data["looked_utc"]),
        read_instant(data["ran_utc"]),
        read_instant(data["listening_since_utc"]),
        read_instant(data["heard_utc"]),
        read_instant(data["began_utc"]),
        tuple(_alarm(one) for one in data["alarms"]),
        read_instant(data["link_lost_utc"]),
        read_instant(data["broker_lost_utc"]),
        str(data["topic_said"]),
        str(data["watcher"]),
        bool(data["has_reported"]),
        bool(data["had_diary"]),
        read_instant(data["put_back_until_utc"]),
        # Files from before the page at home have none.
        tuple(_alarm(one) for one in data.get("past", ())),
    )


def _of_alarm(alarm: Alarm) -> dict[str, Any]:
    return {
        "token": alarm.token,
        "key": alarm.key,
        "kind": alarm.kind.value,
        "words": alarm.words,
        "raised_utc": instant_text(alarm.raised_utc),
        "round": alarm.round,
        "first_round": alarm.first_round,
        "round_utc": instant_text(alarm.round_utc),
        "acknowledged_utc": instant_text(alarm.acknowledged_utc),
        "over_utc": instant_text(alarm.over_utc),
        "over_words": alarm.over_words,
        "acknowledged_by": alarm.acknowledged_by,
        "told": {
            name: {
                "round": told.round,
                "failures": told.failures,
                "tried_utc": instant_text(told.tried_utc),
                "knows_over": told.knows_over,
            }
            for name, told in alarm.told.items()
        },
    }


def _alarm(data: Any) -> Alarm:
    raised = read_instant(data["raised_utc"])
    if raised is None:
        raise StateError("is damaged")
    return Alarm(
        token=str(data["token"]),
        key=str(data["key"]),
        kind=Kind(data["kind"]),
        words=str(data["words"]),
        raised_utc=raised,
        round=int(data["round"]),
        first_round=int(data["first_round"]),
        round_utc=read_instant(data["round_utc"]),
        acknowledged_utc=read_instant(data["acknowledged_utc"]),
        over_utc=read_instant(data["over_utc"]),
        over_words=str(data["over_words"]),
        # Files from before the page at home do not know.
        acknowledged_by=str(data.get("acknowledged_by", "")),
        told={
            str(name): Delivery(
                int(told["round"]),
                int(told["failures"]),
                read_instant(told["tried_utc"]),
                bool(told["knows_over"]),
            )
            for name, told in data["told"].items()
        },
    )
