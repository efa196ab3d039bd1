"""What the file of guests holds: who was invited, and digests of what they show for it."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from daylatch.home.guests.guest import Guest, May, check_guest_name
from daylatch.home.instants import instant_text, read_instant

if TYPE_CHECKING:
    from collections.abc import Iterator

_VERSION = 1
KEY_BYTES = 32
_DIGEST_LETTERS = 64
MOST_GUESTS = 100
"""How many guests a house can have (our choice)."""
_DAMAGED = (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError)


class KeptError(ValueError):
    """A file that cannot be a house's list of guests; its text says why."""


@dataclass(frozen=True)
class Entry:
    """A guest, and what they show.

    Attributes
    ----------
    guest : Guest
        Who.
    link, cookie : str or None
        Digests of their link's token and of their cookie; None for what they do not have, or no
        longer.
    """

    guest: Guest
    link: str | None = field(default=None, repr=False)
    cookie: str | None = field(default=None, repr=False)


@dataclass(frozen=True)
class Kept:
    """What the file holds.

    Attributes
    ----------
    form_key : bytes or None
        By which forms are told from forged ones; None before there is one.
    entries : tuple of Entry
        The guests, in the order in which they were invited.
    """

    form_key: bytes | None = field(default=None, repr=False)
    entries: tuple[Entry, ...] = ()


def kept_text(kept: Kept, house: str) -> bytes:
    """Return what the file of a house holds, as it is written down."""
    data = {
        "daylatch_guests": _VERSION,
        "house": house,
        "form_key": None if kept.form_key is None else kept.form_key.hex(),
        "guests": [_of_entry(entry) for entry in kept.entries],
    }
    return json.dumps(data, indent=1, ensure_ascii=False).encode() + b"\n"


def read_kept(content: bytes, house: str) -> Kept:
    """Return what a file holds.

    Raises
    ------
    KeptError
        If it is damaged, or another house's.
    """
    try:
        return _read(json.loads(content), house)
    except _DAMAGED as error:
        if isinstance(error, KeptError):
            raise
        raise KeptError("is damaged") from error


def _read(data: Any, house: str) -> Kept:
    if data["daylatch_guests"] != _VERSION:
        raise KeptError("was written by another version of daylatch")
    if data["house"] != house:
        raise KeptError("is of another house")
    key = data["form_key"]
    form_key = None if key is None else bytes.fromhex(key)
    if form_key is not None and len(form_key) != KEY_BYTES:
        raise KeptError("is damaged")
    return Kept(form_key, tuple(map(_entry, data["guests"])))


def _of_entry(entry: Entry) -> dict[str, Any]:
    guest = entry.guest
    return {
        "name": guest.name,
        "may": guest.may.value,
        "invited_utc": instant_text(guest.invited_utc),
        "joined_utc": instant_text(guest.joined_utc),
        "seen_utc": instant_text(guest.seen_utc),
        "ends_utc": instant_text(guest.ends_utc),
        "link": entry.link,
        "cookie": entry.cookie,
    }


def _entry(data: Any) -> Entry:
    invited = read_instant(data["invited_utc"])
    if invited is None:
        raise KeptError("is damaged")
    guest = Guest(
        check_guest_name(data["name"]),
        May(data["may"]),
        invited,
        read_instant(data["joined_utc"]),
        read_instant(data["seen_utc"]),
        read_instant(data["ends_utc"]),
    )
    return Entry(guest, *_digests(data))


def _digests(data: Any) -> Iterator[str | None]:
    for key in ("link", "cookie"):
        digest = data[key]
        if digest is not None and len(bytes.fromhex(digest)) * 2 != _DIGEST_LETTERS:
            raise KeptError("is damaged")
        yield digest
