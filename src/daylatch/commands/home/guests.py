"""``daylatch home --invite`` and ``--guests``: who may see a house from elsewhere."""

from __future__ import annotations

import io
import ipaddress
import os
import sys
from typing import TYPE_CHECKING

from daylatch.clock import get_zone
from daylatch.commands.home.houses import read_houses
from daylatch.commands.now import any_now_utc, warn
from daylatch.console import printable, say
from daylatch.errors import UsageError
from daylatch.home.guests.guest import is_called
from daylatch.site.home import Home
from daylatch.site.values.web_address import is_safe
from daylatch.wording import wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from daylatch.commands.home.source import Source
    from daylatch.home.guests.book import Guest, May

_BORDER = 2
_WHITE_ON_BLACK, _PLAIN = "\033[97;40m", "\033[0m"
"""A code is read by its light and its dark squares, whatever colours a terminal has (ECMA-48)."""


def invite(paths: Sequence[Path], name: str, may: May) -> None:
    """Invite somebody to a house, and print the link by which they can join.

    Raises
    ------
    UsageError
        If several houses are named, phones cannot reach the home, or nobody can be called so.
    SecretsError, OutputError
        If the file of guests cannot be used, or not be written.
    """
    if len(paths) > 1:
        raise UsageError("an invitation is for one house: give one site file")
    (source,) = read_houses(paths)
    base = _base(source)
    now = any_now_utc()
    token = source.guests.invite(name, may, now)
    link = f"{base}/join/{token}"
    if not is_safe(link):
        warn(
            "whoever is in the same network can read this link, and later what this guest shows: "
            "give certificate and key under [home]"
        )
    (guest,) = [one for one in source.guests.guests(now) if one.name == name]
    print("\n".join(wrapped(_invitation(source, guest))))
    print(f"\n{link}")
    if _can_draw():
        print(f"\n{_drawn(link)}", end="")


def list_guests(paths: Sequence[Path]) -> None:
    """Print the guests of each house.

    Raises
    ------
    SecretsError
        If a file of guests cannot be used.
    """
    for source in read_houses(paths):
        guests = source.guests.guests(any_now_utc())
        lines = [f"{source.site.name}: {len(guests) or 'no'} guest{'s' * (len(guests) != 1)}"]
        lines += [f"  {printable(guest.name)}: {_told(source, guest)}" for guest in guests]
        print("\n".join(wrapped(lines)))


def revoke(paths: Sequence[Path], name: str) -> None:
    """Take back a guest's invitation.

    Raises
    ------
    UsageError
        If nobody is called so, or somebody at several houses.
    SecretsError, OutputError
        If a file of guests cannot be used, or not be written.
    """
    now = any_now_utc()
    sources = read_houses(paths)
    if len(sources) > 1:
        sources = [
            source
            for source in sources
            if any(is_called(guest, name) for guest in source.guests.guests(now))
        ]
        if len(sources) != 1:
            where = "at several of these houses" if sources else "at none of these houses"
            raise UsageError(f"a guest is called so {where}: give the site file of one")
    (source,) = sources
    source.guests.revoke(name)
    say(
        f"{source.site.name}: {name} is revoked, and can no longer see anything; a home that runs "
        "takes that up by itself"
    )


def _base(source: Source) -> str:
    """Return how phones reach the home.

    Raises
    ------
    UsageError
        If that is not known.
    """
    home = source.site.settings.home or Home.model_construct()
    if home.url is not None:
        return home.url
    address = ipaddress.ip_address(home.address)
    if address.is_loopback or address.is_unspecified or not home.port:
        raise UsageError(
            f"{source.path}: how phones reach this computer is not known, so there can be no link: "
            'give url under [home], like url = "https://hens.example.org"'
        )
    scheme = "http" if home.certificate is None else "https"
    host = f"[{address}]" if address.version == 6 else str(address)
    return f"{scheme}://{host}:{home.port}"


def _invitation(source: Source, guest: Guest) -> Iterator[str]:
    assert guest.ends_utc is not None
    until = source.site.face.instant(get_zone(source.site.zone), guest.ends_utc)
    yield f"{printable(guest.name)} is invited to {source.site.name}: {guest.may.words}."
    yield (
        f"The link works once, until {until}. Give it to nobody else: whoever presses the button "
        "behind it first comes in."
    )


def _told(source: Source, guest: Guest) -> str:
    zone, face = get_zone(source.site.zone), source.site.face
    said = f"{guest.may.words}; invited {face.instant(zone, guest.invited_utc)}"
    if guest.ends_utc is not None:
        return f"{said}, the link is open until {face.instant(zone, guest.ends_utc)}"
    if guest.joined_utc is not None:
        said += f", joined {face.instant(zone, guest.joined_utc)}"
    return said if guest.seen_utc is None else f"{said}, last seen {zone.date_at(guest.seen_utc)}"


def _can_draw() -> bool:
    """Return whether a code can be shown: in a file or a pipe the link alone is of use."""
    if not sys.stdout.isatty() or os.environ.get("TERM") == "dumb":
        return False
    try:
        "\N{FULL BLOCK}\N{UPPER HALF BLOCK}\N{LOWER HALF BLOCK}".encode(sys.stdout.encoding)
    except UnicodeEncodeError:
        return False
    return True


def _drawn(link: str) -> str:
    """Return a QR code of a link (ISO/IEC 18004) for a terminal, two squares in a letter."""
    import segno  # noqa: PLC0415 - for this alone

    out = io.StringIO()
    segno.make(link, micro=False).terminal(out, border=_BORDER, compact=True)
    lines = out.getvalue().splitlines()
    return "".join(f"{_WHITE_ON_BLACK}{line}{_PLAIN}\n" for line in lines)
