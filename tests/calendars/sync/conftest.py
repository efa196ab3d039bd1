"""What every test of the calendar sync gets: no keyring, no login but its own, a day."""

from __future__ import annotations

import keyring
import pytest

from daylatch.calendars.sync.login import PASSWORD as PASSWORD_NAME
from daylatch.calendars.sync.login import URL as URL_NAME
from daylatch.calendars.sync.login import USER as USER_NAME
from peers.radicale_server import PASSWORD, USER
from sync_sites import NOW, NoKeyring


@pytest.fixture(autouse=True)
def _alone(monkeypatch, set_clock):
    """Keep the tests from this machine's keyring and its user's environment."""
    before = keyring.get_keyring()
    keyring.set_keyring(NoKeyring())
    for name in (USER_NAME, PASSWORD_NAME, URL_NAME):
        monkeypatch.delenv(name, raising=False)
    set_clock(NOW)
    yield
    keyring.set_keyring(before)


@pytest.fixture
def login(monkeypatch):
    """Return what puts a login into the environment."""

    def use(url, user=USER, password=PASSWORD):
        monkeypatch.setenv(USER_NAME, user)
        monkeypatch.setenv(PASSWORD_NAME, password)
        monkeypatch.setenv(URL_NAME, url)

    return use
