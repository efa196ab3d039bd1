"""The pages of an invitation, and of those who have none."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.home.guests.guest import May
from daylatch.home.page.render import Form, Message

if TYPE_CHECKING:
    from daylatch.home.guests.guest import Guest


def join_page(house: str, guest: Guest) -> Message:
    """Return the page of an invitation that can be used."""
    allows = "see its times and what was seen of it"
    if guest.may is May.WRITE:
        allows += ", and note what you see"
    return Message(
        f"{house}: an invitation for {guest.name}",
        [
            f"With it you can {allows}, on this phone or computer.",
            "It works once: press the button on the phone with which you want to look after the "
            "birds. Pass the link on to nobody.",
        ],
        [Form("", "Come in")],
    )


def no_link_page() -> Message:
    """Return the page of a link that cannot be used."""
    words = "It was used already, is too old, or is not whole. Ask whoever sent it for another."
    return Message("This link cannot be used", [words])


def uninvited_page() -> Message:
    """Return the page of somebody who may not see what was asked for."""
    words = (
        "Without one nothing is shown here. Ask the keeper for a link, and open it on this phone "
        "or computer."
    )
    return Message("You need an invitation", [words])
