"""The address of a calendar server, and the origin that a secret is bound to (RFC 6454)."""

from __future__ import annotations

import ipaddress
import re
from urllib.parse import urlsplit

_DEFAULT_PORT = {"http": 80, "https": 443}
# Libraries read what lies outside of these in different ways, a backslash for instance.
_PLAIN = re.compile(r"[!#-;=?-\[\]_a-z~]+", re.ASCII)


def check_address(text: str) -> str:
    """Return an address if it is one that a calendar can have.

    Raises
    ------
    ValueError
        With the remedy; it never repeats a password that stands in the address.
    """
    origin_of(text)
    return text


def origin_of(url: str) -> str:
    """Return scheme, host and port of an address, such as ``https://cal.example.org``.

    Parameters
    ----------
    url
        Absolute.

    Returns
    -------
    str
        In lower case, with the port only where it is not the scheme's own.

    Raises
    ------
    ValueError
        With the remedy, if it is no address of the web, or holds a login.
    """
    if not url.lower().startswith(("http://", "https://")):
        raise ValueError("write the calendar's address beginning with https://")
    try:
        parts = urlsplit(url)
        host, port = parts.hostname, parts.port
    except ValueError:
        raise ValueError("write a whole address, like https://cal.example.org/hens/") from None
    if "@" in parts.netloc:
        raise ValueError(
            "take the login out of the address: it is asked for, or read from the environment or "
            "the keyring"
        )
    if not host or not _PLAIN.fullmatch(url) or parts.fragment or port == 0:
        raise ValueError("write a whole address, like https://cal.example.org/hens/")
    if ":" in host:
        host = f"[{host}]"
    if port in (None, _DEFAULT_PORT[parts.scheme]):
        return f"{parts.scheme}://{host}"
    return f"{parts.scheme}://{host}:{port}"


def hide_login(text: str) -> str:
    """Return a text without the login that an address in it may carry, as such or in its query."""
    return re.sub(r"\?.*", "?***", re.sub("//.*@", "//***@", text))


def is_safe(url: str) -> bool:
    """Return whether what is sent there cannot be read on the way: https, or this machine."""
    parts = urlsplit(url)
    if parts.scheme == "https":
        return True
    host = parts.hostname or ""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
