"""Where a user's name and password come from: the environment, the keyring, or a question.

A secret is for one origin. The environment must name it beside the password, and the keyring's
entry carries it in its name, so that somebody else's site file cannot send a secret elsewhere.
"""

from __future__ import annotations

import getpass
import os
import sys
from dataclasses import dataclass, field

from daylatch.site.values.web_address import origin_of

USER, PASSWORD, URL = (f"DAYLATCH_CALENDAR_{name}" for name in ("USER", "PASSWORD", "URL"))


@dataclass(frozen=True)
class Login:
    """A user's name and password, and where they come from."""

    user: str
    password: str = field(repr=False)
    source: str


def service_of(origin: str) -> str:
    """Return the name under which the keyring keeps a login."""
    return f"daylatch {origin}"


def find_login(origin: str) -> Login | None:
    """Return the login for an origin; None if there is none and nobody can be asked."""
    return _from_environment(origin) or _from_keyring(origin) or _from_terminal(origin)


def how_to_log_in(origin: str) -> str:
    """Return what a keeper can do so that a login is found."""
    return (
        f'run it in a terminal, or store the login with `keyring set "{service_of(origin)}" USER`, '
        f"or set {USER}, {PASSWORD} and {URL}={origin}"
    )


def _named_origin() -> str | None:
    """Return the origin that the environment's login is for; None if it names none."""
    try:
        return origin_of(os.environ[URL])
    except (KeyError, ValueError):
        return None


def _from_environment(origin: str) -> Login | None:
    user, password = os.environ.get(USER), os.environ.get(PASSWORD)
    if not user or not password or _named_origin() != origin:
        return None
    return Login(user, password, "the environment")


def _from_keyring(origin: str) -> Login | None:
    import keyring  # noqa: PLC0415 - it looks for its stores, which takes time

    # A name that is meant for another server would find nothing here.
    user = os.environ.get(USER) if _named_origin() in (None, origin) else None
    try:
        found = keyring.get_credential(service_of(origin), user or None)
    except Exception:
        # Each store has errors of its own; without a store, the keeper is asked.
        return None
    if found is None or not found.username or not found.password:
        return None
    return Login(found.username, found.password, "the keyring")


def _from_terminal(origin: str) -> Login | None:
    if not sys.stdin.isatty():
        return None
    print(f"User at {origin} (empty for none): ", end="", file=sys.stderr, flush=True)
    user = sys.stdin.readline().strip()
    if not user:
        return None
    password = getpass.getpass(f"Password of {user} at {origin} (not shown): ", sys.stderr)
    return Login(user, password, "what was typed")
