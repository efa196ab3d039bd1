"""Secrets of a house: the door's token, where people are told, the broker's login.

They stand in a file beside the site file that nobody else may read, or in the keyring, and nothing
of them ever in a message. A site file is lent and copied; a file of secrets is not.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
import tomllib
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from daylatch.errors import SecretsError
from daylatch.files.put import put
from daylatch.home.patience import soon
from daylatch.home.private import read_private
from daylatch.site.keys.lines import lines_of_keys
from daylatch.site.table import is_target

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

ENDING = ".secrets"
_MOST_BYTES = 100_000
_LEAST_TOKEN = 20
_LONGEST = 2000
_KEYRING_S = 10.0
_KEYS = {
    "door": ("token",),
    "mqtt": ("user", "password"),
    "heartbeat": ("url",),
}
MQTT_USER, MQTT_PASSWORD = "DAYLATCH_MQTT_USER", "DAYLATCH_MQTT_PASSWORD"
_HEAD = """\
# Secrets of a house for `daylatch home` and `daylatch watch`: never lend or copy this file.
#
# [tell]                                     # whom alarms go to, each by an address of apprise
# phone = "..."
# [mqtt]                                     # the login at the broker
# user = "..."
# password = "..."
# [heartbeat]                                # asked for every few minutes while all is well
# url = "https://..."
"""


@dataclass(frozen=True)
class Secrets:
    """Secrets of a house; none of them is ever shown.

    Attributes
    ----------
    token : str
        The door's; empty if it has none.
    tell : dict
        By name, the addresses of those who are told.
    mqtt_user, mqtt_password : str
        The login at the broker; empty for none.
    heartbeat : str
        What is asked for after every look; empty for nothing.
    """

    token: str = field(default="", repr=False)
    tell: dict[str, str] = field(default_factory=dict, repr=False)
    mqtt_user: str = field(default="", repr=False)
    mqtt_password: str = field(default="", repr=False)
    heartbeat: str = field(default="", repr=False)

    def is_token(self, given: str) -> bool:
        """Return whether a text is the door's token, in a time that tells nothing of it."""
        digests = [hashlib.sha256(text.encode()).digest() for text in (given, self.token)]
        return hmac.compare_digest(*digests) and bool(self.token)


def load_secrets(path: Path, house: str, names: Sequence[str] = ()) -> Secrets:
    """Return the secrets of a house: from its file, and what it lacks from the keyring.

    Parameters
    ----------
    path
        The file; there may be none.
    house
        The id of the house.
    names
        Of those who are told whose addresses may stand in the keyring only.

    Raises
    ------
    SecretsError
        If others may read the file, or it cannot be used; never with a secret in its text.
    """
    data = _read(path)
    in_keyring = {
        name: _from_keyring(house, f"tell {name}")
        for name in names
        if name not in data.get("tell", {})
    }
    known = {name: address for name, address in in_keyring.items() if address}

    def one(table: str, key: str) -> str:
        return data.get(table, {}).get(key) or _from_keyring(house, f"{table} {key}")

    return Secrets(
        token=one("door", "token"),
        tell=known | data.get("tell", {}),
        mqtt_user=os.environ.get(MQTT_USER) or one("mqtt", "user"),
        mqtt_password=os.environ.get(MQTT_PASSWORD) or one("mqtt", "password"),
        heartbeat=one("heartbeat", "url"),
    )


def service_of(house: str) -> str:
    """Return the name under which the keyring keeps a house's secrets."""
    return f"daylatch {house}"


def make_token(path: Path) -> None:
    """Write a new token of the door into a house's file of secrets, which is made if need be.

    Raises
    ------
    SecretsError
        If the file cannot be used.
    OutputError
        If it cannot be written.
    """
    import tomlkit  # noqa: PLC0415 - for this alone

    path = path.resolve()
    _read(path)
    text = path.read_text(encoding="utf-8") if path.exists() else _HEAD
    document = tomlkit.parse(text)
    table = document.setdefault("door", tomlkit.table())
    table["token"] = secrets.token_urlsafe(32)
    put(path, tomlkit.dumps(document).encode(), private=True)


def _read(path: Path) -> dict[str, dict[str, str]]:
    """Return what a file of secrets says, table by table; nothing if there is none."""
    remedy = f"make new ones, and `chmod 600 {path}`"
    found = read_private(path, _MOST_BYTES, remedy)
    if found is None:
        return {}
    _, content = found
    try:
        data = tomllib.loads(content.decode())
    except UnicodeDecodeError as error:
        raise SecretsError(f"{path}: is not written in UTF-8") from error
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise SecretsError(f"{path}: {_where(error)}") from error
    _check(path, data, content.decode())
    return data


def _where(error: Exception) -> str:
    """Return where a file is no TOML; the library's own words may repeat what stands there."""
    text = str(error)
    place = text[text.rfind("(at ") + 1 : -1] if "(at " in text else "somewhere"
    return f'is no TOML {place}: write lines like [tell] and phone = "..."'


def _check(path: Path, data: dict[str, Any], text: str) -> None:
    """Refuse what is no table or text of secrets; what stands there is never repeated."""
    lines = lines_of_keys(text)
    for name, table in data.items():
        place = f"{path}, line {lines.get((name,), 1)}"
        if name not in (*_KEYS, "tell") or not isinstance(table, dict):
            known = ", ".join(f"[{one}]" for one in (*_KEYS, "tell"))
            raise SecretsError(f"{place}: is neither of {known}: take it out")
        for key, value in table.items():
            place = f"{path}, line {lines.get((name, key), 1)}"
            if name == "tell" and not is_target(key):
                raise SecretsError(
                    f"{place}: begins with a name of letters and digits, such as phone, and the "
                    "address comes behind the sign"
                )
            if name != "tell" and key not in _KEYS[name]:
                raise SecretsError(
                    f"{place}: a key under [{name}] is {' or '.join(_KEYS[name])}, and this is not"
                )
            if not isinstance(value, str) or not 1 <= len(value) <= _LONGEST:
                raise SecretsError(
                    f"{place}: write a text in quotes, of {_LONGEST} characters at most"
                )
    token = data.get("door", {}).get("token", "x" * _LEAST_TOKEN)
    if len(token) < _LEAST_TOKEN or not token.isascii():
        raise SecretsError(
            f"{path}: [door] token: write {_LEAST_TOKEN} letters and digits at least, or let "
            "`daylatch home --new-token` make one"
        )


def _from_keyring(house: str, name: str) -> str:
    def ask() -> str | None:
        # Each store has errors of its own, and many a board has none.
        with suppress(Exception):
            import keyring  # noqa: PLC0415 - it looks for its stores, which takes time

            return keyring.get_password(service_of(house), name)
        return None

    # One that asks to be unlocked would be waited for without end.
    return soon(_KEYRING_S, ask) or ""
