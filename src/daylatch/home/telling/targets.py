"""Services that bring messages to people, each by its own object.

With several addresses in one object it would say that all failed if one did, and a second try would
double the others.
"""

from __future__ import annotations

import logging
import re
from concurrent.futures import ThreadPoolExecutor, as_completed
from typing import TYPE_CHECKING, NamedTuple

from daylatch.errors import SecretsError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import apprise

    from daylatch.home.watch.words import Text

_AT_ONCE = 8
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]{0,30}(?=://)")


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

    def tell(self, errand: Errand) -> bool:
        """Say something; return whether it arrived, as far as can be known."""
        import apprise  # noqa: PLC0415 - heavy

        kind = apprise.NotifyType.SUCCESS if errand.is_good_news else apprise.NotifyType.WARNING
        try:
            return bool(
                self._service.notify(
                    body=errand.text.body, title=errand.text.title, notify_type=kind
                )
            )
        except Exception:
            # Services have errors of their own, whose words may hold the address.
            return False


def deliver(errands: Sequence[Errand]) -> Iterator[tuple[int, bool]]:
    """Run errands side by side, so that one that hangs keeps none back.

    Yields
    ------
    int, bool
        The place of one that is done, and whether it arrived.
    """
    if not errands:
        return
    with ThreadPoolExecutor(max_workers=_AT_ONCE) as pool:
        running = {
            pool.submit(errand.target.tell, errand): place for place, errand in enumerate(errands)
        }
        for done in as_completed(running):
            yield running[done], done.result()


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
        scheme = _SCHEME.match(address)
        known = scheme is not None and scheme[0].lower() in _schemes()
        why = (
            "has no scheme before ://"
            if scheme is None
            else f"is no whole address of {scheme[0]}://"
            if known
            else f"begins with {scheme[0]}://, which no service has"
        )
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
