"""What people are told: the title and the text of a message."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.home.telling.targets import Text
from daylatch.home.watch.kinds import PACES, Kind

if TYPE_CHECKING:
    from daylatch.home.watch.alarms import Alarm, Message

CAUTION = "The watch does not see the birds: count heads."
TEST = "test"
"""What is said on the topic of a buzzer to try it."""
TEST_TITLE = "a test of the watch"
TEST_WORDS = f"If you read this, an alarm would reach you. Nothing is wrong. {CAUTION}"


def message_text(message: Message, house: str, link: str | None) -> Text:
    """Return what a message says.

    Parameters
    ----------
    message
        What must be said.
    house
        What the keeper calls the house.
    link
        Where it can be acknowledged; None if it cannot.
    """
    alarm = message.alarm
    if alarm.has_lapsed:
        why = "Its time is over, and nobody said that it was put right."
        return Text(f"{house}: no longer said: {_title(alarm)}", _ended(alarm, why))
    if message.is_over:
        return Text(f"{house}: over: {_title(alarm)}", _ended(alarm, alarm.over_words))
    again = f" (said {alarm.times_said} times)" if alarm.times_said > 1 else ""
    lines = [alarm.words]
    if alarm.is_urgent and alarm.kind is not Kind.IN_DOUBT:
        lines.append("Go and look, and note it in the diary.")
    lines.append(CAUTION)
    if link is not None and alarm.kind is not Kind.NOT_LOOKED:
        lines.append(f"{_what_a_tap_does(alarm)}: {link}")
    return Text(f"{house}: {_title(alarm)}{again}", "\n".join(lines))


def test_text(house: str) -> Text:
    """Return what a test of the watch says."""
    return Text(f"{house}: {TEST_TITLE}", TEST_WORDS)


def _title(alarm: Alarm) -> str:
    return PACES[alarm.kind].title


def _ended(alarm: Alarm, why: str) -> str:
    """Return that it ended, with what it was for those who were not told in time."""
    return f"{why} It was: {alarm.words} {CAUTION}"


def _what_a_tap_does(alarm: Alarm) -> str:
    if alarm.is_urgent:
        return "I am looking after it (it comes again until it is cleared)"
    return "I know of it (it does not come again)"
