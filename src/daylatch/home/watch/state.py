"""What the watch remembers between two looks, in a file beside the site file."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.errors import OutputError
from daylatch.files.put import put
from daylatch.home.watch.alarms import Alarm, Delivery
from daylatch.home.watch.kinds import Kind

if TYPE_CHECKING:
    from pathlib import Path

_VERSION = 1
_MOST_BYTES = 4_000_000


class StateError(ValueError):
    """A file that cannot be what the watch remembers; its text says why."""


@dataclass(frozen=True)
class State:
    """What the watch remembers.

    Attributes
    ----------
    looked_utc : datetime64[s] or None
        When it looked last; None before the first time.
    listening_since_utc : datetime64[s] or None
        Since when somebody listened to the door without a gap.
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
    """

    looked_utc: np.datetime64 | None = None
    listening_since_utc: np.datetime64 | None = None
    alarms: tuple[Alarm, ...] = ()
    link_lost_utc: np.datetime64 | None = None
    broker_lost_utc: np.datetime64 | None = None
    topic_said: str = ""
    watcher: str = ""


def load_state(path: Path, house: str) -> State:
    """Return what is remembered of a house; nothing if there is no file yet.

    Raises
    ------
    StateError
        If the file cannot be read, or is damaged or another house's.
    """
    try:
        with path.open("rb") as file:
            content = file.read(_MOST_BYTES + 1)
    except FileNotFoundError:
        return State()
    except OSError as error:
        raise StateError(f"cannot be read ({error.strerror})") from error
    try:
        return _read(json.loads(content), house)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        if isinstance(error, StateError):
            raise
        raise StateError("is damaged") from error


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
        "looked_utc": _text(state.looked_utc),
        "listening_since_utc": _text(state.listening_since_utc),
        "link_lost_utc": _text(state.link_lost_utc),
        "broker_lost_utc": _text(state.broker_lost_utc),
        "topic_said": state.topic_said,
        "watcher": state.watcher,
        "alarms": [_of_alarm(alarm) for alarm in state.alarms],
    }
    content = json.dumps(data, indent=1, ensure_ascii=False).encode()
    try:
        put(path, content + b"\n", private=True)
    except UnicodeEncodeError as error:  # pragma: no cover - texts were read as UTF-8
        raise OutputError(f"{path}: cannot be written: {error}") from error


def _read(data: Any, house: str) -> State:
    if data["daylatch_watch"] != _VERSION:
        raise StateError("was written by another version of daylatch")
    if data["house"] != house:
        raise StateError(f"is of another house (id {data['house']})")
    return State(
        _instant(data["looked_utc"]),
        _instant(data["listening_since_utc"]),
        tuple(_alarm(one) for one in data["alarms"]),
        _instant(data["link_lost_utc"]),
        _instant(data["broker_lost_utc"]),
        str(data["topic_said"]),
        str(data["watcher"]),
    )


def _of_alarm(alarm: Alarm) -> dict[str, Any]:
    return {
        "token": alarm.token,
        "key": alarm.key,
        "kind": alarm.kind.value,
        "words": alarm.words,
        "raised_utc": _text(alarm.raised_utc),
        "round": alarm.round,
        "round_utc": _text(alarm.round_utc),
        "acknowledged_utc": _text(alarm.acknowledged_utc),
        "over_utc": _text(alarm.over_utc),
        "over_words": alarm.over_words,
        "told": {
            name: {
                "round": told.round,
                "failures": told.failures,
                "tried_utc": _text(told.tried_utc),
                "knows_over": told.knows_over,
            }
            for name, told in alarm.told.items()
        },
    }


def _alarm(data: Any) -> Alarm:
    raised = _instant(data["raised_utc"])
    if raised is None:
        raise StateError("is damaged")
    return Alarm(
        token=str(data["token"]),
        key=str(data["key"]),
        kind=Kind(data["kind"]),
        words=str(data["words"]),
        raised_utc=raised,
        round=int(data["round"]),
        round_utc=_instant(data["round_utc"]),
        acknowledged_utc=_instant(data["acknowledged_utc"]),
        over_utc=_instant(data["over_utc"]),
        over_words=str(data["over_words"]),
        told={
            str(name): Delivery(
                int(told["round"]),
                int(told["failures"]),
                _instant(told["tried_utc"]),
                bool(told["knows_over"]),
            )
            for name, told in data["told"].items()
        },
    )


def _text(instant_utc: np.datetime64 | None) -> str | None:
    return None if instant_utc is None else f"{instant_utc.astype('datetime64[s]')}Z"


def _instant(text: str | None) -> np.datetime64 | None:
    return None if text is None else np.datetime64(text.removesuffix("Z"), "s")
