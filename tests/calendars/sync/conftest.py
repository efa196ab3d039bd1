"""What every test of the calendar sync gets: no keyring, no login but its own, a day."""

from __future__ import annotations

import re

import keyring
import pytest

from daylatch.calendars.sync.login import PASSWORD as PASSWORD_NAME
from daylatch.calendars.sync.login import URL as URL_NAME
from daylatch.calendars.sync.login import USER as USER_NAME
from peers.radicale_server import PASSWORD, USER, radicale
from sync_sites import NOW, NoKeyring, write_site


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


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """Return a real server, which runs for all tests of a module."""
    with radicale(tmp_path_factory.mktemp("radicale")) as running:
        yield running


@pytest.fixture
def hens(server, daylatch, login, request):
    """Return an empty calendar of this test, and a site file that names it."""
    name = re.sub(r"\W", "-", request.node.name).lower()
    server.make(name)
    login(server.url)
    write_site(f"{server.url}{USER}/{name}/")
    return name
