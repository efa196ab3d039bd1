"""The page behind the link in a message: one alarm, and one button to acknowledge it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.home.page.render import Form, Message
from daylatch.home.watch.kinds import AGAIN_MIN, PACES
from daylatch.home.watch.words import CAUTION

if TYPE_CHECKING:
    from daylatch.home.server.house import House
    from daylatch.home.watch.alarms import Alarm


def alarm_page(house: House, alarm: Alarm) -> Message:
    """Return the page of an alarm that stands."""
    if not alarm.is_urgent:
        effect = "does not come again while it lasts."
    else:
        effect = f"comes again after {AGAIN_MIN} minutes, until a report or a head count clears it."
    if alarm.is_acknowledged:
        effect = f"Somebody is looking after it. It {effect}"
    else:
        effect = f"If you press this, it {effect}"
    button = "I am looking after it" if alarm.is_urgent else "I know of it"
    return Message(
        f"{house.name()}: {PACES[alarm.kind].title}",
        [alarm.words, effect, f"This moves no door. {CAUTION}"],
        [Form("", button)],
        back=f"house/{house.watcher.house}",
    )


def gone_page() -> Message:
    """Return the page of an alarm that is over, or never was."""
    return Message("This alarm is over", [f"Or the link is not whole. {CAUTION}"])
