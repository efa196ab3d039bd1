"""A sign of life to an address of the keeper's choice, whose silence somebody else notices."""

from __future__ import annotations

import threading
import urllib.request
from urllib.parse import urlsplit

from daylatch.errors import SecretsError
from daylatch.home.patience import soon

_TIMEOUT_S = 10
_asking = threading.Lock()


def check_heartbeat(address: str) -> None:
    """Refuse an address that cannot be asked for.

    Raises
    ------
    SecretsError
        Without the address.
    """
    try:
        parts = urlsplit(address)
        whole = parts.scheme in {"http", "https"} and bool(parts.hostname)
    except ValueError:
        whole = False
    if not whole:
        raise SecretsError("[heartbeat] url: write a whole address that begins with https://")


def beat(address: str) -> bool:
    """Ask for an address; return whether it answered soon.

    A server that sends a letter now and then must hold nobody up: it is given up, and until it ends
    no other is asked.
    """

    def ask() -> bool:
        with _asking:
            return _answers(address)

    return not _asking.locked() and bool(soon(_TIMEOUT_S, ask))


def _answers(address: str) -> bool:
    request = urllib.request.Request(address, headers={"User-Agent": "daylatch"})
    try:
        with urllib.request.urlopen(request, timeout=_TIMEOUT_S) as answer:
            return 200 <= int(answer.status) < 300
    except Exception:
        # Any of many kinds; their words may hold the address.
        return False
