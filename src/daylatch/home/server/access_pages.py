"""The pages of an invitation, and of those who have none."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from daylatch.home.guests.guest import May
from daylatch.home.server.alarm_page import page

if TYPE_CHECKING:
    from daylatch.home.guests.guest import Guest


def join_page(house: str, guest: Guest) -> str:
    """Return the page of an invitation that can be used."""
    allows = "see its times and what was seen of it"
    if guest.may is May.WRITE:
        allows += ", and note what you see"
    return _page(
        house,
        f"{house}: an invitation for {guest.name}",
        f"With it you can {allows}, on this phone or computer.",
        "It works once: press the button on the phone with which you want to look after the birds. "
        "Pass the link on to nobody.",
        button="Come in",
    )


def no_link_page() -> str:
    """Return the page of a link that cannot be used."""
    return _page(
        "daylatch",
        "This link cannot be used",
        "It was used already, is too old, or is not whole. Ask whoever sent it for another.",
    )


def uninvited_page() -> str:
    """Return the page of somebody who may not see what was asked for."""
    return _page(
        "daylatch",
        "You need an invitation",
        "Without one nothing is shown here. Ask the keeper for a link, and open it on this phone "
        "or computer.",
    )


def _page(title: str, heading: str, *paragraphs: str, button: str | None = None) -> str:
    body = f"<h1>{escape(heading)}</h1>\n"
    body += "".join(f"<p>{escape(text)}</p>\n" for text in paragraphs)
    if button is not None:
        body += f'<form method="post"><button>{escape(button)}</button></form>\n'
    return page(title, body)
