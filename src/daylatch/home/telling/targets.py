"""Services that bring messages to people, each by its own object.

With several addresses in one object it would say that all failed if one did, and a second try would
double the others.
"""

from __future__ import annotations

import logging
import re
import threading
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, NamedTuple

from daylatch.errors import SecretsError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import apprise

LONGEST_S = 30.0
"""How long nothing may come of any errand before those that are left are given up."""
_AT_ONCE = 4
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]{0,30}(?=://)")


class Text(NamedTuple):
    """What is sent: a title of one line, and a text."""

    title: str
    body: str


class Errand(NamedTuple):
    """Something to be said to somebody.

    Attributes
    ----------
    target : Target
        To whom.
    text : Text
        What.
    is_good_news : bool
        Whether it says that something is over.
    """

    target: Target
    text: Text
    is_good_news: bool = False


class Target:
    """Somebody who can be told.

    Parameters
    ----------
    name
        What the site file calls them.
    address
        How they are reached; never shown.

    Raises
    ------
    SecretsError
        If nothing understands that address.
    """

    def __init__(self, name: str, address: str) -> None:
        self.name = name
        self._service = _service(name, address)
        self._free = threading.BoundedSemaphore(_AT_ONCE)

    def tell(self, errand: Errand) -> bool:
        """Say something; return whether it arrived, as far as can be known."""
        import apprise  # noqa: PLC0415 - heavy

        if not self._free.acquire(timeout=LONGEST_S / 2):
            # The errands before it still hang there.
            return False
        try:
            return bool(
                self._service.notify(
                    body=errand.text.body,
                    title=errand.text.title,
                    body_format=apprise.NotifyFormat.TEXT,
                    notify_type=apprise.NotifyType.SUCCESS
                    if errand.is_good_news
                    else apprise.NotifyType.WARNING,
                )
            )
        except Exception:
            # Services have errors of their own, whose words may hold the address.
            return False
        finally:
            self._free.release()


def deliver(errands: Sequence[Errand]) -> Iterator[tuple[int, bool]]:
    """Run errands side by side, so that one that hangs keeps none back.

    Yields
    ------
    int, bool
        The place of one that is done, and whether it arrived. One that hangs for long did not, as
        far as is known.
    """
    done: SimpleQueue[tuple[int, bool]] = SimpleQueue()

    def run(place: int, errand: Errand) -> None:
        done.put((place, errand.target.tell(errand)))

    for place, errand in enumerate(errands):
        # The end of the program does not wait for it.
        try:
            threading.Thread(target=run, args=(place, errand), daemon=True).start()
        except RuntimeError:
            # There can be no more threads.
            done.put((place, False))
    waiting = set(range(len(errands)))
    while waiting:
        try:
            place, arrived = done.get(timeout=LONGEST_S)
        except Empty:
            yield from ((place, False) for place in sorted(waiting))
            return
        waiting.discard(place)
        yield place, arrived


def _service(name: str, address: str) -> apprise.Apprise:
    import apprise  # noqa: PLC0415 - heavy

    # It would tell of its own affairs, addresses among them.
    logging.getLogger("apprise").setLevel(logging.CRITICAL + 1)
    service = apprise.Apprise()
    try:
        understood = service.add(address)
    except Exception:
        understood = False
    if not understood or not len(service):
        # Nothing of it is repeated: what looks like a scheme may be a password.
        scheme = _SCHEME.match(address)
        if scheme is None:
            why = "has no scheme before ://"
        elif scheme[0].lower() in _schemes():
            why = "is not whole, for what its scheme needs"
        else:
            why = "begins with a scheme that no service has"
        raise SecretsError(
            f"[tell] {name}: the address {why}: write one as apprise has them, such as mailtos://"
        )
    return service


def _schemes() -> set[str]:
    """Return every scheme that a service has."""
    import apprise  # noqa: PLC0415 - heavy

    return {
        scheme
        for service in apprise.Apprise().details()["schemas"]
        for key in ("protocols", "secure_protocols")
        for scheme in service[key] or ()
    }
